"""Many clients in other forms than lines (tables with a map, notes, Bundles) as a stream; the oracle is the whole."""

from __future__ import annotations

import csv
import io
import random
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.bulk.clients import CLIENTS, client, lines
from woundfhir.output import dumps

HEADER = ["Chart", "Day", "Wound", "Length (cm)", "Remark"]
MAP = """\
table = 1
dates = "year first"
zone = "-05:00"
[[column]]
name = "Chart"
to = "patient.identifiers"
system = "urn:example:card"
[[column]]
name = "Day"
to = "visit.at"
[[column]]
name = "Wound"
to = "wound.id"
[[column]]
name = "Length (cm)"
to = "assessment.length"
"""


def rows() -> list[list[str]]:
    """Rows of 40 clients, each scattered over the table, with cells and rows that cannot be read."""
    found = [
        [f"C-{number}", f"2026-03-{day:02}", "heel", f"{number}.{day}", "calm, \u00e9t\u00e9"]
        for number in range(40)
        for day in (2, 4, 9)
    ]
    found += [["", "2026-03-02", "heel", "4.1", "nobody's"], ["C-3", "2026-03-11", "heel", "long", ""]]
    random.Random(3).shuffle(found)
    return found


def table(folder: Path, form: str) -> Path:
    path = folder / f"table.{form}"
    if form == "xlsx":
        book = openpyxl.Workbook()
        for row in (HEADER, *rows()):
            book.active.append(row)
        book.save(path)
        return path
    text = io.StringIO()
    csv.writer(text, delimiter=";", lineterminator="\r\n").writerows((HEADER, *rows()))
    path.write_bytes(b"\xef\xbb\xbf" + text.getvalue().encode())
    return path


def notes(folder: Path, form: str) -> Path:
    """A folder with notes in several forms, some of clients together: the pages of one export, and single files."""
    place = folder / "notes"
    place.mkdir()
    for number, form in enumerate(("record", "record-json", "fhir-json", "fhir-xml", "csv", "record-ndjson")):
        ending = {"record": "yaml", "record-json": "json", "fhir-json": "fhir.json", "fhir-xml": "xml"}.get(form, form)
        (place / f"{number}.{ending.replace('record-', '')}").write_text(dumps(client(number), format=form))
    for kind in ("Patient", "Observation", "Condition", "Encounter", "Practitioner", "Organization"):
        some = [one for one in lines(7, 8).splitlines(keepends=True) if f'"resourceType":"{kind}"'.encode() in one]
        (place / f"{kind}.ndjson").write_bytes(b"".join(some))
    return place


@pytest.fixture(params=["csv", "xlsx", "notes"])
def given(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[object, ...]:
    if request.param == "notes":
        return (notes(tmp_path, request.param),)
    (tmp_path / "map.toml").write_text(MAP)
    return (table(tmp_path, request.param), "--map", tmp_path / "map.toml")


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("to", ["record-ndjson", "ndjson"])
def test_the_bytes_are_those_of_the_whole(said: Any, given: Any, tmp_path: Path, workers: int, to: str) -> None:
    whole, streamed = tmp_path / "whole", tmp_path / "streamed"
    code, _, err = said("convert", *given, "--to", to, "-o", whole)
    again = said("convert", *given, "--to", to, "-o", streamed, "--workers", workers)
    assert again[0] == code
    assert whole.exists() == streamed.exists()
    if whole.exists():
        assert streamed.read_bytes() == whole.read_bytes()
        assert len(set(err.splitlines()) - set(again[2].splitlines())) <= 1  # the line that says what was written


def test_the_findings_are_those_of_the_whole(said: Any, given: Any) -> None:
    whole = said("check", *given, "--format", "ndjson")
    assert whole[1]
    for workers in (1, 2):
        assert said("check", *given, "--format", "ndjson", "--workers", workers)[:2] == whole[:2]


def test_what_cannot_be_read_is_listed_and_the_others_are_read(said: Any, tmp_path: Path) -> None:
    place = notes(tmp_path, "")
    good = tmp_path / "good.record.ndjson"
    said("convert", place, "--to", "record-ndjson", "-o", good)
    (place / "0a.yaml").write_text("woundfhir: 1\npatient: {name: Tremblay\n")
    (place / "0b.fhir.json").write_text('{"resourceType": "Bundle", "type": "collection", "entry": [{"resource":')
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    code, _, err = said("convert", place, "--to", "record-ndjson", "-o", out, "--workers", 2)
    assert (code, "0a.yaml" in err, out.exists()) == (2, True, False)
    code, _, err = said(
        "convert", place, "--to", "record-ndjson", "-o", out, "--workers", 2, "--errors", errors, "--progress"
    )
    assert (code, out.read_bytes(), "Tremblay" in errors.read_text() + err) == (1, good.read_bytes(), False)
    assert [line.split("\t")[0] for line in errors.read_text().splitlines()[1:]] == [
        str(place / "0a.yaml"),
        str(place / "0b.fhir.json"),
    ]


def test_a_table_whose_rows_name_nobody_twice_is_told_once(said: Any, tmp_path: Path) -> None:
    (tmp_path / "map.toml").write_text(MAP)
    out = tmp_path / "out.record.ndjson"
    path = table(tmp_path, "csv")
    code, _, err = said("convert", path, "--map", tmp_path / "map.toml", "-o", out, "--workers", 2)
    assert code == 1
    assert err.count("what names no client") == 1
    assert len(out.read_text().splitlines()) == 41
    assert CLIENTS < 41
