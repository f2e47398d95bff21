-- What did each trip do in each cell (H3, resolution 9)? Tables: effort, cell_visits.
-- Sums are of whole microseconds, millimetres and millionths of a degree, so that they depend on no order: time by
-- temperature is kept in two parts, whole thousandths of a degree and the millionths that are left, which do not overflow
-- 64 bits within five million rod-minutes of one visit.
SELECT
    boat,
    trip_id,
    cell,
    CAST(SUM(fished_us) AS BIGINT) AS fished_us,
    CAST(SUM(measured_us) AS BIGINT) AS measured_us,
    CAST(SUM(measured_us * CAST((micro_c - micro_c % 1000) / 1000 AS BIGINT)) AS BIGINT) AS temp_us_milli_c,
    CAST(SUM(measured_us * (micro_c % 1000)) AS BIGINT) AS temp_us_micro_c,
    CAST(SUM(run_mm) AS BIGINT) AS run_mm,
    CAST(SUM(breaks) AS BIGINT) AS breaks
FROM (
    SELECT
        boat,
        trip_id,
        CAST(cell AS BIGINT) AS cell,
        CAST(ROUND(rod_hours * 3.6e9) AS BIGINT) AS fished_us,
        CASE WHEN surface_temp_c IS NULL THEN 0 ELSE CAST(ROUND(rod_hours * 3.6e9) AS BIGINT) END AS measured_us,
        CASE WHEN surface_temp_c IS NULL THEN 0 ELSE CAST(ROUND(surface_temp_c * 1e6) AS BIGINT) END AS micro_c,
        CAST(0 AS BIGINT) AS run_mm,
        CAST(0 AS BIGINT) AS breaks
    FROM effort
    UNION ALL
    SELECT
        boat,
        trip_id,
        CAST(cell AS BIGINT) AS cell,
        CAST(0 AS BIGINT) AS fished_us,
        CAST(0 AS BIGINT) AS measured_us,
        CAST(0 AS BIGINT) AS micro_c,
        CAST(ROUND(run_m * 1e3) AS BIGINT) AS run_mm,
        breaks
    FROM cell_visits
) AS minutes_and_ways
GROUP BY boat, trip_id, cell
