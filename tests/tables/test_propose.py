"""A proposed mapping: what it guesses is marked, what it cannot know is asked, and with the answers it reads."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.tables import messy
from tests.tables.messy import MESSY, Messy
from tests.tables.test_messy import value
from woundfhir.cli import run
from woundfhir.errors import InputError
from woundfhir.tables.mapping import TableMap, read_map
from woundfhir.tables.propose import propose
from woundfhir.tables.reading import read_table

#: Table -> header -> where a person would say that it goes: a sample written by hand, not every column.
MEANT = {
    "english-comma": {
        "Chart #": ["patient.identifiers"],
        "Client": ["patient.identifiers"],
        "DOB": ["patient.born"],
        "Visit Date": ["visit.at"],
        "Time": ["visit.time"],
        "Wound": ["wound.id"],
        "Length (cm)": ["assessment.length"],
        "Pain": ["assessment.pain_at_rest"],
        "Odour?": ["assessment.odour"],
        "Comments": ["note"],
    },
    "french-semicolon-windows": {
        "N° dossier": ["patient.identifiers"],
        "Né(e) le": ["patient.born"],
        "Sexe": ["patient.sex"],
        "Date": ["visit.at"],
        "Plaie": ["wound.id"],
        "Dimensions (cm)": ["assessment.length", "assessment.width", "assessment.depth"],
        "Douleur": ["assessment.pain_at_rest"],
        "Odeur": ["assessment.odour"],
        "Diabète": ["client.diabetes"],
    },
    "excel-types-merged-header-formulas": {
        "Visit": ["visit.at"],
        "Start": ["visit.time"],
        "Size / Length": ["assessment.length"],
        "Size / Width": ["assessment.width"],
    },
    "long-one-finding-a-row": {"When": ["visit.at"], "Length": ["assessment.length"], "Odour": ["assessment.odour"]},
}


@pytest.mark.parametrize(
    ("cells", "sides"),
    [(["4,2 x 3", "4 x 3,1 cm"], ["length", "width"]), (["4,2 x 3", "4 x 3,1 x 0,2"], ["length", "width", "depth"])],
)
def test_a_depth_is_proposed_only_where_a_cell_has_three_numbers(cells: list[str], sides: list[str]) -> None:
    text = propose(
        "\n".join(["Chart;Date;Size", *(f"C{n};{n}/03/2026;{one}" for n, one in enumerate(cells, 1))]).encode(), "a.csv"
    )
    named = ", ".join(f'"assessment.{side}"' for side in sides)
    assert f"to = [{named}]\n" in text and ("no cell has a third number" in text) is (len(sides) == 2)


def answered(text: str) -> str:
    """A proposal as a person leaves it who decides everything: the day comes first."""
    text = text.replace('dates = "decide"', 'dates = "day first"')
    return text.replace('zone = "decide"', 'zone = "America/Toronto"').replace('"decide"', '"urn:example:chart"')


def proposed(one: Messy) -> TableMap:
    return read_map(answered(propose(one.content, one.name)), "map.toml")


@pytest.mark.parametrize("one", MESSY, ids=lambda one: one.name)
def test_a_proposal_is_a_mapping_once_a_person_has_decided(one: Messy) -> None:
    found = proposed(one)
    assert len(found.guesses()) == len([each for each in (*found.column, *found.item) if each.to])
    if 'system = "decide"' in propose(one.content, one.name):
        with pytest.raises(InputError, match="nobody has decided it yet"):
            read_map(propose(one.content, one.name), "map.toml")


@pytest.mark.parametrize(("name", "header"), [(name, header) for name, found in MEANT.items() for header in found])
def test_a_header_is_taken_for_what_a_person_takes_it_for(name: str, header: str) -> None:
    one = next(each for each in MESSY if each.name == name)
    if header == "Client":  # a chart number stands beside it: two columns never go to one place
        assert "could be patient.identifiers too" in propose(one.content, name)
        return
    made = proposed(one)
    found = {each.name: each.to for each in (*made.column, *made.item)}
    assert found[header] == MEANT[name][header]


def test_what_is_proposed_reads_the_table() -> None:
    for one in (messy.PLAIN, messy.UNITS_ROW, messy.NAMES_ONLY):
        found = [each for each in read_table(one.content, one.name, proposed(one)) if each.named]
        for each, expected in zip(found, one.clients, strict=True):
            sizes = {path: text for path, text in expected.items() if re.search(r"assessment/(length|width)", path)}
            read = {path: value(each.history, path) for path in sizes}
            bare = {path: text.removesuffix(" cm") for path, text in sizes.items()}
            assert read in (sizes, bare)  # without the unit where the table gives none: it is never guessed
            assert any("guesses of the mapping that nobody has confirmed" in line for line in each.report.notices)


def test_day_and_month_are_asked_unless_the_cells_settle_them() -> None:
    table = "Chart no;Date;Length (cm)\n1;{};4\n1;{};3\n"
    for first, second, expected in (
        ("03/04/2026", "05/04/2026", '"decide"'),
        ("03/04/2026", "25/04/2026", '"day first"'),
        ("03/04/2026", "04/25/2026", '"month first"'),
        ("13/04/2026", "04/25/2026", '"decide"'),
        ("2026-04-03", "2026-04-25", ""),
    ):
        text = propose(table.format(first, second).encode(), "a.csv")
        found = re.search(r"^dates = (.*)$", text, re.MULTILINE)
        assert (found[1] if found else "") == expected


def test_years_of_two_digits_are_asked_about_and_then_read() -> None:
    table = b"Chart no;DOB;Date;Wound\n1;09/03/48;25/03/26 10:05;heel\n"
    text = propose(table, "a.csv")
    assert "short_years = true  # " in text
    (found,) = read_table(table, "a.csv", read_map(answered(text), "map.toml"))
    assert found.history.visits[0]["at"].startswith("2026-03-25T10:05")
    (wrong,) = found.report.of("not-understood")  # 48 is no year of this century, and nobody says which one it is
    assert "row 2, column 2" in wrong.path and "four digits of the year" in wrong.why


def test_the_command_line_writes_a_mapping_and_then_reads_by_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table, mapping = tmp_path / "mars.csv", tmp_path / "mars.toml"
    table.write_bytes(messy.FRENCH.content)
    assert run(["map", "table", str(table), "-o", str(mapping)]) == 0
    assert "Guesses to confirm: 9 columns; 3 things to decide" in capsys.readouterr().err
    assert run(["convert", str(table), "--to", "csv", "--map", str(mapping)]) == 2
    assert "nobody has decided it yet" in capsys.readouterr().err
    ready = re.sub(r"^guess = .*\n", "", answered(mapping.read_text("utf-8")), flags=re.MULTILINE)
    mapping.write_text(ready, "utf-8")
    out = tmp_path / "out.record.ndjson"
    assert run(["convert", str(table), "-o", str(out), "--map", str(mapping)]) == 1  # néant is no score
    said = capsys.readouterr().err
    assert "row 7, column 7 (Douleur): expected a whole number, 0 to 10" in said
    assert out.read_text("utf-8").count("\n") == 2
    assert run(["check", str(table), "--map", str(mapping)]) == 1


def test_a_table_without_a_mapping_gets_one_clear_message(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = tmp_path / "mars.csv"
    table.write_bytes(messy.FRENCH.content)
    assert run(["check", str(table)]) == 2
    (line,) = capsys.readouterr().err.strip().splitlines()
    form = ("semicolons", "Windows-1252", "header in row 4", "9 columns")
    for words in (*form, f"woundfhir map table {table}", "--map"):
        assert words in line
    assert "A-17" not in line and "Relevé" not in line


def test_an_order_of_day_and_month_is_asked_for_where_only_the_cells_show_the_day_of_the_visit() -> None:
    """It was called certain: the column had no meaning yet when the dates were looked at."""
    said = propose(b"chart;day;wound;size\nC-17;02/03/2026;left heel;4,2 x 3,1 cm\n", "a.csv")
    assert 'dates = "decide"' in said and 'to = "visit.at"' in said
    said = propose(b"chart;day;wound;size\nC-17;22/03/2026;left heel;4,2 x 3,1 cm\n", "a.csv")
    assert 'dates = "day first"' in said
