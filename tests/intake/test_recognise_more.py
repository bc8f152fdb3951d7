"""How far a first look goes, and where one form ends and another begins.

Sources: HL7 v2.5.1 chapter 2 (the segments MSH, FHS, BHS; the field separator behind them; VT before a message, MLLP);
RFC 7515 and RFC 7516 (what a JOSE header and the JSON serializations hold); R4, XML (namespace of FHIR).
"""

from __future__ import annotations

import base64
import json

import pytest

from tests.intake.test_recognise import sniff
from woundfhir.intake.formats import holds_notes, may_hold_a_record, recognised_by, stem

LONG = b"x" * 3000
#: With a key of 14 bytes behind it, 65,536 bytes: how far we look.
LOOK = b'{"id": "' + b"x" * (65536 - 8 - 2 - 14) + b'",'
RESOURCE, RECORD = b'{"resourceType": "Patient"}', b'{"woundfhir": 1}'


def header(value: object) -> bytes:
    return base64.urlsafe_b64encode(json.dumps(value).encode()).rstrip(b"=")


CASES: dict[str, tuple[bytes, str]] = {
    "FHIR XML behind a long comment": (b"<!-- " + LONG + b' --><Patient xmlns="http://hl7.org/fhir"/>', "fhir-xml"),
    "CDA behind a long comment": (b"<!-- " + LONG + b' --><ClinicalDocument xmlns="urn:hl7-org:v3"/>', "cda"),
    "CDA with a prefix": (b'<c:ClinicalDocument xmlns:c="urn:hl7-org:v3"/>', "cda"),
    "a record behind a long comment": (b"# " + LONG + b"\npatient:\n  born: 1948\n", "record"),
    "a column of ours behind others": (b"a," + LONG + b",wound.id\n1,2,3\n", "csv"),
    "a key that ends where the first look does": (LOOK + b'"resourceType"', "fhir-json"),
    "a key that ends behind the first look": (LOOK + b' "resourceType"', "record-json"),
    "half a resource with a long text first": (b'{"id": "' + LONG + b'", "resourceType": "Patient", ', "fhir-json"),
    "a root that R4 does not have, in the namespace of FHIR": (b"<new xmlns='http://hl7.org/fhir'/>", "fhir-xml"),
    "a root that R4 does not have, and FHIR in its words": (b'<a b="see http://hl7.org/fhir"/>', "unknown"),
    "the namespace of CDA on another root": (b'<section xmlns="urn:hl7-org:v3"/>', "unknown"),
    "markup that is none": (b"< 5 cm, she said", "unknown"),
    "v2": (b"MSH|^~\\&|A", "hl7-v2"),
    "v2 with its frame": (b"\x0bMSH|^~\\&|A", "hl7-v2"),
    "a file of v2": (b"FHS|^~\\&|A", "hl7-v2"),
    "a batch of v2": (b"BHS|^~\\&|A", "hl7-v2"),
    "v2 with another separator": (b"MSH$^~\\&$A", "hl7-v2"),
    "three letters": (b"MSH", "unknown"),
    "a word": (b"MSHA is a body", "unknown"),
    "a word with a number": (b"MSH2", "unknown"),
    "a segment that begins no message": (b"PID|1||17", "unknown"),
    "signed, in JSON": (b'{"payload": "a", "protected": "b", "signature": "c"}', "sealed"),
    "signed by several, in JSON": (b'{"payload": "a", "signatures": []}', "sealed"),
    "encrypted for several, in JSON": (b'{"ciphertext": "a", "recipients": []}', "sealed"),
    "a payload alone": (b'{"payload": "a"}', "record-json"),
    "a signature alone": (b'{"signature": "a", "tag": "b"}', "record-json"),
    "signed, compact": (header({"alg": "ES256"}) + b".eA.c", "sealed"),
    "signed, compact, without its content": (header({"alg": "ES256"}) + b"..c", "sealed"),
    "compact, and no algorithm": (header({"typ": "JWT"}) + b".eA.c", "unknown"),
    "compact, and a header that is no object": (header(["alg"]) + b".eA.c", "unknown"),
    "compact, and no header": (b"abc.eA.c", "unknown"),
    "two parts": (header({"alg": "ES256"}) + b".eA", "unknown"),
    "four parts": (header({"alg": "ES256"}) + b".eA.c.d", "unknown"),
    "records, one a line": (RECORD + b"\n" + RECORD, "record-ndjson"),
    "a resource, then a record": (RESOURCE + b"\n" + RECORD, "record-ndjson"),
    "half a line, then a record": (b'{"woundfhir": }\n' + RECORD, "record-ndjson"),
    "resources that speak of us": (RESOURCE + b'\n{"resourceType": "Basic", "id": "woundfhir"}', "ndjson"),
    "a resource with a key of ours, one a line": (RESOURCE + b'\n{"resourceType": "Basic", "woundfhir": 1}', "ndjson"),
    "one line": (RESOURCE + b"\n", "fhir-json"),
    "a resource, then words": (RESOURCE + b"\nwords", "fhir-json"),
    "a resource, then a mark": (RESOURCE + b"\n~", "fhir-json"),
    "words, then a resource": (b"a}\n" + RESOURCE, "unknown"),
    "a mark, then a resource": (b"~}\n" + RESOURCE, "unknown"),
    "CDA by another name of its first element": (b'<ZDocument xmlns="urn:hl7-org:v3"/>', "unknown"),
    "a first line that does not end": (b'{"resourceType":\n{"a": 1}}', "fhir-json"),
    "a resource with a key of ours": (b'{"resourceType": "Basic", "woundfhir": 1}', "record-json"),
    "half a resource with a key of ours": (b'{"woundfhir": 1, "resourceType": "Basic", ', "record-json"),
    "a list with a key of ours": (b'[{"resourceType": "Basic", "woundfhir": 1}]', "fhir-json"),
    "a list of other things": (b'[{"woundfhir": 1}]', "record-json"),
    "UTF-16, the other way round": (b"\xfe\xff" + RESOURCE.decode().encode("utf-16-be"), "fhir-json"),
    "YAML with a key of ours further in": (b"a:\n  patient: x\n", "unknown"),
    "YAML with a word that begins like a key": (b"patients: 1\n", "unknown"),
    "YAML with a key and nothing": (b"wounds:", "record"),
    "YAML with a key and no blank": (b"wounds:x", "unknown"),
}


