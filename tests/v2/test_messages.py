"""What comes of HL7 v2 messages of others, held against what they say; and laws over every value of every message."""

from __future__ import annotations

import json
import logging
import re
from pathlib import Path
from typing import Any

import pytest

from tests.v2.cases import CASES, LENGTH, OBR, msh, obx, pid
from woundfhir.cli import run
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.fates import fate_of
from woundfhir.intake.inputs import Input
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import histories, parse
from woundfhir.intake.traced import TracedLosses
from woundfhir.intake.validation import issues

Json = Any


def read(content: bytes) -> list[Input]:
    return list(histories([("batch.hl7", content)]))


def content(name: str) -> bytes:
    return CASES[name].text.encode(CASES[name].encoding)


def clients(found: list[Input]) -> dict[str, Input]:
    return {str(one.history.patient["identifiers"][0]["value"]): one for one in found if one.of_client}


def wounds(one: Input) -> list[dict[str, Json]]:
    """Each wound with what is found of it at any visit."""
    out = []
    for wound in one.history.wounds:
        said = {key: wound[key] for key in ("kind", "site", "side") if key in wound}
        for visit in one.history.visits:
            for entry in visit.get("wounds", ()):
                if entry["wound"] == wound["id"]:
                    assert not set(said) & set(entry.get("assessment", {}))
                    said |= entry.get("assessment", {})
        out.append(said)
    return out


def report(one: Input) -> TracedLosses:
    assert isinstance(one.report, TracedLosses)
    return one.report


def fates(found: list[Input]) -> dict[str, Any]:
    return {"".join(at): fate for one in found for at, fate in report(one).fates.items()}


@pytest.mark.parametrize("name", CASES)
def test_the_records_say_what_the_messages_say_and_no_more(name: str) -> None:
    case, found = CASES[name], read(content(name))
    assert {number: sorted(wounds(one), key=repr) for number, one in clients(found).items()} == {
        number: sorted(client.wounds, key=repr) for number, client in case.clients.items()
    }
    for number, client in case.clients.items():
        assert client.born is None or clients(found)[number].history.patient["born"] == client.born
    said = json.dumps([{k: v for k, v in one.history.data.items() if k != "extra"} for one in found], default=str)
    assert [words for words in case.never if words in said] == []


@pytest.mark.parametrize("name", CASES)
def test_the_report_names_places_in_the_messages(name: str) -> None:
    known = fates(read(content(name)))
    for fate, place, why in CASES[name].report:
        here = [one for at, one in known.items() if place in at and fate_of(one.kind) == fate]
        assert any(why in one.why for one in here), (fate, place, why)


@pytest.mark.parametrize("name", CASES)
def test_nothing_of_one_client_stands_with_another(name: str) -> None:
    """The segment PID of each, and all that is theirs, in nobody else's record."""
    found = read(content(name))
    for number, one in clients(found).items():
        for other in found:
            assert other is one or number not in other.history.json()


@pytest.mark.parametrize("name", CASES)
def test_what_is_written_of_it_is_read_again_the_same(name: str) -> None:
    for one in clients(read(content(name))).values():
        resources = to_fhir(one.history)
        again, _ = from_fhir(resources)
        assert {k: v for k, v in again.data.items() if k != "extra"} == {
            k: v for k, v in one.history.data.items() if k != "extra"
        }
        # Narrative is good practice; a wound that only findings name has no resource of others.
        assert [each for each in issues(resources, []) if each.key not in ("dom-6", "not-found")] == []


@pytest.mark.parametrize("name", CASES)
def test_every_value_has_one_fate_and_a_change_of_it_shows(name: str) -> None:
    """Each value of a segment is changed in turn: the record, what is kept, or the report says something else."""
    text = content(name)
    before = read(text)
    known = fates(before)
    state = [(one.history.json(), report(one).json()) for one in before]
    seen = 0
    for match in re.finditer(rb"(?<=[|^~&*!$])[A-Za-z0-9.,:/<-]+(?=[|^~&*!$\r])", text):
        line = text[: match.start()].split(b"\r")[-1]
        field = line.count(line[3:4])
        if line[:3] in (b"MSH", b"FHS", b"BHS", b"BTS", b"FTS") or field == 1 or (line[:3] == b"OBX" and field == 2):
            continue  # delimiters, numbers of segments, and types of values
        word = match[0]
        last = word[-1:]
        other = bytes([word[-1] + 1]) if last not in b"9zZ" else b"1" if last == b"9" else b"a"
        changed = text[: match.start()] + word[:-1] + other + text[match.end() :]
        try:
            after = read(changed)
        except InputError:
            continue
        seen += 1
        assert [(one.history.json(), report(one).json()) for one in after] != state, match
    assert seen > 5 and known


