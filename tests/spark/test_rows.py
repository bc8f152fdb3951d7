"""Tables of others on Spark: the records that ``woundfhir.from_rows`` makes of the same rows on one machine."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import woundfhir
from tests.spark.conftest import parts
from woundfhir.errors import InputError

pytestmark = pytest.mark.spark
Job = Callable[..., tuple[int, str]]
MAP = """table = 1
[[column]]
name = "Chart No"
to = "patient.identifiers"
[[column]]
name = "Seen"
to = "visit.at"
[[column]]
name = "Where"
to = "wound.id"
[[column]]
name = "Lg"
to = "assessment.length"
unit = "cm"
[[column]]
name = "Pain"
to = "assessment.pain_at_rest"
"""
SCHEMA = "`Chart No` string, Seen date, Where string, Lg decimal(6,2), Pain string, Room string"


def rows() -> list[dict[str, Any]]:
    """Rows of twelve clients in any order; numbers in two spellings, numbers that name nobody, cells that are wrong."""
    draw = random.Random(11)
    found = []
    for number in range(90):
        chart = draw.choice(["MR-{}", "MR-{}", "MR-{}", "mr {}"]).format(500 + number % 12)
        pain = draw.choice(["3", "10", None, "very bad", " 0 "])
        size = draw.choice([Decimal("4.20"), Decimal("0.05"), None])
        seen = date(2026, 3, 1 + number // 12)
        where = draw.choice(["heel", "left shin"])
        found.append({"Chart No": chart, "Seen": seen, "Where": where, "Lg": size, "Pain": pain, "Room": None})
    for chart in ("", None, "999999"):
        found.append({**found[7], "Chart No": chart, "Room": "12"})
    found.append(dict.fromkeys(found[0]))
    draw.shuffle(found)
    return found


def expected(mapping: Path) -> list[Any]:
    return [history.data for history, _ in woundfhir.from_rows(rows(), mapping)]


def _frame(spark: Any) -> Any:
    """The rows in their order, which says which spelling of a number came first."""
    return spark.createDataFrame([tuple(row.values()) for row in rows()], SCHEMA).coalesce(1)


def test_a_data_frame_gives_the_records_of_one_machine(spark: Any, tmp_path: Path) -> None:
    from woundfhir.spark import read_rows

    mapping = tmp_path / "map.toml"
    mapping.write_text(MAP)
    with read_rows(_frame(spark), mapping) as found:
        some = found.clients.convert("record-ndjson").where("content is not null").orderBy("number").collect()
    made = [json.loads(row.content) for row in some]
    assert made == expected(mapping)
    assert len(made) > 12 and sum(len(one["visits"]) for one in made) > 60
    assert made[-1]["extra"] and not made[-1]["visits"]  # what names nobody, and other spellings


def test_rows_in_any_partitions_give_the_same_clients_with_the_same_visits(spark: Any, tmp_path: Path) -> None:
    from woundfhir.spark import read_rows

    mapping = tmp_path / "map.toml"
    mapping.write_text(MAP)
    one_spelling = _frame(spark).where("`Chart No` like 'MR-%'")
    with read_rows(one_spelling, mapping) as first, read_rows(one_spelling.repartition(3, "Seen"), mapping) as other:
        some, more = (
            sorted(
                (one["patient"]["identifiers"][0]["value"], sorted(visit["at"] for visit in one["visits"]))
                for row in found.clients.convert("record-ndjson").collect()
                for one in [json.loads(row.content)]
            )
            for found in (first, other)
        )
    assert some == more and len(some) == 12


def test_parquet_gives_the_bytes_of_one_machine(job: Job, spark: Any, tmp_path: Path) -> None:
    mapping, table = tmp_path / "map.toml", tmp_path / "in.parquet"
    mapping.write_text(MAP)
    _frame(spark).write.parquet(str(table))
    code, err = job("convert", table, "--map", mapping, "-o", tmp_path / "out")
    made = parts(tmp_path / "out").decode().replace('"from":"table in.parquet"', '"from":"table rows"')
    assert [json.loads(line) for line in made.splitlines()] == expected(mapping)
    assert (code, "13 clients" in err, "very bad" in err) == (1, True, False)
    assert "not understood" in err
    assert job("check", table, "--map", mapping, "-o", tmp_path / "found", "--fail-on", "never")[0] == 0
    assert b"in.parquet, row " in parts(tmp_path / "found")


@pytest.mark.parametrize("more", ['client = ["Chart No", "Room"]', "one_client = true"])
def test_a_table_that_has_to_be_seen_as_a_whole_is_refused(spark: Any, tmp_path: Path, more: str) -> None:
    from woundfhir.spark import read_rows

    mapping = tmp_path / "map.toml"
    mapping.write_text(MAP.replace("table = 1", f"table = 1\n{more}"))
    frame = spark.createDataFrame([tuple(rows()[0].values())], SCHEMA)
    with pytest.raises(InputError, match="tells the clients apart"):
        read_rows(frame, mapping)


def test_a_table_without_a_map_is_refused(job: Job, spark: Any, tmp_path: Path) -> None:
    spark.createDataFrame([(1,)], "a int").write.parquet(str(tmp_path / "in.parquet"))
    code, err = job("convert", tmp_path / "in.parquet", "-o", tmp_path / "out")
    assert (code, "woundfhir map table" in err, (tmp_path / "out").exists()) == (2, True, False)
    code, err = job("convert", tmp_path / "no.parquet", "-o", tmp_path / "out")
    assert (code, "no.parquet" in err) == (2, True)
