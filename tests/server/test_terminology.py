"""A terminology server: what it says is said to come from it, is kept for some days, and nothing depends on it."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.server.played_terminology import PRESSURE, SCT, WOUND, PlayedTerminology, playing
from woundfhir import InputError
from woundfhir.cli import run
from woundfhir.server import terminology
from woundfhir.server.answers_kept import DAYS, AnswersKept

Json = Any
NAME = "Tremblay-4171948"


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[PlayedTerminology]:
    monkeypatch.setenv("WOUNDFHIR_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(terminology, "_TIMEOUT", 0.5)
    for name in ("WOUNDFHIR_TERMINOLOGY_TOKEN", "WOUNDFHIR_TERMINOLOGY_TOKEN_FILE", "WOUNDFHIR_TOKEN"):
        monkeypatch.delenv(name, raising=False)
    with playing() as found:
        yield found


def bundle(*codes: str, system: str = SCT) -> bytes:
    """A client with a Condition for each code, and a wound that is known."""
    patient = {"resourceType": "Patient", "id": "1", "name": [{"family": NAME}]}
    conditions = [
        {
            "resourceType": "Condition",
            "id": f"c{number}",
            "subject": {"reference": "Patient/1"},
            "code": {"coding": [{"system": system, "code": code}]},
        }
        for number, code in enumerate((PRESSURE, *codes))
    ]
    entries = [{"resource": one} for one in (patient, *conditions)]
    return json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries}).encode()


def lines(err: str) -> list[str]:
    return [line for line in err.splitlines() if "terminology server" in line.lower()]


def verbs(came: Path, out: Path) -> list[list[str]]:
    return [
        ["convert", str(came), "--to", "record", "-o", str(out), "--force"],
        ["check", str(came), "--format", "json", "-o", str(out), "--force"],
        ["map", "propose", str(came), "-o", str(out), "--force"],
        ["receive", str(came), "--format", "json"],
    ]


def test_the_lines_say_what_the_server_says(
    played: PlayedTerminology, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    came = tmp_path / "came.json"
    came.write_bytes(bundle("900000000001", "900000000003", "900000000004", "900000000009"))
    run(["convert", str(came), "--to", "record", "--terminology", played.base])
    out, err = capsys.readouterr()
    said = lines(err)
    assert said == [
        "sct:900000000001 Invented injury of the heel: a kind of wound, and no map says what to read it as; narrower "
        f"than sct:{PRESSURE}, which is read as answer:wound_kind/pressure injury "
        f"(the terminology server {played.base})",
        "sct:900000000003 Invented wound of another kind: no longer current; a kind of wound, and no map says what to "
        f"read it as; narrower than sct:{WOUND}, which is read as answer:wound_kind/wound "
        f"(the terminology server {played.base})",
        f"sct:900000000009: not known there (the terminology server {played.base})",
    ]
    assert NAME not in err and not any(NAME in one for one in played.asked)
    assert "terminology" not in out


def test_a_server_that_names_no_parents_is_asked_about_kinds(
    played: PlayedTerminology, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    came = tmp_path / "came.json"
    came.write_bytes(bundle("900000000001", "900000000004"))
    played.without_parents = True
    run(["convert", str(came), "--to", "record", "--terminology", played.base])
    assert lines(capsys.readouterr().err) == [
        "sct:900000000001 Invented injury of the heel: a kind of wound, and no map says what to read it as; narrower "
        f"than sct:{PRESSURE}, which is read as answer:wound_kind/pressure injury "
        f"(the terminology server {played.base})"
    ]


@pytest.mark.parametrize("number", range(4))
def test_the_result_is_the_same_with_and_without(
    number: int, played: PlayedTerminology, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    came, out = tmp_path / "came.json", tmp_path / "out"
    came.write_bytes(bundle("900000000001", "900000000009"))
    call = verbs(came, out)[number]
    found = []
    for more in ([], ["--terminology", played.base]):
        code = run([*call, *more])
        said = capsys.readouterr()
        found.append((code, out.read_bytes() if out.exists() else said.out.encode(), said.err))
    if call[0] == "map":  # its comments are what it was asked for
        assert "narrower than" in found[1][1].decode() and f"terminology server {played.base}" in found[1][1].decode()
        assert run(["convert", str(came), "--to", "record", "--map", str(out)]) == 2  # still to be filled in
        rows = [[line.split("\t") for line in text.decode().splitlines()] for _, text, _ in found]
        assert [row[:4] + row[5:] for row in rows[0]] == [row[:4] + row[5:] for row in rows[1]]
    else:
        assert found[0][:2] == found[1][:2]
        plain = [line for line in found[1][2].splitlines() if line not in lines(found[1][2])]
        assert plain == found[0][2].splitlines() and lines(found[1][2])


@pytest.mark.parametrize("wrong", ["html", "500", "401", "429", "empty", "slow", "closed", "page", "down"])
def test_a_server_that_fails_costs_one_line(
    wrong: str, played: PlayedTerminology, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    came, out = tmp_path / "came.json", tmp_path / "out"
    came.write_bytes(bundle("900000000001", "900000000009"))
    base = "http://127.0.0.1:9/fhir" if wrong == "down" else played.base
    played.wrong = wrong
    for call in verbs(came, out):
        code = run(call)
        before, plain = out.read_bytes() if out.exists() else b"", capsys.readouterr()
        assert run([*call, "--terminology", base]) == code
        said = capsys.readouterr()
        assert (said.out, out.read_bytes() if out.exists() else b"") == (plain.out, before)
        assert len(said.err.splitlines()) == len(plain.err.splitlines()) + 1
        (line,) = lines(said.err)
        assert "gave no usable answer" in line and "Nothing else depends on it" in line and "sign in" not in line


def test_an_answer_that_says_nothing_is_no_answer(
    played: PlayedTerminology, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    came = tmp_path / "came.json"
    came.write_bytes(bundle("900000000001"))
    played.wrong = "nonsense"
    run(["convert", str(came), "--to", "record", "--terminology", played.base])
    assert lines(capsys.readouterr().err) == []


def test_a_server_without_the_system_calls_no_code_unknown(
    played: PlayedTerminology, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    came = tmp_path / "came.json"
    came.write_bytes(bundle("900000000001", "900000000009"))
    played.without_sct = True
    run(["convert", str(came), "--to", "record", "--terminology", played.base])
    assert lines(capsys.readouterr().err) == [f"{SCT}: not on the terminology server {played.base}"]


def test_codes_of_a_house_are_asked_of_nobody(
    played: PlayedTerminology, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    came = tmp_path / "came.json"
    for system, code in (("https://hospital.example/codes", "17"), (SCT, f"417 {NAME}"), (SCT, "9" * 60)):
        came.write_bytes(bundle(code, system=system))
        run(["convert", str(came), "--to", "record", "--terminology", played.base])
        assert all(NAME not in one and "hospital" not in one and "9" * 60 not in one for one in played.asked)
    capsys.readouterr()


def test_answers_are_kept_and_end(played: PlayedTerminology, tmp_path: Path) -> None:
    clock = [1_000_000.0]
    server = terminology.at(played.base, print, tmp_path / "kept")
    server.kept.now = lambda: clock[0]
    first = server.lookup(SCT, PRESSURE)
    assert first is not None and first.display == "Pressure injury" and first.source == played.base
    again = server.lookup(SCT, PRESSURE)
    assert len(played.asked) == 1 and again is not None
    assert again.source == f"{played.base}, answer of 1970-01-12"
    clock[0] += DAYS * 86400
    assert server.lookup(SCT, PRESSURE) == first and len(played.asked) == 2
    # what is not known there is asked again the next day
    assert server.lookup(SCT, "900000000009") is None and server.lookup(SCT, "900000000009") is None
    assert len(played.asked) == 3
    clock[0] += 86400
    assert server.lookup(SCT, "900000000009") is None and len(played.asked) == 4
    played.wrong = "500"
    assert server.lookup(SCT, PRESSURE) is not None  # kept answers hold while it is down
    assert server.subsumes(SCT, WOUND, PRESSURE) is None and server.down
    server.close()


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"null", b'{"said": 7}', b"\xff", b"[" * 50_000])
def test_a_broken_file_of_the_cache_is_asked_again(content: bytes, played: PlayedTerminology, tmp_path: Path) -> None:
    server = terminology.at(played.base, print, tmp_path)
    assert server.validate(SCT, PRESSURE) == (True, played.base)
    (file,) = tmp_path.glob("*.json")
    file.write_bytes(content)
    assert server.validate(SCT, PRESSURE) == (True, played.base)
    assert json.loads(file.read_bytes())["said"]["result"] is True
    # an answer of another server, or to another question, under this name
    file.write_text(json.dumps({**json.loads(file.read_bytes()), "server": "https://other.example"}))
    assert server.validate(SCT, PRESSURE) == (True, played.base) and len(played.asked) == 3
    server.close()


def test_a_folder_that_takes_nothing_costs_nothing(played: PlayedTerminology, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    server = terminology.at(played.base, print, tmp_path / "file")
    assert server.subsumes(SCT, WOUND, PRESSURE) == (True, played.base)
    assert server.subsumes(SCT, PRESSURE, WOUND) == (False, played.base)
    server.close()


def test_several_runs_at_once_keep_whole_answers(tmp_path: Path) -> None:
    kept = AnswersKept("https://tx.example/fhir", tmp_path)
    wrong: list[object] = []

    def write(number: int) -> None:
        for _ in range(20):
            kept.keep("$lookup?code=1", {"display": str(number) * 1000})
            found = kept.find("$lookup?code=1")
            if found is None or found.said is None or len(set(found.said["display"])) != 1:
                wrong.append(found)

    threads = [threading.Thread(target=write, args=(number,)) for number in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert wrong == [] and [one.suffix for one in tmp_path.iterdir()] == [".json"]


def test_its_token_is_its_own(
    played: PlayedTerminology, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WOUNDFHIR_TOKEN", "of-another-server")
    came = tmp_path / "came.json"
    came.write_bytes(bundle("900000000001"))
    run(["convert", str(came), "--to", "record", "--terminology", played.base])
    assert played.headers and all("Authorization" not in one for one in played.headers)
    monkeypatch.setenv("WOUNDFHIR_TERMINOLOGY_TOKEN", "its-own-token")
    came.write_bytes(bundle("900000000003"))
    run(["convert", str(came), "--to", "record", "--terminology", played.base])
    assert played.headers[-1]["Authorization"] == "Bearer its-own-token"
    assert "its-own-token" not in "".join(capsys.readouterr())


@pytest.mark.parametrize("url", ["http://tx.example/fhir", "tx.example", "https://a:b@tx.example", "file:///etc"])
def test_an_address_that_is_not_safe_is_refused_first(url: str, tmp_path: Path) -> None:
    came, out = tmp_path / "came.json", tmp_path / "out"
    came.write_bytes(bundle())
    assert run(["convert", str(came), "--to", "record", "-o", str(out), "--terminology", url]) == 2
    assert not out.exists()
    with pytest.raises(InputError):
        terminology.at(url, print)


def test_the_codes_of_a_map_are_tried(
    played: PlayedTerminology, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "site.tsv"
    meaning = "skos:broadMatch\tanswer:wound_kind/pressure injury"
    rows = [f"sct:{code}\t{meaning}\n" for code in ("900000000003", "900000000009")]
    path.write_text("subject_id\tpredicate_id\tobject_id\n" + "".join(rows))
    (tmp_path / "site.cases.json").write_text('{"cases": []}')
    assert run(["map", "test", str(path), "--terminology", played.base]) == 0
    assert lines(capsys.readouterr().err) == [
        f"{path}, line 2: sct:900000000003 Invented wound of another kind: no longer current "
        f"(the terminology server {played.base})",
        f"{path}, line 3: sct:900000000009: not known there (the terminology server {played.base})",
    ]
