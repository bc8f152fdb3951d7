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
FACADE = """
from datetime import date
from pathlib import Path
from typing import Any
import woundfhir

def every_verb(path: Path, other: str, content: bytes) -> list[dict[str, Any]]:
    history, report = woundfhir.read(path)
    line: str = report.summary
    same: woundfhir.History = woundfhir.read({"woundfhir": 1}).history
    text: str = woundfhir.dumps(history, format="fhir-xml")
    again: woundfhir.History = woundfhir.loads(text, format="fhir-xml")
    woundfhir.write(again, other, format="record", force=True)
    findings: list[woundfhir.Finding] = woundfhir.check(history, policy="ontario", today=date(2026, 3, 2))
    issues: list[woundfhir.Issue] = woundfhir.validate(content, show_values=False)
    made = woundfhir.bundle(history, "transaction", at="2026-03-02T10:05:00-05:00")
    nurse = woundfhir.bundle(history, document="nurse", replaces=made["id"])
    where = [one.path for one in issues] + [one.path for one in findings]
    joined = woundfhir.merge(history, same).history
    words = [one.line() for one in woundfhir.compare(history, joined)]
    came = woundfhir.receive(content, history, accept_unsigned=False).merged.history
    back, losses = woundfhir.from_fhir(woundfhir.to_fhir(came))
    objects = [one.get_resource_type() for one in woundfhir.to_models(back)]
    print(line, where, words, objects, losses.items, nurse)
    return woundfhir.to_fhir(back)
"""
#: A call that mypy must refuse -> the code of its error.
BAD_CALLS = {
    "woundfhir.dumps(history, format='yml')": "arg-type",
    "woundfhir.dumps(history, 'csv')": "call-arg or misc",  # too many positions: misc in older mypy
    "woundfhir.dumps(history, frmat='csv')": "call-arg",
    "woundfhir.read(5)": "arg-type",
    "woundfhir.read('a.yaml').wounds": "attr-defined",
    "woundfhir.bundle(history, 'documnet')": "arg-type",
    "woundfhir.bundle(history, docment='nurse')": "call-arg",
    "woundfhir.bundle(history, document='doctor')": "arg-type",
    "woundfhir.check(history, 'transfer')": "call-arg or misc",
    "woundfhir.write('a.yaml', history)": "arg-type",
    "woundfhir.validate(history)": "arg-type",
}
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
    (tmp_path / "good.py").write_text(GOOD + FACADE, "utf-8")
    head = "import woundfhir\nfrom woundfhir import History, models\n\nhistory = History.of({})\n"
    bad = {**BAD, **BAD_CALLS}
    (tmp_path / "bad.py").write_text(head + "\n".join(bad) + "\n", "utf-8")
    options = ["--strict", "--follow-imports=silent", f"--cache-dir={tmp_path / 'cache'}", "--no-error-summary"]
    said, failed, _ = api.run([*options, str(tmp_path / "good.py"), str(tmp_path / "bad.py")])
    assert not failed, failed
    lines = said.splitlines()
    assert [line for line in lines if "good.py" in line and " error: " in line] == []
    start = head.count("\n") + 1
    for number, (text, code) in enumerate(bad.items(), start):
        found = [line for line in lines if f"bad.py:{number}: error" in line]
        assert any(f"[{one}]" in line for line in found for one in code.split(" or ")), (text, said)
