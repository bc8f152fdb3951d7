"""The command line: data on standard output, everything else on standard error, exit codes as the contract says."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import msgspec
import pytest

import woundfhir
from woundfhir._version import __version__
from woundfhir.cli import VERBS, run
from woundfhir.demo import story


@dataclass
class Result:
    code: int
    out: bytes
    err: str


@pytest.fixture
def call(capfdbinary: pytest.CaptureFixture[bytes]):  # type: ignore[no-untyped-def]
    def inner(*args: str) -> Result:
        code = run(args)
        out, err = capfdbinary.readouterr()
        return Result(code, out, err.decode())

    return inner


@pytest.fixture
def note(tmp_path: Path) -> Path:
    path = tmp_path / "story.yaml"
    path.write_bytes(story())
    return path


def test_the_version_loads_no_fhir_module_and_nothing_heavy() -> None:
    program = (
        "import sys; from woundfhir.cli import run; code = run(['--version']);"
        "heavy = ('fhir', 'lxml', 'pydantic', 'jsonschema', 'msgspec', 'yaml', 'woundfhir.fhir');"
        "print(code, [m for m in heavy if m in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    assert said.split("\n")[:2] == [f"woundfhir {__version__}", "0 []"]


def test_every_verb_has_its_help(call) -> None:  # type: ignore[no-untyped-def]
    assert b"Commands" in call("--help").out
    for verb in VERBS:
        found = call(verb, "--help")
        assert found.code == 0 and b"Usage: woundfhir " in found.out, verb


def test_an_unknown_verb_is_reported_in_one_line_and_exits_two(call) -> None:  # type: ignore[no-untyped-def]
    found = call("chekc")
    assert found.code == 2 and "chekc" in found.err and "Traceback" not in found.err


@pytest.mark.parametrize("form", ["record", "record-json", "fhir-json", "fhir-xml", "ndjson", "csv"])
def test_convert_gives_the_record_back_from_every_form(call, note: Path, tmp_path: Path, form: str) -> None:  # type: ignore[no-untyped-def]
    target = tmp_path / "out"
    assert call("convert", str(note), "--to", form, "-o", str(target)).code == 0
    back = call("convert", str(target), "--to", "record")
    straight = call("convert", str(note), "--to", "record")
    assert back.code == 0 and back.out == straight.out and back.err == ""


def test_convert_reads_standard_input(note: Path) -> None:
    made = subprocess.run(
        [sys.executable, "-m", "woundfhir", "convert", "-", "--to", "csv"],
        input=note.read_bytes(),
        capture_output=True,
        check=True,
    )
    assert made.stdout.startswith(b"woundfhir,zone,patient.")


def test_nothing_is_written_over_without_force(call, note: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    target = tmp_path / "taken"
    target.write_text("mine")
    found = call("convert", str(note), "--to", "csv", "-o", str(target))
    assert found.code == 2 and "--force" in found.err and target.read_text() == "mine"
    assert call("convert", str(note), "--to", "csv", "-o", str(target), "--force").code == 0
    assert target.read_bytes().startswith(b"woundfhir,")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["story.yaml", "taken"]


def test_what_has_no_place_is_listed_on_standard_error(call, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "p.json"
    path.write_bytes(b'{"resourceType": "Patient", "id": "p", "maritalStatus": {"text": "SecretWord"}}')
    found = call("convert", str(path), "--to", "record")
    assert found.code == 0 and "0 of 1 values understood; 1 kept" in found.err and "maritalStatus" not in found.err
    found = call("convert", str(path), "--to", "record", "--list", "kept")
    assert found.code == 0 and "no place in the record" in found.err and "SecretWord" not in found.err


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("half.json", b'{"woundfhir": 1, "patient": {', "ends in the middle"),
        ("words.txt", b"just words", "a wound record or FHIR resources"),
        ("dtd.xml", b'<!DOCTYPE x [<!ENTITY a "b">]><Patient xmlns="http://hl7.org/fhir"/>', "DOCTYPE"),
        ("misshapen.json", b'{"resourceType": "Bundle", "type": "collection", "entry": {"x": 1}}', "a Bundle with"),
    ],
)
def test_bad_input_gets_one_message_and_exit_two(call, tmp_path: Path, name: str, content: bytes, said: str) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / name
    path.write_bytes(content)
    found = call("convert", str(path), "--to", "record")
    assert found.code == 2 and found.out == b"" and said in found.err and name in found.err
    assert len(found.err.strip().splitlines()) == 1 and "Traceback" not in found.err


def test_a_missing_file_and_an_empty_folder_are_reported(call, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    assert "there is no such file" in call("convert", str(tmp_path / "no.yaml"), "--to", "csv").err
    assert "a folder with records in it" in call("convert", str(tmp_path), "--to", "csv").err


def test_bundle_writes_a_document_and_says_how_much(call, note: Path) -> None:  # type: ignore[no-untyped-def]
    found = call("bundle", str(note))
    assert found.code == 0
    made = msgspec.json.decode(found.out)
    assert made["type"] == "document" and made["entry"][0]["resource"]["resourceType"] == "Composition"
    assert "2 wounds, 8 visits" in found.err


def test_bundle_newest_goes_by_the_instant_and_not_by_the_clock(call, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """23:30 on 2 March at UTC-5 is 04:30 UTC on 3 March: four hours after the note of 00:30 UTC."""
    (tmp_path / "two.yaml").write_text(
        "woundfhir: 1\npatient: {born: 1948}\nwounds: [{id: W1}]\nvisits:\n"
        "  - {id: late, at: '2026-03-02T23:30:00-05:00', status: final, wounds: [{wound: W1}]}\n"
        "  - {id: early, at: '2026-03-03T00:30:00Z', status: final, wounds: [{wound: W1}]}\n"
    )
    made = call("bundle", str(tmp_path / "two.yaml"), "--newest", "1", "-o", str(tmp_path / "one.json"))
    assert made.code == 0, made.err
    assert [visit["id"] for visit in woundfhir.read(tmp_path / "one.json").history.visits] == ["late"]


def test_bundle_refuses_a_wound_that_is_not_there_without_naming_it(call, note: Path) -> None:  # type: ignore[no-untyped-def]
    found = call("bundle", str(note), "--wound", "SecretWound")
    assert found.code == 2 and "SecretWound" not in found.err and found.out == b""


def test_bundle_chooses_the_client(call, note: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    other = tmp_path / "other.yaml"
    other.write_text("woundfhir: 1\npatient: {identifiers: [{system: 'urn:example:clinic', value: X}]}\n")
    assert "--patient" in call("bundle", str(note), str(other)).err
    assert call("bundle", str(note), str(other), "--patient", "C-0417").code == 0


def test_trend_shows_a_table_data_and_a_chart(call, note: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    text = call("trend", str(note), "--wound", "W1")
    assert text.code == 0 and b"68 % smaller" in text.out and b"not a forecast of healing" in text.out
    data = msgspec.json.decode(call("trend", str(note), "--format", "json").out)
    assert data["wounds"][0]["points"][3]["length_cm"] == 4.10
    assert (data["wounds"][0]["half_life_weeks"], data["wounds"][0]["larger_than_before"]) == (2.93, [])  # by hand
    assert b"last 4 weeks 65 % smaller" in text.out and b"halves in 2.9 weeks" in text.out
    assert call("trend", str(note), "--format", "csv").out.splitlines()[0].startswith(b"wound,visit,at")
    chart = tmp_path / "w1.svg"
    assert call("trend", str(note), "--wound", "W1", "--svg", str(chart)).code == 0
    assert chart.read_bytes().startswith(b"<svg") and (tmp_path / "w1-clock.svg").exists()
    assert "one wound" in call("trend", str(note), "--svg", str(tmp_path / "x.svg")).err


IN_INCHES = """\
woundfhir: 1
patient: {born: "1948"}
wounds: [{id: W1, kind: pressure injury, onset: 2026-02-20}]
visits:
  - id: V1
    at: "2026-03-02T10:00:00-05:00"
    by: {id: N1, name: Nurse One}
    wounds:
      - wound: W1
        assessment: {length: 1.5 in, width: 1.0 in, depth: 0.5 in, push_exudate: 1, push_tissue: 3}
  - id: V2
    at: "2026-03-09T10:00:00-05:00"
    by: {id: N1, name: Nurse One}
    wounds: [{wound: W1, assessment: {length: 1 in, width: 1 in, infection_signs: [smell, not healing]}}]
