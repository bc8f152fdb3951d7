"""Tables that ward clerks sent, as spreadsheets leave them: each broke the reader once. Invented; what a person reads.

The ways of writing are common practice, no source; 15 digits is what an IEEE 754 double holds of any decimal number.
"""

from __future__ import annotations

import io
from typing import Any

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from woundfhir.tables.mapping import read_map
from woundfhir.tables.propose import propose
from woundfhir.tables.reading import OfClient, read_table

Json = Any
PLACES = {
    "Client": "patient.identifiers",
    "Date": "visit.at",
    "Wound": "wound.id",
    "Length": "assessment.length",
    "Size": ["assessment.length", "assessment.width", "assessment.depth"],
    "Gran": "assessment.tissue.granulation",
    "Site": "wound.site",
}


def read(rows: list[str], *more: str, header: str = "Client,Date,Wound,Length", unit: str = "cm") -> list[OfClient]:
    lines = ["table = 1", *more]
    for name in header.split(","):
        if name in PLACES:
            to = PLACES[name]
            lines += ["[[column]]", f'name = "{name}"', f"to = {to if isinstance(to, list) else repr(to)}"]
            lines += [f'unit = "{unit}"'] if name in ("Length", "Size") else []
            lines += ["system = 'urn:example:chart'"] if name == "Client" else []
            lines += ['words = {"#1" = "1"}'] if name == "Wound" and "# same" in more else []
    content = "\n".join([header, *rows]).encode()
    return list(read_table(content, "a.csv", read_map("\n".join(lines), "map.toml")))


def entry(found: OfClient, row: int = 0) -> Json:
    return found.history.visits[row]["wounds"][0]["assessment"]


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("6.5 x 5 cm x 2 mm", {"length": "6.5 cm", "width": "5 cm", "depth": "2 mm"}),
        ("42 x 30 mm x 0.5 cm", {"length": "42 mm", "width": "30 mm", "depth": "0.5 cm"}),
        ("4.2 cm x 3", {"length": "4.2 cm", "width": "3 cm"}),
        ("4.2 x 3", {"length": "4.2 cm", "width": "3 cm"}),
        ("42mm x 30", None),
    ],
)
def test_a_number_of_a_size_has_the_unit_that_stands_next_behind_it(cell: str, expected: Json) -> None:
    (found,) = read([f"9,2026-11-01,1,{cell}"], header="Client,Date,Wound,Size")
    if expected is None:
        assert [loss.path for loss in found.report.of("not-understood")] == ["row 2, column 4 (Size)"]
    else:
        assert entry(found) == expected


@pytest.mark.parametrize(
    "total", ["Subtotal 9,,,8", "9,,Total,8", "Sous-total 9,,,8", "Grand Total,,,8", "9,2026-11-01,Subtotal:,8"]
)
def test_a_sum_between_rows_is_no_client_and_no_wound(total: str) -> None:
    found = read(["9,2026-11-01,1,4", total, "10,2026-11-01,1,4"])
    assert [[one["id"] for one in each.history.wounds] for each in found] == [["1"], ["1"]]


@pytest.mark.parametrize("other", ["00123", "123.0", "0123", "1-23", " 123"])
def test_one_number_of_a_client_in_two_spellings_is_neither_joined_nor_a_second_client(other: str) -> None:
    found = read(["123,2026-11-01,1,4", f"{other},2026-11-02,1,3"])
    if other.strip() == "123":
        assert len(found) == 1 and len(found[0].history.visits) == 2
    else:
        assert [each.named for each in found] == [True, False]
        assert found[1].report.of("conflict")


@pytest.mark.parametrize("number", ["1.23457E+15", "1,23457E+15", "4E15"])
def test_a_rounded_number_names_nobody(number: str) -> None:
    found = read([f'"{number}",2026-11-01,1,4', f'"{number}",2026-11-02,1,9'])
    assert [each.named for each in found] == [False]


