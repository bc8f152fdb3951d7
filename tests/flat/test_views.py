"""ViewDefinitions of ``profiles/views``, run by an outside runner, give the numbers of our tables from our FHIR."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

import pytest

import woundfhir
from tests.flat import many
from tests.flat.runner import rows_of
from tests.paths import ROOT
from woundfhir import History, to_rows
from woundfhir.catalogue import catalogue
from woundfhir.flat import tables
from woundfhir.r4 import jsonio

Json = Any
VIEWS = {
    path.stem: json.loads(path.read_text("utf-8")) for path in sorted((ROOT / "profiles" / "views").glob("*.json"))
}
TABLES = sorted(name for name, table in tables().items() if table.view)


def resources(histories: Iterable[History]) -> list[Json]:
    """Our FHIR, numbers exact."""
    found = []
    for one in histories:
        for line in woundfhir.dumps(one, format="ndjson").splitlines():
            found.append(json.loads(line, parse_float=Decimal))
    return found


def view(name: str) -> Json:
    return VIEWS[f"ViewDefinition-wound-{name}"]


def counted(rows: list[Json], of: dict[str, list[Json]]) -> list[Json]:
    """The rows that count, as the views say: of finished notes that no finished note replaces, and of real wounds."""
    finished = {row["visit"] for row in of["visits"]}
    gone = {row["visit"] for row in of["replaced"] if row["by"] in finished}
    wounds = {row["wound"] for row in of["wounds"]}
    return [
        row for row in rows if row.get("visit") in (finished - gone) | {None} and row.get("wound") in wounds | {None}
    ]


def plain(value: Json) -> Json:
    return (
        str(Decimal(str(value)).normalize())
        if isinstance(value, int | float | Decimal) and not isinstance(value, bool)
        else value
    )


def both(name: str, histories: list[History], patch: pytest.MonkeyPatch) -> tuple[Counter[Any], Counter[Any]]:
    """The rows of a view and those of its table, each as a bag of the columns of the view."""
    came = resources(histories)
    of = {one: rows_of(view(one), came, patch) for one in ("visits", "wounds", "replaced")}
    found = counted(rows_of(view(name), came, patch), of)
    columns = [column for column in names(view(name)["select"]) if column != "word"]
    mine = [row for row in to_rows(histories, name) if name != "facts" or observed(row)]
    bags = [Counter(tuple(plain(row[one]) for one in columns) for row in rows) for rows in (found, mine)]
    return bags[0], bags[1]


def names(select: Json) -> list[str]:
    """The columns of a view, each once."""
    found = dict.fromkeys(re.findall(r'"name": "(\w+)"', json.dumps(select)))
    return list(found)


def observed(row: Json) -> bool:
    """Whether our FHIR has a fact as the value of an Observation or of a component."""
    concept = row["concept"].removesuffix(".note")
    if concept != row["concept"] or concept in catalogue().groups:
        return False
    found = catalogue().concept(concept)
    step = found.of is not None and catalogue().concept(f"{found.group}.{found.of}").shape == "step"
    return found.native is None and found.resource in ("observation", "component") and not step


STORIES = [ROOT / "examples" / story / "story.yaml" for story in ("leg-and-sacrum", "skin-tear")]


@pytest.mark.parametrize("name", TABLES)
def test_a_view_gives_the_numbers_of_the_table(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    found, wanted = both(name, [woundfhir.read(path).history for path in STORIES], monkeypatch)
    assert found == wanted and found


@pytest.mark.parametrize("name", ["facts", "sizes", "supplies", "changes", "wounds", "visits", "plans"])
def test_a_view_gives_them_of_odd_records_too(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Units beside cm, bounds, words, reasons, drafts, notes in error, replaced notes, wounds in error."""
    found, wanted = both(name, [History.of(raw) for raw in many.records(16, seed=7)], monkeypatch)
    assert found == wanted and sum(found.values()) > 20


def test_views_are_what_the_standard_asks_of_shareable_ones() -> None:
    """SQL on FHIR 2, ShareableViewDefinition: url, name by its pattern, fhirVersion, the type of every column."""
    assert set(VIEWS) == {f"ViewDefinition-wound-{name}" for name in (*TABLES, "replaced")}
    for one in VIEWS.values():
        assert one["url"] and one["fhirVersion"] == ["4.0.1"] and re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", one["name"])
        columns = re.findall(r'\{"name": "(\w+)", "path": "[^"]*", "type": "(\w+)"', json.dumps(one["select"]))
        assert columns and len(columns) == json.dumps(one["select"]).count('"path"')
        used = set(re.findall(r"(\w+)\(", " ".join(re.findall(r'"(?:path|forEach)": "([^"]*)"', json.dumps(one)))))
        assert used <= {
            "where",
            "exists",
            "empty",
            "ofType",
            "first",
            "extension",
            "not",
            "getResourceKey",
            "getReferenceKey",
        }


def test_columns_of_a_view_are_those_that_the_table_names_for_it() -> None:
    for name in TABLES:
        table = tables()[name]
        parts = {"wound_id", "visit_id"}
        wanted = {column.name for column in table.columns if column.view} - parts
        assert set(names(view(name)["select"])) - parts == wanted, name


def test_views_are_json_that_keeps_its_bytes() -> None:
    files = sorted((ROOT / "profiles" / "views").glob("*.json"))
    assert {path.stem: jsonio.decode(path.read_bytes()) for path in files} == VIEWS != {}
