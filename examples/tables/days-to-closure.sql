-- Median days to closure by kind of wound: from the first visit of the newest episode to the day on which it closed.
-- Wounds that are open are left out, so that a short time of watching makes the median too small: how many they are
-- stands beside it.
-- Table: wounds.parquet. Run it in the folder of the tables.
SELECT
    coalesce(kind, 'not written') AS kind,
    count(closed_day) AS closed,
    count(*) - count(closed_day) AS still_open,
    median(closed_day - episode_day) AS median_days
FROM 'wounds.parquet'
GROUP BY ALL
ORDER BY kind;
