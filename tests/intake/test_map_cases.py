"""A site's maps hold while something is read, and the cases beside a map say whether it says what was meant.

The form of a map is that of SSSOM (columns), R4 ConceptMap, or TOML for the columns of a table.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.intake.foreign.inputs import client, wound
from woundfhir import InputError, read
from woundfhir.intake.map_cases import run
from woundfhir.intake.mapped import using
from woundfhir.tables.in_force import in_force as tables

SITE = "urn:site"
MAP = (
    "subject_id\tpredicate_id\tobject_id\tmapping_justification\n"
    f"{SITE}|17\tskos:exactMatch\tanswer:wound_kind/skin tear\tsemapv:ManualMappingCuration\n"
)
TABLE = 'table = 1\n[[column]]\nname = "Chart"\nto = "patient.identifiers"\n'
CAME = [client(), wound("w", code={"coding": [{"system": SITE, "code": "17"}], "text": "Wound"})]


def kind(*maps: Path) -> Any:
    with using(maps):
        return read(CAME).history.wounds[0].get("kind"), len(tables())


def folder(place: Path, *names: str) -> Path:
    place.mkdir(parents=True, exist_ok=True)
    for name in names:
        (place / name).write_text(TABLE if name.lower().endswith(".toml") else MAP if name.endswith(".tsv") else "x")
    return place


def test_maps_of_codes_and_of_tables_hold_while_something_is_read(tmp_path: Path) -> None:
    both = folder(tmp_path / "both", "a.tsv", "b.toml")
    (alone, tabular) = (folder(tmp_path / "codes", "a.tsv"), folder(tmp_path / "tables", "in.toml"))
    said = "skin tear"
    plain = kind()
    assert plain[0] != said and plain[1] == 0
    assert kind(both / "a.tsv") == (said, 0)
    assert kind(both / "b.toml") == (plain[0], 1)
    assert kind(folder(tmp_path / "loud", "B.TOML") / "B.TOML") == (plain[0], 1)
    assert kind(both) == (said, 1) == kind(alone, tabular) == kind(tmp_path / "codes", tmp_path / "tables" / "in.toml")
    assert kind(tabular) == (plain[0], 1)
    assert kind() == plain


def cases(place: Path, *expected: dict[str, Any]) -> Path:
    path = folder(place, "north.tsv") / "north.tsv"
    made = [{"name": f"case {n}", "given": CAME, "expect": one} for n, one in enumerate(expected)]
    (place / "north.cases.json").write_text(json.dumps({"cases": made}), "utf-8")
    return path


def test_a_case_holds_where_the_record_says_what_it_expects(tmp_path: Path) -> None:
    path = cases(
        tmp_path,
        {"wounds[0].kind": "skin tear", "wounds[0].site": None, "wounds[1]": None, "patient.born": "1948-03"},
        {"wounds[0].kind": "burn", "patient.born": "1948-03", "patient.born.x": "y"},
        {"wounds[0].kind": None},
    )
    wrong = "the record says something else at "
    expected = ["", f"{wrong}wounds[0].kind, patient.born.x", f"{wrong}wounds[0].kind"]
    found = [(f"north.cases.json: case {number}", said) for number, said in enumerate(expected)]
    assert list(run(path)) == found
    folder(tmp_path, "south.tsv", "notes.txt")
    assert list(run(tmp_path)) == found


def test_the_cases_of_the_shipped_maps_hold() -> None:
    found = dict(run(None))
    assert len(found) > 20 and not any(found.values())


def test_cases_that_are_none_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        list(run(tmp_path / "none.tsv"))
    path = folder(tmp_path, "north.tsv") / "north.tsv"
    for place in (path, tmp_path):
        with pytest.raises(InputError, match="cases beside the map"):
            list(run(place))
    for text in ("{", "[]", '{"cases": 5}', '{"cases": [{"name": "x"}]}', '{"other": []}'):
        (tmp_path / "north.cases.json").write_text(text)
        with pytest.raises(InputError, match="Look at a shipped one"):
            list(run(path))
