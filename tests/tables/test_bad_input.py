"""Tables and mappings that somebody got wrong, or made to hurt: one clear message, never a value of a client."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

import woundfhir
from tests.tables import messy
from tests.tables.messy import HEAD, SYSTEM, columns, workbook
from woundfhir.cli import run
from woundfhir.errors import InputError
from woundfhir.intake import source
from woundfhir.tables.mapping import read_map
from woundfhir.tables.reading import read_table
from woundfhir.tables.workbook import open_workbook

TABLE = b"Chart;Day;Wound;Len (cm)\n17;02/03/2026;heel;4\n"
BASE = columns(("Chart", "patient.identifiers", SYSTEM), ("Day", "visit.at"), ("Wound", "wound.id"))


def refused(mapping: str, table: bytes = TABLE) -> str:
    with pytest.raises(InputError) as caught:
        list(read_table(table, "t.csv", read_map(mapping, "map.toml")))
    return str(caught.value)


@pytest.mark.parametrize(
    ("mapping", "words"),
    [
        ("", "map.toml, table: expected the key 'table'"),
        ("table = 2", "map.toml, table: expected one of: 1"),
        ("table = 1\nseperator = ';'", "Did you mean separator?"),
        (HEAD + '[[column]]\nname = "Chart"\nto = "patient.identifers"', "Did you mean patient.identifiers?"),
        (HEAD + '[[column]]\nname = "Chart"\nto = "assessment.lenght"', "Did you mean assessment.length?"),
        (HEAD + '[[column]]\nname = "Chart"\nto = "wound.id"\nunit = "furlong"', "expected a unit that the catalogue"),
        (HEAD + '[[column]]\nname = "Chart"', "column 1: expected 'to', or 'aside'"),
        (HEAD + '[[column]]\nto = "wound.id"', "column 1: expected its name or its number"),
        (HEAD + BASE + '\n[[column]]\nname = "Lenn (cm)"\nto = "assessment.length"', "Did you mean len (cm)?"),
        (HEAD + BASE + '\n[[column]]\nnumber = 9\nto = "assessment.length"', "expected a number up to 4"),
        (HEAD + BASE + '\n[[column]]\nnumber = 4\nto = "wound.id"', "goes to the same place"),
        (HEAD + BASE + '\n[[column]]\nnumber = 3\nto = "assessment.length"', "expected each column once"),
        (
            HEAD + BASE + '\n[[column]]\nnumber = 4\nto = "assessment.length"\nunit = "mm"',
            "the table gives another unit",
        ),
        (HEAD + columns(("Day", "visit.at"), ("Wound", "wound.id")), "what tells the clients apart"),
        (HEAD + columns(("Chart", "patient.identifiers"), ("Len (cm)", "assessment.length")), "tells the visits apart"),
        (
            HEAD + columns(("Chart", "patient.identifiers"), ("Day", "visit.at"), ("Len (cm)", "assessment.length")),
            "what tells the wounds of a client apart",
        ),
        ("table = 1\nheader = 30\n" + BASE, "row 30: expected the header of the table"),
        ("table = 1\nencoding = 'klingon'\n" + BASE, "an encoding that Python knows"),
        ("table = 1\nzone = 'America/Totonto'\n" + BASE, "expected a time zone"),
        ("table = 1\n[constants]\n'visit.setingg' = 'home'", "expected paths of the record"),
        (HEAD.replace("day first", "decide") + BASE, "nobody has decided it yet"),
        ("table = 1", "at least one column"),
    ],
)
def test_a_mapping_that_does_not_fit_is_refused_by_place(mapping: str, words: str) -> None:
    said = refused(mapping)
    assert words in said
    assert "17" not in said.replace("117", "") and "heel" not in said


def test_two_columns_of_one_name_are_named_by_number() -> None:
    twice = b"Chart;Day;Wound;Len;Len\n17;02/03/2026;heel;4;3\n"
    said = refused(HEAD + BASE + '\n[[column]]\nname = "Len"\nto = "assessment.length"', twice)
    assert "columns 4 and 5 have it" in said and "number = 4" in said


def sheets(book: Any) -> None:
    book.append(["Chart", "Day"])
    book.append(["17", "x"])


def test_of_several_sheets_one_is_chosen() -> None:
    book = openpyxl.load_workbook(io.BytesIO(workbook(sheets)))
    sheets(book.create_sheet("Second"))
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(InputError, match=r'one of the sheets Sheet, Second.*Write sheet = "..."'):
        open_workbook(out.getvalue(), "a.xlsx")
    assert open_workbook(out.getvalue(), "a.xlsx", read_map("table = 1\nsheet = 'Second'", "m")).found
    with pytest.raises(InputError, match="it has no sheet of this name"):
        open_workbook(out.getvalue(), "a.xlsx", read_map("table = 1\nsheet = 'Third'", "m"))


def changed(name: str, change: Any) -> bytes:
    """A workbook with one of its parts changed."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook(sheets))) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for one in old.namelist():
            new.writestr(one, change(old.read(one)) if one == name else old.read(one))
    return out.getvalue()


