"""Messy tables against what a person reads in them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.tables.messy import MESSY, Messy
from woundfhir.record import History
from woundfhir.tables.mapping import read_map
from woundfhir.tables.reading import OfClient, read_table

Json = Any


def read(one: Messy) -> list[OfClient]:
    return list(read_table(one.content, one.name, read_map(one.mapping, "map.toml")))


def value(history: History, path: str) -> Json:
    """What stands at ``patient/...``, ``VISIT/...``, ``VISIT/WOUND/...`` or ``WOUND:key``."""
    if ":" in (head := path.split("/")[0]) and head.split(":")[0] in {one["id"] for one in history.wounds}:
        wound, key = head.split(":")
        return next(one for one in history.wounds if one["id"] == wound)[key]
    first, second, *rest = path.split("/")
    visit = next((one for one in history.visits if one["id"] == first), None)
    here: Json = history.patient if first == "patient" else visit
    wounds = {} if visit is None else {one["wound"]: one for one in visit.get("wounds", ())}
    here, steps = (wounds[second], rest) if second in wounds else (here, [second, *rest])
    for step in steps:
        here = here[int(step)] if isinstance(here, list) else here[step]
    return here


@pytest.mark.parametrize("one", MESSY, ids=lambda one: one.name)
def test_what_a_person_reads_is_what_comes_out(one: Messy) -> None:
    named = [found for found in read(one) if found.named]
    assert len(named) == len(one.clients)
    for found, expected in zip(named, one.clients, strict=True):
        assert {path: value(found.history, path) for path in expected} == expected


def place(path: str) -> tuple[int, int | None]:
    row, _, column = path.removeprefix("row ").partition(", column ")
    return int(row), int(column.split(" ")[0]) if column else None


@pytest.mark.parametrize("one", MESSY, ids=lambda one: one.name)
def test_every_bad_cell_is_named_once_and_no_other(one: Messy) -> None:
    wrong = [loss for found in read(one) for loss in found.report.of("not-understood", "conflict")]
    assert sorted((place(loss.path) for loss in wrong), key=str) == sorted(one.wrong, key=str)
    assert all(found.report.asks == bool(found.report.of("not-understood", "conflict")) for found in read(one))


@pytest.mark.parametrize("one", MESSY, ids=lambda one: one.name)
def test_what_the_mapping_does_not_read_is_kept_and_counted(one: Messy) -> None:
    found = read(one)
    assert sum(each.report.counts.get("kept", 0) for each in found) == one.kept
    for each in found:
        bad = len([loss for loss in each.report.of("not-understood", "conflict") if loss.leaves])
        rows = {item["place"] for item in each.history.extra if not item["why"].startswith(("not ", "conflict"))}
        assert len([item for item in each.history.extra if item["place"] not in rows]) >= bad - len(rows)


@pytest.mark.parametrize("one", MESSY, ids=lambda one: one.name)
def test_the_form_of_the_table_is_reported(one: Messy) -> None:
    said = "; ".join(read(one)[0].report.inferred)
    assert [words for words in one.said if words not in said] == []


@pytest.mark.parametrize("one", MESSY, ids=lambda one: one.name)
def test_the_same_table_gives_the_same_record_and_a_canonical_one(one: Messy) -> None:
    first, second = read(one), read(one)
    assert [found.history.data for found in first] == [found.history.data for found in second]
    assert all(found.history.is_canonical() for found in first)
