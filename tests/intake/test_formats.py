"""Every format x every verb: it serves the verb, or says why not; and what is written is read again as it was."""

from __future__ import annotations

from pathlib import Path, PurePath
from typing import Any

import pytest
from hypothesis import assume, given, settings

from tests.strategies import records
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.handover import bundle
from woundfhir.handover.receive import receive
from woundfhir.intake.formats import FORMATS, VERBS, Format, chosen, of_suffix, recognised, serving
from woundfhir.intake.source import parse
from woundfhir.output import render
from woundfhir.r4 import jsonio
from woundfhir.record import History

_PAIRS = [pytest.param(one, verb, id=f"{one.name} x {verb}") for one in FORMATS.values() for verb in VERBS]
_WRITTEN = serving("convert")
_TABLE = b"Chart no;Date;Length\n17;2026-03-02;4,2\n17;2026-03-09;4,0\n"
_CDA = b'<ClinicalDocument xmlns="urn:hl7-org:v3"/>'
_V2 = b"MSH|^~\\&|A|B|||20260302||ORU^R01|1|P|2.5\rPID|1||17^^^H&1.2.3&ISO||Doe^Ann||19480312|F\r"
_CDA_OF = _CDA.replace(
    b"/>",
    b'><recordTarget><patientRole><id root="1.2.3" extension="A"/></patientRole></recordTarget></ClinicalDocument>',
)
_SEALED = b"eyJhbGciOiJIUzI1NiJ9.eA.abc"


@pytest.fixture(scope="module")
def history() -> History:
    return parse(story(), "story").history


def _mdm(one: Format, history: History) -> bytes:
    return one.write_bundle(bundle(history, "document"), history, lambda held: bundle(held, "document"))


def serve(one: Format, verb: str, history: History) -> None:
    """Do what a verb asks of a format, and hold what came of it against the record that went in."""
    if verb == "read" and one.name == "table":  # of others: what comes out of each is held in tests/tables
        with pytest.raises(InputError, match="woundfhir map table"):
            one.read(_TABLE, "file")
    elif verb == "read" and one.name == "cda":  # of others too: tests/cda
        assert one.read(_CDA, "file").history.data["wounds"] == []
    elif verb == "read" and one.name == "hl7-v2":  # of others too: tests/v2
        assert one.read(_V2, "file").history.patient["born"] == "1948-03-12"
    elif verb == "read" and one.name == "hl7-v2-mdm":  # what carries a document: tests/v2/test_document.py
        assert one.read(_mdm(one, history), "file").history.data == history.data
    elif verb == "read":
        assert one.read(one.write(history), "file").history.data == history.data
    elif verb == "receive" and one.name == "table":
        with pytest.raises(InputError, match="woundfhir map table"):
            receive(_TABLE)
    elif verb == "receive" and one.name == "cda":
        assert receive(_CDA_OF).came.patient["identifiers"] == [{"system": "urn:oid:1.2.3", "value": "A"}]
    elif verb == "receive" and one.name == "hl7-v2":
        assert receive(_V2).came.patient["born"] == "1948-03-12"
    elif verb == "receive" and one.name == "hl7-v2-mdm":
        assert receive(_mdm(one, history)).merged.history == history
    elif verb == "receive":
        assert receive(one.write(history)).merged.history == history
    elif verb == "convert":
        content = one.write(history)
        # One record on one line is JSON like any other: what holds many clients is recognised by several.
        other = History.of({"woundfhir": 1, "patient": {"born": "1950"}, "wounds": [{"id": "W1"}]})
        assert recognised(one.write_many([history, other]) if one.joins else content, "file") is one
        assert parse(content, "file").history.data == history.data
    else:
        made = bundle(history, "document")
        content = one.write_bundle(made, history, lambda held: bundle(held, "document"))
        (back,) = one.resources(content, "file", [])
        assert back == made
        assert one.media.startswith("application/fhir+") or one.name == "hl7-v2-mdm"


@pytest.mark.parametrize(("one", "verb"), _PAIRS)
def test_a_format_serves_a_verb_or_says_why_not(one: Format, verb: str, history: History) -> None:
    if verb not in one.why_not:
        try:
            serve(one, verb, history)
        except NotImplementedError as error:
            pytest.fail(f"{one.name} has no part for {verb}: {error}")
        return
    with pytest.raises(InputError) as caught:
        {
            "read": lambda: parse(_SEALED, "file"),
            "convert": lambda: render(history, one.name),
            "bundle": lambda: one.write_bundle({}, history, lambda held: {}),
            "receive": lambda: receive(_SEALED),
        }[verb]()
    assert caught.value.fix == one.why_not[verb], f"{one.name} x {verb}"