def test_a_workbook_with_entities_is_refused_before_it_is_parsed() -> None:
    """ISO/IEC 29500-2 (Open Packaging Conventions): a part shall hold no document type declaration."""
    bomb = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>'
    for part in ("xl/worksheets/sheet1.xml", "xl/workbook.xml"):
        content = changed(part, lambda old: bomb + old.split(b"?>", 1)[-1])
        with pytest.raises(InputError, match="declares entities"):
            open_workbook(content, "a.xlsx")


def test_a_zip_bomb_is_refused_before_it_is_unpacked() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        new.writestr("xl/workbook.xml", b"<workbook/>")
        for number in range(17):
            new.writestr(f"xl/media/{number}", b"\0" * (100 * 1024 * 1024))
    with pytest.raises(InputError, match="unpacks to at most 1600 MB"):
        open_workbook(out.getvalue(), "a.xlsx")


@pytest.mark.parametrize("cut", [100, 2000, -30])
def test_half_a_workbook_is_refused(cut: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(messy.EXCEL.content[:cut])
    assert run(["map", "table", str(path)]) == 2
    assert "expected a workbook" in capsys.readouterr().err


def test_an_odd_byte_far_down_is_reported_too() -> None:
    rows = "".join(f"{number};02/03/2026;heel;4\n" for number in range(10, 110)).encode()
    table = b"Chart;Day;Wound;Len (cm)\n" + rows + b"110;02/03/2026;h\xe9el;4\n"
    *_, last = read_table(table, "t.csv", read_map(HEAD + BASE, "map.toml"))
    assert "the text is Windows-1252 (1 line)" in last.report.inferred
    assert last.history.wounds == [{"id": "héel"}]


def test_a_long_table_is_read_row_by_row(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "LONG", 10)
    monkeypatch.setattr(source, "load", lambda *_: pytest.fail("the table was read whole"))
    table, mapping = tmp_path / "long.csv", tmp_path / "long.toml"
    table.write_bytes(messy.PLAIN.content)
    mapping.write_text(messy.PLAIN.mapping, "utf-8")
    assert len(list(woundfhir.read_many(table, maps=mapping))) == 2
    assert len(list(woundfhir.read_many([str(tmp_path)], maps=mapping))) == 2


def test_several_mappings_and_maps_of_codes_may_be_given_in_one_folder(tmp_path: Path) -> None:
    maps = tmp_path / "maps"
    maps.mkdir()
    for one in (messy.PLAIN, messy.FRENCH):
        (maps / f"{one.name}.toml").write_text(one.mapping, "utf-8")
        (tmp_path / f"{one.name}.csv").write_bytes(one.content)
    for one in (messy.PLAIN, messy.FRENCH):
        found = list(woundfhir.read_many(tmp_path / f"{one.name}.csv", maps=maps))
        assert len(found) == len(one.clients)
    (tmp_path / "other.csv").write_bytes(messy.POINT.content)
    with pytest.raises(InputError, match="of the 2 mappings given, none fits its columns"):
        list(woundfhir.read_many(tmp_path / "other.csv", maps=maps))


def test_the_records_own_table_is_read_as_ever_beside_a_mapping(tmp_path: Path) -> None:
    mapping = tmp_path / "a.toml"
    mapping.write_text(messy.PLAIN.mapping, "utf-8")
    own = b"woundfhir,patient.identifiers.1.value,patient.born\r\n1,A,1948\r\n"
    assert woundfhir.read(own, maps=mapping).history.patient["born"] == "1948"


def test_the_example_mapping_reads(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain", "mapping"]) == 0
    found = read_map(capsys.readouterr().out, "example")
    table = "Chart no.;Date;Wound;Size (cm);Exudate;Item used;Price\n1;02/03/2026;heel;4,2 x 3;+++;gauze;1\n"
    (one,) = read_table(table.encode(), "t.csv", found)
    assert one.history.visits[0]["wounds"][0]["assessment"]["exudate_amount"] == "large"
    assert one.history.visits[0]["by"] == {"organisation": "Riverbend Home Care (invented)"}
    assert not one.report.asks