@pytest.mark.parametrize("other", ["#1", "Wound 1", "W1", "wound #1", "01", "Plaie nº 1"])
def test_a_wound_in_two_spellings_is_asked_about_until_the_mapping_says(other: str) -> None:
    rows = ["9,2026-11-01,1,4", f"9,2026-11-02,{other},3", f"9,2026-11-03,{other},3"]
    (found,) = read(rows)
    said = [loss for loss in found.report.of("not-understood") if "its wound could be that of row 2" in loss.why]
    assert [loss.path for loss in said] == ["row 3"] and found.report.asks
    if other == "#1":
        (found,) = read(rows, "# same")
        assert len(found.history.wounds) == 1 and not found.report.asks


def test_wounds_with_other_numbers_are_not_asked_about() -> None:
    (found,) = read(["9,2026-11-01,1,4", "9,2026-11-01,2,4", "9,2026-11-01,1a,4", "9,2026-11-01,left heel,4"])
    assert len(found.history.wounds) == 4 and not found.report.asks


@pytest.mark.parametrize(
    ("cell", "share"), [("60", "60"), ("60%", "60 %"), ("0.6", None), ("0.6 %", "0.6 %"), ("0", "0")]
)
def test_a_part_of_one_is_no_percentage(cell: str, share: str | None) -> None:
    (found,) = read([f"9,2026-11-01,1,{cell}"], header="Client,Date,Wound,Gran")
    if share is None:
        assert [loss.path for loss in found.report.of("not-understood")] == ["row 2, column 4 (Gran)"]
    else:
        assert entry(found)["tissue"] == {"granulation": share}


@pytest.mark.parametrize(
    ("header", "cell", "counts"),
    [
        ("Deleted", "Y", False),
        ("Is_Deleted", "TRUE", False),
        ("Supprimé", "oui", False),
        ("Status", "Entered in error", False),
        ("Statut", "saisi par erreur", False),
        ("Status", "Deleted", False),
        ("Deleted", "N", True),
        ("Bladder", "voided", True),
        ("Voided", "Y", True),
        ("Old order", "Deleted", True),
        ("Reading", "error", True),
        ("Deleted", "0", True),
        ("Status", "final", True),
        ("Seen", "Y", True),
    ],
)
def test_a_row_that_was_taken_back_is_no_fact(header: str, cell: str, counts: bool) -> None:
    rows = ["9,2026-11-01,1,4,", f"9,2026-11-02,1,9,{cell}"]
    (found,) = read(rows, header=f"Client,Date,Wound,Length,{header}")
    assert (len(found.history.visits) == 2) is counts
    assert bool(found.report.of("withdrawn")) is not counts
    assert any(cell in item["value"] for item in found.history.extra)


def test_letters_of_another_encoding_are_refused() -> None:
    rows = "Client;Date;Wound;Site\r9;2026-11-01;1;siège\r".encode("mac-roman")
    lines = ["table = 1"]
    for name in ("Client", "Date", "Wound", "Site"):
        lines += ["[[column]]", f'name = "{name}"', f'to = "{PLACES[name]}"']
    (found,) = read_table(rows, "a.csv", read_map("\n".join(lines), "map.toml"))
    assert ["encoding" in loss.why for loss in found.report.of("not-understood")] == [True]
    lines[0] += '\nencoding = "mac-roman"'
    (found,) = read_table(rows, "a.csv", read_map("\n".join(lines), "map.toml"))
    assert found.history.wounds[0]["site"] == "siège"


def proposed(header: str, *rows: str) -> str:
    return propose("\n".join([header, *rows]).encode(), "a.csv", None)


@pytest.mark.parametrize(
    ("header", "cells", "expected"),
    [
        ("Temp F", ("100.9", "98.6"), 'to = "client.temperature"'),
        ("T (°F)", ("100.9", "98.6"), 'to = "client.temperature"'),
        ("BG", ("18.2", "7.1"), 'to = "client.glucose"'),
        ("Orientation", ("medial", "lateral"), 'to = "wound.place"'),
        ("\u200bWidth (cm)", ("4", "3"), 'to = "assessment.width"'),
        ("Visit Date", ("46327", "46334"), 'day_numbers = "decide"'),
        ("Visit Date", ("7", "14"), "A bare number is none: give the cell the format of a date"),
        ("Plaie", ("1", "#1"), 'one wound of a client, written in several ways? Under words: "1", "#1"'),
    ],
)
def test_what_a_header_means(header: str, cells: tuple[str, str], expected: str) -> None:
    text = proposed(f"Chart,Length (cm),{header}", *(f"C{n},4,{cell}" for n, cell in enumerate(cells, 1)))
    assert expected in text
    assert 'unit = "Cel"?' not in text