@pytest.mark.parametrize("name", CASES)
def test_a_file_is_recognised_by_how_it_begins(name: str) -> None:
    content, kind = CASES[name]
    assert sniff(content) == kind


@pytest.mark.parametrize(
    ("content", "holds"),
    [
        (RECORD, True),
        (b'{"patient": 1', True),
        (b'[{"resourceType": "Patient"}]', True),
        (b'[{"name": "x"}]', False),
        (b'{"name": "x"', False),
        (b'{"payload": "a", "signature": "c"}', True),
        (b"a;b\n1;2\n", False),
        (b"wound.id,visit.id\n1,2\n", True),
        (b"words", False),
    ],
)
def test_a_repository_holds_files_beside_its_notes(content: bytes, holds: bool) -> None:
    assert holds_notes(content) is holds


@pytest.mark.parametrize(
    ("name", "bare"),
    [("a.fhir.json", "a"), ("a.JSON", "a"), ("a.record.ndjson.gz", "a"), (".json", ".json"), ("a.b", "a.b")],
)
def test_the_ending_of_a_format_is_no_part_of_a_name(name: str, bare: str) -> None:
    assert stem(name) == bare
    assert may_hold_a_record(name) is (name != "a.b")


def test_words_are_of_no_format() -> None:
    assert recognised_by(b"words") is None
