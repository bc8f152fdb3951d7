"""Messages hold no value of the client, and foreign text in them keeps to its line and its length, for every verb."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.checklist.samples import demo
from tests.cli.receiving import whole
from tests.intake.foreign.guides import GUIDES
from tests.paths import ROOT
from tests.report.hidden import NAME, everywhere, held, scattered
from tests.v2.cases import CASES as V2
from woundfhir.cli import run
from woundfhir.errors import WIDTH, InputError, escaped
from woundfhir.handover import bundle
from woundfhir.r4 import jsonio
from woundfhir.record import History
from woundfhir.record.files import to_json, to_yaml

FORGED = "W1\nwoundfhir: Complete.\x1b[2J\u202e" + "x" * 100


def commands(path: Path) -> list[list[object]]:
    return [
        ["check", path],
        ["check", path, "--checklist", "transfer", "--format", "json"],
        ["convert", path, "--to", "csv"],
        ["convert", path, "--to", "fhir-json"],
        ["convert", path, "--to", "fhir-xml"],
        ["bundle", path],
        ["bundle", path, "--as", "transaction"],
        ["bundle", path, "--since", "2026-03-01"],
        ["receive", path],
        ["receive", path, "--known", path],
        ["compare", path, path],
        ["trend", path],
        ["trend", path, "--wound", "W9"],
        ["form", path, "--visit", "V1", "--wound", "W1"],
        ["rebuild", path],
        ["audit", path],
        ["new", path],
        ["check", path, "--format", "github"],
        ["convert", path, "--to", "csv", "--table", "facts", "--guard-formulas"],
        ["bundle", path, "--as", "ips", "--at", "2026-06-01T10:00:00-04:00"],
        ["bundle", path, "--to", "hl7-v2-mdm"],
    ]


def errors_of(path: Path, capsys: Any) -> list[tuple[str, str]]:
    capsys.readouterr()
    out = []
    for args in commands(path):
        code = run([str(arg) for arg in args])
        err = capsys.readouterr().err
        assert code in (0, 1, 2), (args, err)
        out.append((str(args[0]), err))
    return out


@pytest.mark.parametrize("form", ["yaml", "json", "bundle"])
def test_a_record_of_nothing_but_the_marker_shows_it_in_no_message(form: str, tmp_path: Path, capsys: Any) -> None:
    history = History.of(everywhere())
    path = tmp_path / f"note.{form}"
    made = {"yaml": to_yaml, "json": to_json, "bundle": lambda one: jsonio.encode(bundle(one, "collection"))}[form]
    path.write_bytes(made(history))
    for verb, err in errors_of(path, capsys):
        assert not held(err), (verb, err)


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 2**32), share=st.sampled_from([0.1, 0.5, 0.9]))
def test_the_marker_scattered_over_the_story_stands_in_no_message(
    seed: int, share: float, tmp_path: Path, capsys: Any
) -> None:
    path = tmp_path / "note.yaml"
    path.write_bytes(to_yaml(History.of(scattered(demo().data, seed, share))))
    for verb, err in errors_of(path, capsys):
        assert not held(err), (verb, err)


@pytest.mark.parametrize("verb", ["check", "trend", "receive", "compare"])
def test_an_id_forges_no_line_and_moves_no_cursor(verb: str, tmp_path: Path, said: Any) -> None:
    data = whole().data
    wounds = [{**wound, "id": FORGED if wound["id"] == "W1" else wound["id"]} for wound in data["wounds"]]
    visits = [
        {**one, "wounds": [{**e, "wound": FORGED if e["wound"] == "W1" else e["wound"]} for e in one["wounds"]]}
        for one in data["visits"]
    ]
    record = jsonio.encode({**data, "wounds": wounds, "visits": visits})
    if verb == "receive":
        record = jsonio.encode(bundle(whole())).replace(b'"value":"W1"', b'"value":' + jsonio.encode(FORGED))
    path, other = tmp_path / "note.json", tmp_path / "other.json"
    path.write_bytes(record)
    other.write_bytes(to_json(whole()))
    code, out, err = said(verb, path, *([other] if verb == "compare" else []))
    assert code in (0, 1, 2), "an id with control characters may be refused; it is never shown as it stands"
    assert not any(mark in out + err for mark in ("\x1b", "\u202e"))
    assert not any(line.startswith("woundfhir: Complete") for line in (out + err).splitlines())


@pytest.mark.parametrize("name", ["a\nwoundfhir: Complete.", "a\x1b[31m", "a\u202eb", "a\u2028b", "x" * 200])
def test_the_name_of_a_file_keeps_to_its_line(name: str, tmp_path: Path, said: Any) -> None:
    code, out, err = said("check", tmp_path / name)
    assert code == 2 and out == "" and len(err.splitlines()) == 1
    assert escaped(err.rstrip("\n"), 2000) == err.rstrip("\n")


@given(st.text(), st.integers(9, 400))
def test_what_is_escaped_is_one_line_of_characters_that_can_be_seen(text: str, width: int) -> None:
    shown = escaped(text, width)
    assert shown.isprintable() and len(shown) <= width and escaped(shown, width) == shown
    if text.isprintable() and len(text) <= width:
        assert shown == text


@given(st.text(max_size=2000), st.text(max_size=2000), st.text(max_size=2000), st.text(max_size=2000))
def test_an_error_is_one_line_whatever_it_is_made_of(where: str, expected: str, fix: str, found: str) -> None:
    told = str(InputError(where, expected, fix, found=found))
    assert told.isprintable() and len(told) < 7 * WIDTH


def marked(value: Any, ids: dict[str, str], *, texts: bool, key: str = "") -> Any:
    """A copy of FHIR with the marker in every id, and in every name and text where these are wanted."""
    if isinstance(value, dict):
        return {k: marked(v, ids, texts=texts, key=k) for k, v in value.items()}
    if isinstance(value, list):
        return [marked(item, ids, texts=texts, key=key) for item in value]
    if not isinstance(value, str):
        return value
    if key == "id":
        return ids.setdefault(value, f"Zyxmarker-{len(ids)}")
    if key in ("reference", "fullUrl") and not value.startswith("urn:"):
        head, slash, last = value.rpartition("/")
        mark = "#" * value.startswith("#")
        return f"{head}{slash}{mark}{ids.setdefault(last.removeprefix('#'), f'Zyxmarker-{len(ids)}')}"
    if texts and key in ("text", "display", "family", "given", "description", "title", "line", "valueString"):
        return f"{value} {NAME}"
    return value


@pytest.mark.parametrize("name", sorted(GUIDES))
def test_no_id_and_no_text_of_fhir_stands_in_a_message_or_a_report_for_people(
    name: str, tmp_path: Path, said: Any
) -> None:
    came = jsonio.decode(json.dumps(GUIDES[name](), default=str).encode())
    path, shown = tmp_path / "in.json", tmp_path / "ids.json"
    path.write_bytes(jsonio.encode(marked(came, {}, texts=True)))
    shown.write_bytes(jsonio.encode(marked(came, {}, texts=False)))
    for args in commands(path):
        code, _, err = said(*args)
        assert code in (0, 1, 2) and not held(err), (args, err)
    report = tmp_path / "report.txt"
    for args in (
        ["check", path], ["check", path, "--all"], ["receive", path], ["compare", path, path], ["audit", path],
        ["convert", path, "--to", "csv", "-o", tmp_path / "o.csv", "--force", "--report", report, "--list", "kept",
         "--list", "reworded", "--list", "not-understood", "--list", "bookkeeping", "--list", "understood"],
        ["trend", shown], ["compare", shown, path],
    ):  # fmt: skip
        code, out, err = said(*args)
        assert code in (0, 1, 2), err
        assert not held(out + err), (args, out, err)
        if "--report" in args and code < 2:
            assert not held(report.read_bytes()), report.read_text("utf-8")
            report.unlink()


#: Text between tags of a CDA document: names, lines of an address, narrative, words of a code.
_BETWEEN_TAGS = re.compile(r">([^<>]*[A-Za-z][^<>]*)<")


@pytest.mark.parametrize("name", ["allergies", "care_and_supplies", "narrative_only", "null_flavors", "two_wounds"])
def test_no_word_of_a_cda_document_stands_in_a_message(name: str, tmp_path: Path, said: Any) -> None:
    path = tmp_path / "in.xml"
    text = (ROOT / f"tests/cda/documents/{name}.xml").read_text("utf-8")
    path.write_text(_BETWEEN_TAGS.sub(f">{NAME}<", text), "utf-8")
    for args in (
        ["check", path],
        ["convert", path, "--to", "csv"],
        ["receive", path],
        ["convert", path, "--list", "kept"],
    ):
        code, _, err = said(*args)
        assert code in (0, 1, 2) and not held(err), (args, err)


@pytest.mark.parametrize("name", sorted(V2))
def test_no_word_of_a_message_stands_in_a_message(name: str, tmp_path: Path, said: Any) -> None:
    path = tmp_path / "in.hl7"
    text = re.sub(r"Testcase|Ana|Writer|Rae|head to toe|about", NAME, V2[name].text)
    path.write_bytes(text.encode(V2[name].encoding))
    for args in (["check", path], ["convert", path, "--to", "csv"], ["receive", path]):
        code, _, err = said(*args)
        assert code in (0, 1, 2) and not held(err), (args, err)
