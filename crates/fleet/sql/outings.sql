-- On which day was each trip? Tables: trips.
-- The day is that of the boat's time zone; of trips from before the logbook kept it, that of UTC.
SELECT
    boat,
    trip_id,
    COALESCE(CAST(local_date AS DATE), CAST(time_start AS DATE)) AS day
FROM trips