@pytest.mark.parametrize("one", FORMATS.values(), ids=list(FORMATS))
def test_a_format_has_every_part(one: Format) -> None:
    assert FORMATS[one.name] is one
    assert one.title and one.suffixes, one.name
    assert all(end.startswith(".") and end == end.lower() for end in one.suffixes), one.name
    assert set(one.why_not) <= set(VERBS), one.name
    assert type(one).recognise is not Format.recognise, f"{one.name} has no part for recognition"


def test_every_suffix_that_is_written_names_its_format() -> None:
    for name in _WRITTEN:
        try:
            found = of_suffix(PurePath(f"a{FORMATS[name].suffixes[0]}"))
        except InputError:  # .json is the plain record's, and may be FHIR's too: a person decides.
            found = None
            assert name == "record-json"
        assert found is None or found.name == name


@pytest.mark.parametrize(
    ("to", "file", "verb", "expected"),
    [
        (None, "a.yaml", "convert", "record"),
        (None, "a.YML", "convert", "record"),
        (None, "a.fhir.json", "convert", "fhir-json"),
        (None, "a.xml", "convert", "fhir-xml"),
        (None, "a.json", "bundle", "fhir-json"),
        ("csv", "a.json", "convert", "csv"),
        (None, "a.txt", "convert", None),
        (None, None, "bundle", None),
    ],
)
def test_the_format_follows_the_option_and_else_the_name(
    to: str | None, file: str | None, verb: str, expected: str | None
) -> None:
    found = chosen(to, None if file is None else PurePath(file), verb)
    assert (found and found.name) == expected


def test_an_ending_of_two_formats_is_asked_about_and_not_guessed() -> None:
    with pytest.raises(InputError, match="fhir-json or record-json"):
        chosen(None, PurePath("a.json"))


@pytest.mark.parametrize("verb", ["convert", "bundle"])
def test_help_lists_exactly_the_formats_of_the_verb(verb: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([verb, "--help"]) == 0
    help_text = "".join(capsys.readouterr().out.split())
    more = ("parquet",) if verb == "convert" else ()  # tables of many clients, which no verb reads
    assert f"--to[{'|'.join((*serving(verb), *more))}]" in help_text
    for name in serving(verb):
        assert f"{name}: {FORMATS[name].title}".replace(" ", "") in help_text


def test_convert_and_bundle_write_what_the_name_of_the_file_says(tmp_path: Path) -> None:
    source = tmp_path / "story.yaml"
    source.write_bytes(story())
    for verb, name, kind in (
        ("convert", "a.csv", "csv"),
        ("convert", "a.fhir.xml", "fhir-xml"),
        ("bundle", "b.xml", "fhir-xml"),
        ("bundle", "b.json", "fhir-json"),
        ("bundle", "b.out", "fhir-json"),
    ):
        assert run([verb, str(source), "-o", str(tmp_path / name)]) == 0
        assert recognised((tmp_path / name).read_bytes(), name).name == kind


def test_convert_without_a_format_asks_for_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = tmp_path / "story.yaml"
    source.write_bytes(story())
    assert run(["convert", str(source)]) == 2
    assert f"--to: expected one of {', '.join(_WRITTEN)}." in capsys.readouterr().err


def test_what_is_sealed_is_not_written_by_convert() -> None:
    with pytest.raises(InputError, match="--encrypt-for"):
        render(History.of({"woundfhir": 1, "patient": {}}), "sealed")


@pytest.mark.parametrize("form", _WRITTEN)
@settings(max_examples=15)
@given(raw=records())
def test_what_is_written_is_read_again_as_it_was(form: str, raw: dict[str, Any]) -> None:
    history = History.of(raw)
    assume(not FORMATS[form].media or to_fhir(history))  # nothing is no FHIR
    content = render(history, form)
    again = parse(content, form).history
    assert again.data == history.data, form
    assert render(again, form) == content, form


_CLIENT, _OTHER = '{"resourceType": "Patient", "id": "p"}', '{"resourceType": "Patient", "id": "q"}'


def test_resources_in_brackets_are_read_as_those_of_a_bundle(history: History) -> None:
    """No form of R4, but what many programs export (common practice, no source)."""
    content = b"[%b]" % b",".join(map(jsonio.encode, to_fhir(history)))
    one = recognised(content, "file")
    assert (one.name, content[:1]) == ("fhir-json", b"[")
    assert one.read(content, "file").history.data == history.data
    assert len(list(one.read_many(f"[{_CLIENT}, {_OTHER}]".encode(), "file"))) == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (f"[{_CLIENT}, 4]", "one JSON object in braces"),
        (f"[[{_CLIENT}]]", "one JSON object in braces"),
        (f"[{_CLIENT},", "it ends in the middle"),
        (f'[{_CLIENT[:-1]}, "id": "q"}}]', "each key once"),
    ],
)
def test_brackets_around_what_is_no_resource_are_refused(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        FORMATS["fhir-json"].read(text.encode(), "file")
