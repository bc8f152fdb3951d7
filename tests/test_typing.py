"""What an integrator's own mypy (outside tool) says of code on the typed models: it refuses a misspelt key."""

from __future__ import annotations

from pathlib import Path

import pytest
from mypy import api

from tests.paths import ROOT

GOOD = """
from decimal import Decimal
from woundfhir import History
from woundfhir.models import QuantityText, Record, Wound

def lengths(history: History) -> list[Decimal]:
    found: list[Decimal] = []
    for visit in history.record.visits:
        for entry in visit.wounds or []:
            length = entry.assessment.length if entry.assessment else None
            if isinstance(length, QuantityText) and length.number is not None:
                found.append(length.number)
    return found

def kinds(record: Record) -> list[str]:
    return [wound.kind for wound in record.wounds if isinstance(wound.kind, str)]

own = Wound(id="W1", kind="as the surgeon calls it")
listed = Wound(id="W2", kind="skin tear", status="open")
"""
#: A line that mypy must refuse -> the code of its error.
BAD = {
    "history.record.wounds[0].knd": "attr-defined",
    "history.record.patient.bron": "attr-defined",
    "models.Wound(id='W1', kin='skin tear')": "call-arg",
    "models.Wound(id='W1', status='opened')": "arg-type",
    "models.Wound()": "call-arg",
    "models.Assessment(length=4.1)": "arg-type",
    "models.Assessment(lenght=models.QuantityText('4.1 cm'))": "call-arg",
    "history.record.wounds[0].kind.number": "union-attr",
}


def test_mypy_takes_the_right_keys_and_refuses_the_misspelt(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MYPYPATH", str(ROOT))
    monkeypatch.chdir(ROOT)
    (tmp_path / "good.py").write_text(GOOD, "utf-8")
    head = "from woundfhir import History, models\n\nhistory = History.of({})\n"
    (tmp_path / "bad.py").write_text(head + "\n".join(BAD) + "\n", "utf-8")
    options = ["--strict", "--follow-imports=silent", f"--cache-dir={tmp_path / 'cache'}", "--no-error-summary"]
    said, failed, _ = api.run([*options, str(tmp_path / "good.py"), str(tmp_path / "bad.py")])
    assert not failed, failed
    lines = said.splitlines()
    assert [line for line in lines if "good.py" in line and " error: " in line] == []
    start = head.count("\n") + 1
    for number, (text, code) in enumerate(BAD.items(), start):
        assert [line for line in lines if f"bad.py:{number}: error" in line and f"[{code}]" in line], (text, said)