def workbook() -> bytes:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    sheet.row_dimensions[4].hidden = sheet.column_dimensions["E"].hidden = True
    for row in (
        ["Client", "Date", "Wound", "Measures", None],
        [None, None, None, "Length", "Width"],
        [12345678901234567, "2026-11-01", 1, 4.2, 3],
        [17, "2026-11-01", 1, 4.2, 3],
    ):
        sheet.append(row)
    sheet.merge_cells("D1:E1")
    sheet["D4"].comment = Comment("not this client", "RN")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_merged_header_and_notes_and_long_numbers_of_a_workbook() -> None:
    text = propose(workbook(), "a.xlsx", None)
    assert 'to = "assessment.length"' in text and 'to = "assessment.width"' in text and "have notes" in text
    mapping = text.replace('"decide"  # the address', '"none"  # the address')
    named, nobody = read_table(workbook(), "a.xlsx", read_map(mapping, "map.toml"))
    assert [one["value"] for one in named.history.patient["identifiers"]] == ["17"] and not nobody.named
    for said in ("notes", "row 4 of the sheet is hidden", "column 5 of the sheet is hidden"):
        assert any(said in notice for notice in named.report.notices), said


@pytest.mark.parametrize(
    ("cell", "counted_from", "expected"),
    [  # ECMA-376 part 1, 18.17.4.1, and openpyxl.utils.datetime, which is a reader of its own
        ("46083", "1900", "2026-03-02"),
        ("44621", "1904", "2026-03-02"),
        ("46083,4375", "1900", "2026-03-02T10:30:00"),
        ("460", "1900", None),
        ("7", "1900", None),
        ("46083", None, None),
    ],
)
def test_a_number_is_a_day_where_the_mapping_says_from_when_it_counts(
    cell: str, counted_from: str | None, expected: str | None
) -> None:
    said = [f'day_numbers = "{counted_from}"'] if counted_from else []
    (found,) = read([f'9,"{cell}",1,4'], *said)
    assert found.history.visits[0].get("at") == expected
    if expected and counted_from:
        epoch = CALENDAR_WINDOWS_1900 if counted_from == "1900" else CALENDAR_MAC_1904
        assert from_excel(float(cell.replace(",", ".")), epoch).isoformat().startswith(expected)


def test_what_a_workbook_counts_its_days_from_and_strikes_through() -> None:
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    sheet: Any = book.active
    for row in (["Client", "Date", "Wound", "Length (cm)"], ["9", 44621, "1", 4.2], ["9", 44628, "1", 44]):
        sheet.append(row)
    sheet["D3"].font = Font(strike=True)
    sheet.sheet_state = "hidden"
    book.create_sheet("Notes")
    out = io.BytesIO()
    book.save(out)
    mapping = propose(out.getvalue(), "a.xlsx", None).replace('"decide"  # the address', '"none"  # the address')
    assert 'day_numbers = "1904"' in mapping
    (found,) = read_table(out.getvalue(), "a.xlsx", read_map(mapping, "map.toml"))
    assert [one["at"] for one in found.history.visits] == ["2026-03-02", "2026-03-09"]
    assert entry(found) == {"length": "4.2 cm"} and "assessment" not in found.history.visits[1]["wounds"][0]
    assert [loss.path for loss in found.report.of("withdrawn")] == ["row 3, column 4 (Length (cm))"]
    assert found.history.extra[0]["value"] == "44"
    assert any("the sheet is hidden" in notice for notice in found.report.notices)


def test_an_answer_that_is_called_total_is_no_sum() -> None:
    (found,) = read(["9,2026-11-01,1,4,total", "Total,,,8,"], header="Client,Date,Wound,Length,Loss")
    assert entry(found) == {"length": "4 cm"} and found.history.extra[0]["value"] == '{"Loss":"total"}'
    assert "totals, not read: row 3" in found.report.inferred
