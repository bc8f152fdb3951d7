"""No value of the client in any report, log or error: a marker name in every field is never seen again."""

from __future__ import annotations

import json
import logging
import random
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.checklist.samples import demo
from tests.report.hidden import NAME, everywhere, held, scattered
from woundfhir.checklist import judge
from woundfhir.cli.check_ import command
from woundfhir.errors import WoundfhirError
from woundfhir.output import render as convert
from woundfhir.record import History
from woundfhir.report import FORMATS, Judged, render


def reports(history: History, kind: str = "record", content: bytes = b"", **options: Any) -> list[tuple[str, bytes]]:
    judged = [Judged("note.yaml", judge(history, **options), history, kind, content)]
    made = [(form, render(judged, form)) for form in FORMATS]
    return [*made, ("colour", render(judged, "text", colour=True))]


def test_the_marker_is_in_the_record_and_shown_when_asked_for() -> None:
    """The check itself can fail: with values shown, the marker is there."""
    history = History.of(scattered(demo().data, 3, 0.5))
    assert held(history.json())
    assert any(held(content) for _, content in reports(history, show_values=True))


@pytest.mark.parametrize("checklist", ["standard", "transfer"])
def test_a_record_of_nothing_but_the_marker(checklist: str, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    history = History.of(everywhere())
    found = judge(history, checklist=checklist)
    assert len(found.findings) > 10
    for form, content in reports(history, checklist=checklist):
        assert not held(content), form
    assert not held(repr(found.findings)) and not held(caplog.text)


@settings(max_examples=20)
@given(st.integers(0, 2**32), st.sampled_from([0.1, 0.4, 0.9]))
def test_the_marker_scattered_over_the_story(seed: int, share: float) -> None:
    history = History.of(scattered(demo().data, seed, share))
    for form, content in reports(history):
        assert not held(content), form


@pytest.mark.parametrize("form", ["fhir-json", "fhir-xml", "ndjson"])
def test_the_marker_that_came_as_fhir(form: str) -> None:
    history = History.of(scattered(demo().data, 11, 0.5))
    content = convert(history, form)
    assert held(content)
    for name, said in reports(history, form, content):
        assert not held(said), (form, name)


def broken() -> list[tuple[str, bytes]]:
    """Inputs that cannot be read, each with the marker in it."""
    whole = json.dumps(everywhere())
    return [
        ("half.json", whole[: len(whole) // 2].encode()),
        ("twice.json", whole.replace('"patient"', '"visits": [], "patient"', 1).encode()),
        ("list.json", json.dumps([everywhere()]).encode()),
        ("status.json", whole.replace('"final"', json.dumps(NAME)).encode()),
        ("shape.json", whole.replace('"wounds": [{"id"', f'"wounds": [{json.dumps(NAME)}, {{"id"', 1).encode()),
        ("latin.json", f"{NAME} \xe9".encode("latin-1")),
        ("yaml.yaml", f"woundfhir: 1\npatient: [{NAME}\n".encode()),
        ("xml.xml", f'<Patient xmlns="http://hl7.org/fhir"><name value="{NAME}"></Patient>'.encode()),
        ("fhir.json", json.dumps({"resourceType": "Patient", "name": NAME, "identifier": {"value": [NAME]}}).encode()),
        ("note.txt", NAME.encode()),
    ]


@pytest.mark.parametrize(("name", "content"), broken(), ids=[name for name, _ in broken()])
def test_the_marker_in_what_cannot_be_read(
    name: str, content: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from woundfhir.cli import run

    monkeypatch.chdir(tmp_path)
    Path(name).write_bytes(content)
    outputs: list[str] = []
    monkeypatch.setattr("click.echo", lambda text=None, **_: outputs.append(str(text)))
    code = run(["check", name])
    assert code == 2 or (name == "fhir.json" and code in (0, 1, 2))
    assert outputs and not held("\n".join(outputs))


@pytest.mark.parametrize("form", FORMATS)
def test_the_command_itself_shows_nothing(form: str, tmp_path: Path) -> None:
    path = tmp_path / "note.json"
    path.write_text(json.dumps(everywhere()), "utf-8")
    result = CliRunner().invoke(command, [str(path), "--format", form, "--policy", "international"])
    assert not held(result.stdout) and not held(result.stderr), form
    assert result.exception is None or isinstance(result.exception, (SystemExit, WoundfhirError))
    assert result.stdout


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("kind", ["fhir-json", "fhir-xml", "ndjson", "csv"])
def test_the_command_shows_nothing_of_what_came_in_another_form(form: str, kind: str, tmp_path: Path) -> None:
    """Each form with visits of its own; what the whole record gives in every form, the test above renders."""
    whole = scattered(demo().data, 5, 0.6)
    own = whole["visits"][list(FORMATS).index(form) :: len(FORMATS)]
    path = tmp_path / "note"
    path.write_bytes(convert(History.of({**whole, "visits": own}), kind))
    assert own and held(path.read_bytes())
    result = CliRunner().invoke(command, [str(path), "--format", form])
    assert not held(result.stdout) and not held(result.stderr), (form, kind)
    assert result.stdout


@pytest.mark.parametrize("seed", range(8))
def test_the_marker_anywhere_in_a_bundle_that_came(seed: int, tmp_path: Path) -> None:
    """Also where the standard wants a code, a date or a number, so that its own rules are broken."""
    dice = random.Random(seed)
    kept = ("resourceType", "fullUrl", "reference", "url", "id")

    def walk(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {k: walk(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [walk(item, key) for item in value]
        return NAME if key not in kept and dice.random() < 0.03 else value

    path = tmp_path / "came.json"
    path.write_text(json.dumps(walk(json.loads(convert(demo(), "fhir-json")))), "utf-8")
    # Every form with some seed: reading a Bundle takes the longest.
    for form in (FORMATS[seed % len(FORMATS)], FORMATS[(seed + 2) % len(FORMATS)]):
        result = CliRunner().invoke(command, [str(path), "--format", form], standalone_mode=False)
        told = str(result.exception) if isinstance(result.exception, WoundfhirError) else ""
        assert result.exception is None or told, result.exception
        assert not held(result.stdout) and not held(result.stderr) and not held(told), form
