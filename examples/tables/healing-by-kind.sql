-- Healing by kind of wound: how many wounds, how many closed, and the median change of area since the first size of
-- the newest episode, in per cent (minus is smaller).
-- Tables: wounds.parquet, sizes.parquet of `woundfhir convert ... -t parquet -o FOLDER`. Run it in that folder.
WITH newest AS (
    SELECT client, wound, change_from_first
    FROM 'sizes.parquet'
    WHERE area IS NOT NULL
    QUALIFY row_number() OVER (PARTITION BY client, wound ORDER BY at_earliest DESC NULLS LAST, visit_id DESC) = 1
)
SELECT
    coalesce(kind, 'not written') AS kind,
    count(*) AS wounds,
    count(closed_day) AS closed,
    round(median(change_from_first), 1) AS median_change
FROM 'wounds.parquet' LEFT JOIN newest USING (client, wound)
GROUP BY ALL
ORDER BY wounds DESC, kind;
