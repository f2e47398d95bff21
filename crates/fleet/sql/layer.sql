-- What was done and caught in each cell, part of the season and species ('*': all)? Tables: visits, outings, bites_of_trips (the
-- answers to visits.sql, outings.sql and bites.sql) and question, one row with resolution (of the cells, 0 to 9) and
-- season_part ('week', 'half-month', 'month', 'season' or 'all').
--
-- The parent of an H3 cell follows from its bits (H3 index format, https://h3geo.org/docs/core-library/h3Indexing): the
-- resolution stands in bits 52 to 55, three bits for each digit below, and digits finer than the resolution are 7. So nine
-- less the resolution is taken from bits 52 to 55, and the finer digits are filled with ones.
WITH parts AS (
    SELECT
        boat,
        trip_id,
        EXTRACT(YEAR FROM day) AS year,
        CASE season_part
            WHEN 'week' THEN 'w' || CASE WHEN EXTRACT(WEEK FROM day) < 10 THEN '0' ELSE '' END
                || CAST(CAST(EXTRACT(WEEK FROM day) AS INTEGER) AS VARCHAR)
            WHEN 'season' THEN CASE
                WHEN EXTRACT(MONTH FROM day) IN (12, 1, 2) THEN 'winter'
                WHEN EXTRACT(MONTH FROM day) < 6 THEN 'spring'
                WHEN EXTRACT(MONTH FROM day) < 9 THEN 'summer'
                ELSE 'autumn' END
            WHEN 'all' THEN 'all'
            ELSE CASE WHEN EXTRACT(MONTH FROM day) < 10 THEN '0' ELSE '' END
                || CAST(CAST(EXTRACT(MONTH FROM day) AS INTEGER) AS VARCHAR)
                || CASE WHEN season_part = 'month' THEN '' WHEN EXTRACT(DAY FROM day) < 16 THEN 'a' ELSE 'b' END
        END AS part,
        CAST(9 - resolution AS BIGINT) * 4503599627370496 AS to_take,
        (CAST(1 AS BIGINT) << CAST(3 * (15 - resolution) AS BIGINT)) - 1 AS to_fill
    FROM outings
    CROSS JOIN question
),
done AS (
    SELECT
        (visits.cell - to_take) | to_fill AS cell,
        part,
        CAST(SUM(fished_us) AS BIGINT) AS fished_us,
        CAST(SUM(run_mm) AS BIGINT) AS run_mm,
        CAST(SUM(breaks) AS BIGINT) AS breaks,
        COUNT(DISTINCT CASE WHEN fished_us > 0 THEN visits.boat || '/' || visits.trip_id END) AS trips,
        COUNT(DISTINCT CASE WHEN fished_us > 0 THEN year END) AS years
    FROM visits
    JOIN parts ON visits.boat = parts.boat AND visits.trip_id = parts.trip_id
    WHERE visits.cell <> 0
    GROUP BY (visits.cell - to_take) | to_fill, part
),
bitten AS (
    SELECT
        (bites_of_trips.cell - to_take) | to_fill AS cell,
        part,
        year,
        species,
        depth_m,
        temp_at_depth_c,
        surface_temp_c
    FROM bites_of_trips
    JOIN parts ON bites_of_trips.boat = parts.boat AND bites_of_trips.trip_id = parts.trip_id
    WHERE bites_of_trips.cell <> 0
),
caught AS (
    SELECT
        cell,
        part,
        species,
        COUNT(*) AS bites,
        COUNT(DISTINCT year) AS years_with_bites,
        MEDIAN(depth_m) AS bite_depth_m,
        MEDIAN(temp_at_depth_c) AS bite_temp_c,
        MEDIAN(surface_temp_c) AS bite_surface_temp_c
    FROM (
        SELECT cell, part, year, '*' AS species, depth_m, temp_at_depth_c, surface_temp_c FROM bitten
        UNION ALL
        SELECT cell, part, year, species, depth_m, temp_at_depth_c, surface_temp_c FROM bitten WHERE species IS NOT NULL
    ) AS all_and_each
    GROUP BY cell, part, species
),
wanted AS (
    SELECT '*' AS species
    UNION
    SELECT species FROM bites_of_trips WHERE species IS NOT NULL
)
SELECT
    done.cell,
    done.part,
    wanted.species,
    done.fished_us,
    done.fished_us / 3.6e9 AS rod_hours,
    done.run_mm,
    done.breaks,
    done.trips,
    done.years,
    COALESCE(bites, 0) AS bites,
    COALESCE(years_with_bites, 0) AS years_with_bites,
    CASE WHEN done.fished_us > 0 THEN COALESCE(bites, 0) / (done.fished_us / 3.6e9) END AS rate_raw,
    bite_depth_m,
    bite_temp_c,
    bite_surface_temp_c
FROM done
CROSS JOIN wanted
LEFT JOIN caught ON caught.cell = done.cell AND caught.part = done.part AND caught.species = wanted.species
ORDER BY done.part, done.cell, wanted.species
