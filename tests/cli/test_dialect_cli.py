"""``--dialect`` of ``convert`` and ``bundle``: output, messages, exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import woundfhir
from tests.cli.receiving import whole


def test_what_a_guide_asks_for_and_the_record_has_not_is_reported(said: Any, tmp_path: Path) -> None:
    note = tmp_path / "note.yaml"
    note.write_text("woundfhir: 1\npatient: {born: 1948-03}\nwounds: [{id: W1}]\n", "utf-8")
    code, out, err = said("convert", note, "--to", "fhir-json", "--dialect", "us-core")
    assert code == 0
    assert "us-core: some resources claim no profile, as it asks for more: Patient.identifier.system (1), " in err
    (wound,) = [e["resource"] for e in json.loads(out)["entry"] if e["resource"]["resourceType"] == "Condition"]
    assert wound["category"][-1]["coding"][0]["code"] == "health-concern"


def test_a_dialect_of_what_is_no_fhir_is_refused(said: Any, tmp_path: Path) -> None:
    note = tmp_path / "note.yaml"
    note.write_text("woundfhir: 1\npatient: {born: 1948-03}\n", "utf-8")
    code, out, err = said("convert", note, "--to", "record", "--dialect", "us-core")
    assert (code, out) == (2, "")
    assert "--dialect: expected a format of FHIR: fhir-json, fhir-xml or ndjson." in err


def test_every_format_of_fhir_speaks_it(said: Any, tmp_path: Path) -> None:
    note = tmp_path / "note.yaml"
    woundfhir.write(whole(), note)
    for verb, form in (("convert", "ndjson"), ("convert", "fhir-xml"), ("bundle", "fhir-xml"), ("bundle", "fhir-json")):
        made = tmp_path / f"{verb}.{form}"
        assert said(verb, note, "--to", form, "--dialect", "components", "-o", made)[0] == 0
        assert "components" in made.read_text("utf-8")
        assert woundfhir.read(made).history.data == whole().data
