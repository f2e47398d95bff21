-- On which day was each trip? Tables: trips.
-- The day is that of the boat's time zone; every trip of a pool states it (pool.toml: format_version 2 or later).
SELECT
    boat,
    trip_id,
    CAST(local_date AS DATE) AS day
FROM trips
