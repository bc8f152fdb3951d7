"""The reference table of worked values, each with its source in the table's own column, and how to read it."""

from __future__ import annotations

import csv
import re
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

from tests.paths import DATA

Row = dict[str, str]
TOLERANCE = Decimal("0.006")


@lru_cache
def table() -> tuple[Row, ...]:
    with (DATA / "worked_values.tsv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file, delimiter="\t"))


def rows(start: str) -> list[Row]:
    """The rows whose quantity starts so; fails where there is none."""
    found = [row for row in table() if row["quantity"].startswith(start)]
    assert found, start
    return found


def numbers(text: str) -> dict[str, Decimal]:
    return {key: Decimal(value) for key, value in re.findall(r"(\w+)=(-?\d+(?:\.\d+)?)", text)}


def all_numbers(text: str) -> list[Decimal]:
    return [Decimal(found) for found in re.findall(r"-?\d+(?:\.\d+)?", text)]


def first_number(text: str) -> Decimal:
    return all_numbers(text)[0]


def to(value: Decimal, places: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