"""


def test_trend_gives_a_size_in_inches_no_digit_that_was_not_measured(call, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    # 1.5 x 1.0 x 0.5 in are 3.81 x 2.54 x 1.27 cm and 9.6774 cm2: two digits were read, two are shown (NIST SP 811).
    (tmp_path / "inches.yaml").write_text(IN_INCHES)
    text = call("trend", str(tmp_path / "inches.yaml")).out.decode()
    first, second = (line.split() for line in text.splitlines() if line.startswith("  2026-03-"))
    assert first == ["2026-03-02", "3.8", "2.5", "1.3", "9.7"]
    assert second[:5] == ["2026-03-09", "3", "3", "-", "6.5"]
    assert not re.search(r"3\.81|2\.54|1\.27|9\.68|6\.45", text)
    table = call("trend", str(tmp_path / "inches.yaml"), "--format", "csv").out.decode()
    assert "3.8,2.5,1.3,9.7" in table


def test_trend_counts_days_signs_and_the_push_total(call, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "inches.yaml").write_text(IN_INCHES)
    text = call("trend", str(tmp_path / "inches.yaml")).out.decode()
    # 20 February to 9 March 2026 is 17 nights; smell stands in both published sets of signs, "not healing" in one.
    assert "open         17 days" in text
    assert "2 of 5 local, 1 of 7 deep signs (2026-03-09); a count is no diagnosis" in text
    # PUSH 3.0: 9.7 cm2 lies in the bin of 8.1 to 12.0 (sub-score 8), exudate 1, tissue 3.
    assert "PUSH total   12, of its parts (2026-03-02)" in text
    data = msgspec.json.decode(call("trend", str(tmp_path / "inches.yaml"), "--format", "json").out)["wounds"][0]
    assert data["days_open"] == {"least": 17, "most": 17}
    assert data["infection_signs"] == {"local": 2, "deep": 1, "at": "2026-03-09T10:00:00-05:00"}
    assert data["push_total"]["total"] == 12


def test_trend_asks_about_a_size_that_is_larger_and_names_no_diagnosis(call, note: Path) -> None:  # type: ignore[no-untyped-def]
    note.write_text(note.read_text("utf-8").replace("length: 3.5 cm", "length: 9.5 cm"), "utf-8")
    text = call("trend", str(note), "--wound", "W1")
    assert b"101 % larger; what may have made it so?" in text.out
    data = msgspec.json.decode(call("trend", str(note), "--wound", "W1", "--format", "json").out)
    assert data["wounds"][0]["larger_than_before"] == ["V7"]


def test_catalogue_lists_concepts_with_codes(call) -> None:  # type: ignore[no-untyped-def]
    found = call("catalogue", "assessment", "--codes")
    assert b"assessment.length" in found.out and b"39126-8" in found.out
    assert call("catalogue", "nothing").code == 2


def test_profiles_are_written_as_files_and_as_one_package(call, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    assert call("profiles", str(tmp_path / "p"), "--package", str(tmp_path / "p.tgz")).code == 0
    assert (tmp_path / "p" / "package.json").exists()
    first = (tmp_path / "p.tgz").read_bytes()
    assert call("profiles", "--package", str(tmp_path / "p.tgz"), "--force").code == 0
    assert (tmp_path / "p.tgz").read_bytes() == first


def test_demo_writes_the_story_and_says_what_to_open_next(call, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    found = call("demo", str(tmp_path / "d"))
    assert found.code == 0 and b"Next:" in found.out and b"word for word" in found.out
    names = {p.name for p in (tmp_path / "d").iterdir()}
    assert {"story.yaml", "story.fhir.json", "story.fhir.xml", "story.csv", "history.document.json"} <= names
    assert call("demo", str(tmp_path / "d")).code == 0
    (tmp_path / "d" / "story.yaml").write_text("mine")
    assert call("demo", str(tmp_path / "d")).code == 2


def test_a_misshapen_resource_does_not_end_a_report_that_names_elements(call, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """Found by the fuzzer: the report looked for the elements in the resources as they came."""
    visit = {"resourceType": "Encounter", "id": "e", "status": "finished", "participant": [[]]}
    path = tmp_path / "odd.json"
    path.write_bytes(
        msgspec.json.encode({"resourceType": "Bundle", "type": "collection", "entry": [{"resource": visit}]})
    )
    found = call("check", str(path), "--format", "outcome")
    assert found.code == 1 and msgspec.json.decode(found.out)["resourceType"] == "OperationOutcome"
