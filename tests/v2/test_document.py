"""MDM^T02: a document of FHIR out and back, and never a document of another client than the message names.

Outside sources: HL7 v2.5.1 as HL7's v2-to-FHIR mappings name its fields (interface notes, section 10); the library
``hl7`` (BSD) parts and unescapes what is written, by itself.
"""

from __future__ import annotations

from base64 import b64encode
from pathlib import Path
from typing import Any

import hl7
import pytest

import woundfhir
from tests.cli.receiving import whole
from woundfhir.cli import run
from woundfhir.errors import InputError
from woundfhir.handover import bundle
from woundfhir.intake import formats
from woundfhir.record import History

Json = Any


def mdm(history: History) -> bytes:
    form = formats.named("hl7-v2-mdm", "bundle")
    return form.write_bundle(bundle(history, "document"), history, lambda held: bundle(held, "document"))


def of(**patient: Json) -> History:
    visit = {"id": "V1", "at": "2026-03-02T10:05:00-05:00", "by": {"name": "A. Nurse | RN"}}
    return History.of({"woundfhir": 1, "patient": patient, "visits": [visit]})


def test_the_message_says_what_the_document_is_and_carries_it() -> None:
    history = of(
        identifiers=[{"system": "urn:oid:1.2.3", "value": "17^A"}, {"system": "https://a.example/ids", "value": "B"}],
        name={"family": "O|Neil", "given": ["Ann", "B"]},
        born="1948-03-12",
        sex="female",
    )
    content = mdm(history)
    read = hl7.parse(content.decode())
    assert [str(one[0]) for one in read] == ["MSH", "EVN", "PID", "PV1", "TXA", "OBX"]
    assert str(read.segment("MSH")[9]) == "MDM^T02^MDM_T02"
    pid, txa, obx = (read.segment(name) for name in ("PID", "TXA", "OBX"))
    assert [str(one) for one in pid[3]] == ["17\\S\\A^^^&1.2.3&ISO", "B^^^&https://a.example/ids&URI"]
    assert (read.unescape(str(pid[5][0][0])), str(pid[7]), str(pid[8])) == ("O|Neil", "19480312", "F")
    assert [str(txa[n]) for n in (2, 3, 6, 17, 19)] == ["TS", "AP", "20260302100500-0500", "DO", "AV"]
    assert read.unescape(str(txa[9])) == "^A. Nurse | RN"
    assert str(obx[3]) == "18761-7^Transfer summary note^LN"
    assert [str(part[0]) for part in obx[5][0][:4]] == ["woundfhir", "Application", "fhir+json", "Base64"]
    assert woundfhir.read(content).history.data == history.data


@pytest.mark.parametrize(
    "patient",
    [
        {"identifiers": [{"value": "7"}], "name": {"text": "Ida Rowan"}},
        {"identifiers": [{"system": "urn:x", "value": "a&b~c"}], "born": "1948-03", "sex": "other"},
        {"name": {"given": ["Ida", "May", "Zoe"], "family": "Rowan"}, "note": "two\nlines"},
        {},
    ],
)
def test_whatever_is_known_of_a_client_comes_back(patient: Json) -> None:
    history = of(**patient)
    assert woundfhir.read(mdm(history)).history.data == history.data


def test_a_document_of_another_client_than_the_message_names_is_refused() -> None:
    here = mdm(of(identifiers=[{"system": "urn:oid:1.2.3", "value": "17"}], born="1948-03-12"))
    for changed in (here.replace(b"17^^^&1.2.3", b"18^^^&1.2.3"), here.replace(b"|19480312|", b"|19500101|")):
        with pytest.raises(InputError, match="may name two clients") as caught:
            woundfhir.read(changed)
        assert "1948" not in str(caught.value) and "1950" not in str(caught.value)


def test_a_patient_alone_in_a_message_of_another_client_is_refused() -> None:
    content = mdm(of(identifiers=[{"system": "urn:oid:1.2.3", "value": "17"}]))
    alone = b'{"resourceType": "Patient", "identifier": [{"system": "urn:oid:1.2.3", "value": "18"}]}'
    head, _, rest = content.partition(b"^Base64^")
    with pytest.raises(InputError, match="may name two clients"):
        woundfhir.read(head + b"^Base64^" + b64encode(alone) + rest[rest.index(b"|") :])


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        (b"|DO||AV\r", b"|DO||CA\r", "TXA-19"),
        (b"|DO||AV\r", b"|DO||OB\r", "TXA-19"),
        (b"|F\r", b"|D\r", "OBX-11"),
        (b"|F\r", b"|W\r", "OBX-11"),
    ],
)
def test_a_document_that_its_message_calls_withdrawn_is_refused(old: bytes, new: bytes, where: str) -> None:
    """Table 0085 as HL7's v2-to-FHIR mapping has it (D, W: entered-in-error); table 0273 from memory."""
    content = mdm(of(identifiers=[{"system": "urn:oid:1.2.3", "value": "17"}]))
    changed = content.replace(old, new)
    assert changed != content
    with pytest.raises(InputError, match=where):
        woundfhir.read(changed)


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        (b"MDM^T02", b"MDM^T08", "MSH-9"),
        (b"|P|2.5.1", b"|T|2.5.1", "MSH-11"),
        (b"\rPV1", b"\rPID|2||9^^^&1.2.3&ISO\rPV1", "PID"),
        (b"^Base64^", b"^Hex^", "OBX-5"),
        (b"^Base64^", b"^Base64^!", "OBX-5"),
        (b"|ED|", b"|TX|", "OBX"),
    ],
)
def test_what_carries_no_new_document_of_one_client_is_refused(old: bytes, new: bytes, where: str) -> None:
    content = mdm(of(identifiers=[{"system": "urn:oid:1.2.3", "value": "17"}]))
    with pytest.raises(InputError) as caught:
        woundfhir.read(content.replace(old, new))
    assert where in str(caught.value)


def test_what_stands_in_it_and_is_no_fhir_is_refused() -> None:
    content = mdm(of(born="1948"))
    head, _, rest = content.partition(b"^Base64^")
    tail = rest[rest.index(b"|") :]
    with pytest.raises(InputError, match="OBX-5"):
        woundfhir.read(head + b"^Base64^" + b64encode(b"a letter in words") + tail)


def test_bundle_writes_one_and_convert_says_who_does(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    note, made = tmp_path / "note.yaml", tmp_path / "out.mdm.hl7"
    woundfhir.write(whole(), note)
    assert run(["bundle", str(note), "-o", str(made)]) == 0
    assert woundfhir.read(made).history.data == whole().data
    assert run(["bundle", str(note), "--to", "hl7-v2-mdm", "--as", "transaction"]) == 2
    assert "expected a document" in capsys.readouterr().err
    assert run(["convert", str(note), "-o", str(tmp_path / "b.mdm.hl7")]) == 2
