"""CSV that a spreadsheet runs nothing of. Source: OWASP, "CSV Injection" (the characters that begin a formula)."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir import History, dumps, loads
from woundfhir.cli import run
from woundfhir.record.guarded import guard, guarding, unguard

FORMULAS = ("=1+1", "+1 416 555 0100", "-2", "@SUM(A1)", "＝1", "'quoted", "''", "=cmd|' /C calc'!A0")


def noted(words: str) -> History:
    seen = {"wound": "W1", "assessment": {"note": words}}
    visits = [{"id": "V1", "at": "2026-03-02", "wounds": [seen]}]
    return History.of({"woundfhir": 1, "patient": {"note": words}, "wounds": [{"id": "W1"}], "visits": visits})


@pytest.mark.parametrize("words", FORMULAS)
def test_a_guarded_table_begins_no_cell_as_a_formula_and_reads_back(words: str) -> None:
    history = noted(words)
    with guarding():
        made = dumps(history, format="csv")
    rows = list(csv.reader(io.StringIO(made, newline="")))
    assert not [cell for row in rows for cell in row if cell[:1] in "=+-@＝＋－＠\t\r" and cell]
    assert loads(made, format="csv") == history
    assert loads(dumps(history, format="csv"), format="csv") == history


@pytest.mark.property
@given(st.text(max_size=8))
def test_guarding_is_undone_word_for_word(text: str) -> None:
    assert unguard(guard(text)) == text
    assert not guard(text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


def test_the_option_of_every_verb_that_writes_a_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.json"
    path.write_text(dumps(noted("=HYPERLINK(1)"), format="record-json"), "utf-8")
    assert run(["convert", str(path), "-t", "csv", "--guard-formulas"]) == 0
    assert ",'=HYPERLINK(1)" in capsys.readouterr().out
    assert run(["convert", str(path), "-t", "csv"]) == 0
    plain = capsys.readouterr().out
    assert ",=HYPERLINK(1)" in plain and "guarded" not in plain
    for verb in (["trend"], ["audit"]):
        assert run([*verb, str(path), "--format", "csv", "--guard-formulas"]) in (0, 1)
    assert run(["convert", str(path), "-t", "csv", "--table", "facts", "--guard-formulas"]) == 0
    assert "=HYPERLINK" not in capsys.readouterr().out.replace("'=HYPERLINK", "")
