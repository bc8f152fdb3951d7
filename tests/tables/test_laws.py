"""What holds of every table: a cell that changes changes the record or is named; no cell breaks the reader."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import woundfhir
from tests.tables.messy import HEAD, MESSY, SYSTEM, Messy, columns
from woundfhir.tables.cells import Reader
from woundfhir.tables.mapping import ColumnMap, TableMap, read_map
from woundfhir.tables.reading import open_table, read_sheet, read_table
from woundfhir.tables.sheet import Line, Sheet
from woundfhir.tables.targets import target

Json = Any


def read(lines: list[Line], mapping: TableMap) -> tuple[list[Json], set[str], str]:
    """The records, the places that are named, and what is said of the form."""
    found = list(read_sheet(Sheet("t", "CSV", iter(lines)), "t", mapping))
    named = {loss.path for one in found for loss in one.report.of("not-understood", "conflict")}
    return [one.history.data for one in found], named, "; ".join(found[0].report.inferred)


@pytest.mark.parametrize("one", MESSY, ids=lambda one: one.name)
def test_a_cell_that_changes_changes_the_record_or_is_named(one: Messy) -> None:
    mapping = read_map(one.mapping, "map.toml")
    lines = list(open_table(one.content, one.name, mapping).lines)
    before, _, said = read(lines, mapping)
    header = int(said.split("the header stands in row ")[1].split(";")[0])
    for place, line in enumerate(lines):
        if line.number <= header or line.fault:
            continue
        for at, cell in enumerate(line.cells):
            if not cell:
                continue
            for other in (f"{cell}7", "zzz zzz", next((one for one in "689" if one not in cell), "qq")):
                changed = line._replace(cells=[*line.cells[:at], other, *line.cells[at + 1 :]])
                after, named, notes = read([*lines[:place], changed, *lines[place + 1 :]], mapping)
                row = f"row {line.number}"
                seen = any(path == row or path.startswith(f"{row},") for path in named) or f"row {line.number}" in notes
                assert after != before or seen, (line.number, at + 1, other)


@pytest.mark.parametrize("one", MESSY, ids=lambda one: one.name)
def test_what_a_table_says_and_what_is_kept_of_it_survive_fhir(one: Messy) -> None:
    for found in read_table(one.content, one.name, read_map(one.mapping, "map.toml")):
        if found.named:
            resources = woundfhir.to_fhir(found.history)
            assert [issue for issue in woundfhir.validate(resources) if issue.severity == "error"] == []
            assert woundfhir.from_fhir(resources).history.data == found.history.data


@pytest.mark.parametrize("number", ["", "0", "N/A", "unknown", "-"])
@pytest.mark.parametrize("place", [0, 2, 5])
def test_one_row_without_a_number_is_set_aside_and_hurts_no_other(number: str, place: int) -> None:
    mapping = read_map(
        HEAD
        + columns(
            ("id", "patient.identifiers", SYSTEM), ("born", "patient.born"), ("date", "visit.at"), ("wound", "wound.id")
        ),
        "map.toml",
    )
    rows = [f"{client},19{client}0,0{day}/03/2026,W\n" for client in (4, 5, 6) for day in (1, 2)]
    rows.insert(place, f"{number},1971,03/03/2026,W\n")
    *named, nobody = read_table(("id,born,date,wound\n" + "".join(rows)).encode(), "t", mapping)
    assert [len(one.history.visits) for one in named] == [2, 2, 2]
    assert not any(one.report.asks for one in named)
    (wrong,) = nobody.report.of("not-understood")
    assert wrong.path == f"row {place + 2}" and not nobody.named
    assert "1971" in str(nobody.history.extra) and not nobody.history.visits


def test_clients_whose_rows_are_mixed_are_the_same_clients() -> None:
    mapping = read_map(
        HEAD
        + columns(
            ("id", "patient.identifiers", SYSTEM),
            ("date", "visit.at"),
            ("wound", "wound.id"),
            ("l", "assessment.length", 'unit = "cm"'),
        ),
        "map.toml",
    )
    rows = [f"{client},{day:02d}/03/2026,W,{day}\n" for client in "ABC" for day in range(1, 9)]
    apart = "id,date,wound,l\n" + "".join(rows)
    mixed = "id,date,wound,l\n" + "".join(rows[place] for start in range(8) for place in range(start, 24, 8))

    def records(text: str) -> list[Json]:
        return [one.history.data for one in read_table(text.encode(), "t", mapping)]

    assert records(apart) == records(mixed)


_PATHS = (
    *("assessment.length", "assessment.pain_at_rest", "assessment.odour", "assessment.probe_to_bone", "visit.at"),
    *("assessment.tissue", "assessment.tissue.slough", "assessment.edge", "plan.change_every", "patient.sex"),
    *("assessment.undermining.1.from", "assessment.undermining", "supplies.+.quantity", "visit.status", "note"),
)
_TEXTS = st.one_of(
    st.text(max_size=12),
    st.from_regex(r"[<>~]?\d{1,4}([.,]\d{1,4}){0,2} ?(cm|mm|%|/10)?", fullmatch=True),
    st.from_regex(r"\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4}( \d{1,2}[h:]\d{2})?", fullmatch=True),
    st.sampled_from(["N/A", "-", "nil", "Y", "N", "oui", "4 x 3", "4,2 x 3,1 cm", "#REF!", "ø", "4-5", "1 250"]),
)


@settings(max_examples=400)
@given(path=st.sampled_from(_PATHS), text=_TEXTS, decimal=st.sampled_from([None, "comma", "point"]))
def test_any_cell_is_read_or_refused_and_never_breaks(path: str, text: str, decimal: Any) -> None:
    one = ColumnMap(number=1, to=[path], decimal=decimal, dates="day first")
    found = Reader(one, TableMap(table=1), None, 1).read(text.strip() or "-")
    assert found.fate in ("understood", "reworded", "bookkeeping", "not-understood")
    assert bool(found.facts) == (found.fate in ("understood", "reworded"))
    if found.fate == "not-understood" and len(text.strip()) > 3:
        assert text.strip() not in found.why  # what was expected, never what was written


@settings(max_examples=60, deadline=None)
@given(rows=st.lists(st.lists(_TEXTS, min_size=4, max_size=4), min_size=1, max_size=6))
def test_any_table_gives_canonical_records(rows: list[list[str]]) -> None:
    mapping = read_map(
        HEAD
        + columns(
            ("id", "patient.identifiers", SYSTEM),
            ("date", "visit.at"),
            ("wound", "wound.id"),
            ("l", "assessment.length", 'unit = "cm"'),
        ),
        "map.toml",
    )
    lines = [Line(1, ["id", "date", "wound", "l"]), *(Line(n, [c.strip() for c in r]) for n, r in enumerate(rows, 2))]
    if all(line.blank for line in lines[1:]):
        return
    try:
        found = list(read_sheet(Sheet("t", "CSV", iter(lines)), "t", mapping))
    except Exception as error:  # only a table whose rows are all totals or blank
        assert "rows below the header" in str(error)
        return
    assert all(one.history.is_canonical() for one in found)


def test_every_path_that_a_mapping_may_name_has_a_reader() -> None:
    from woundfhir.catalogue import catalogue

    for concept in catalogue().concepts():
        path = concept.path.replace("supply.", "supplies.+.").replace("photo.", "photos.+.")
        one = target(path)
        assert one is not None, path
        for field in concept.fields:
            assert target(f"{path}.{field}") is not None, f"{path}.{field}"


def test_a_file_is_read_as_its_bytes_are(tmp_path: Path) -> None:
    for one in MESSY:
        path = tmp_path / "table"
        path.write_bytes(one.content)
        mapping = read_map(one.mapping, "map.toml")
        there = [found.history.data for found in read_table(path, "table", mapping)]
        assert there == [found.history.data for found in read_table(one.content, "table", mapping)]
