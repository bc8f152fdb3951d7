-- Share of complete notes by week (ISO 8601) of the visit: a note is complete where the checklist finds nothing in it
-- at the level error, as `woundfhir audit` counts it.
-- Table: visits.parquet. Run it in the folder of the tables.
SELECT
    strftime(day, '%G-W%V') AS week,
    count(*) AS notes,
    count(*) FILTER (complete) AS complete,
    round(avg(complete::INTEGER), 3) AS share
FROM 'visits.parquet'
GROUP BY ALL
ORDER BY week NULLS LAST;