def test_a_value_that_is_understood_changes_the_record() -> None:
    for name in ("one wound, no sub-id", "two wounds by sub-id, sites in OBX-20", "a kind of wound among the results"):
        (before,) = read(content(name))
        for at, fate in report(before).fates.items():
            if fate.kind != "understood" or not re.search(r"-(5|6|7|8)(\.|$)", "".join(at[2:3])):
                continue
            (after,) = read(_changed(content(name), at))
            assert after.history.data != before.history.data, at


def _changed(text: bytes, at: tuple[str, ...]) -> bytes:
    """The message with another value at a place, that is counted here by hand."""
    name, _, number = at[1].strip(", ").partition("[")
    lines = text.split(b"\r")
    line = [n for n, one in enumerate(lines) if one.startswith(name.encode())][int(number.rstrip("]") or 1) - 1]
    fields = lines[line].split(b"|")
    parts = fields[int(at[2][1:])].split(b"^")
    part = int(at[3][1:]) - 1 if len(at) > 3 else 0
    parts[part] = parts[part][:-1] + (b"1" if parts[part][-1:] != b"1" else b"2")
    fields[int(at[2][1:])] = b"^".join(parts)
    lines[line] = b"|".join(fields)
    return b"\r".join(lines)


BAD = {
    "cut off in MSH": (b"MSH|^", "delimiters"),
    "one delimiter twice": (msh().replace("|^~\\&|", "|&|", 1).encode() + pid("A").encode(), "five delimiters"),
    "no ORU": (msh(kind="ADT^A08").encode() + pid("A").encode(), "ORU^R01"),
    "training": (msh(mode="T").encode() + pid("A").encode() + OBR.encode(), "processing P"),
    "not UTF-8": (msh().encode() + pid("A").replace("Ana", "Ané").encode("latin-1"), "MSH-18"),
    "a strange character set": (msh(rest="||||||KLINGON").encode() + pid("A").encode(), "MSH-18"),
    "a batch of nothing": (b"FHS|^~\\&|A\rBHS|^~\\&|A\rBTS|0\rFTS|1\r", "a message"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_sentence_and_exit_2(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    text, words = BAD[name]
    path = tmp_path / "bad.hl7"
    path.write_bytes(text)
    with caplog.at_level(logging.DEBUG):
        assert run(["check", str(path)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and words in said and "Testcase" not in said
    assert caplog.text == ""


@pytest.mark.parametrize(
    ("said", "sign"), [("about \\Zq\\ 3", "\\"), ("about ?x? 3", "?"), ("3 \\ 4", "\\"), ("about \\\\ 3", "\\")]
)
def test_an_escape_that_nobody_knows_stands_and_is_not_logged(
    said: str, sign: str, caplog: pytest.LogCaptureFixture
) -> None:
    text = msh().replace("\\", sign, 1) + pid("A") + OBR + obx(1, "ST", LENGTH, said, "")
    (one,) = read(text.encode())
    assert wounds(one) == [{"length": said}]
    assert caplog.text == ""


def test_a_message_cut_off_behind_a_segment_is_read_as_far_as_it_goes() -> None:
    text = content("one wound, no sub-id")
    one = parse(text[: text.index(b"OBX|2") + 9], "cut.hl7")
    assert wounds(one) == [{"length": "4.20 cm"}]


def test_frames_and_line_ends_of_any_kind() -> None:
    text = content("one wound, no sub-id")
    for form in (
        b"\x0b" + text + b"\x1c\r",
        text.replace(b"\r", b"\n"),
        text.replace(b"\r", b"\r\n"),
        b"\xef\xbb\xbf" + text,
    ):
        assert wounds(parse(form, "a.hl7")) == wounds(parse(text, "a.hl7"))


def test_one_number_and_another_birth_date_is_refused() -> None:
    text = msh("1") + pid("A", "19480312") + OBR + msh("2") + pid("A", "19700101") + OBR
    with pytest.raises(InputError, match="cannot be told apart"):
        read(text.encode())
