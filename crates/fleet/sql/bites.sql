-- What bit on each trip, where and in what water? Tables: bites.
SELECT
    boat,
    trip_id,
    CAST(cell AS BIGINT) AS cell,
    species,
    depth_m,
    temp_at_depth_c,
    surface_temp_c
FROM bites
