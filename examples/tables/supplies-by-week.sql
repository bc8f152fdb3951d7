-- Supply use by week (ISO 8601) of the visit: pieces of each item. What was counted otherwise (boxes), left open or
-- given as a bound ("> 5") is no number of pieces: how often that was so stands beside it.
-- Table: supplies.parquet. Run it in the folder of the tables.
SELECT
    strftime(day, '%G-W%V') AS week,
    coalesce(item, 'not written') AS item,
    sum(quantity) FILTER (quantity_unit IS NULL) AS pieces,
    count(*) FILTER (quantity IS NULL OR quantity_unit IS NOT NULL) AS not_in_pieces
FROM 'supplies.parquet'
GROUP BY ALL
ORDER BY week NULLS LAST, item;
