"""A file is told by its content; a faulty one by how it starts, so that its reader can say what is wrong."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from joserfc import jwe, jws
from joserfc.jwk import OctKey

from tests.paths import hl7_examples
from woundfhir.errors import InputError
from woundfhir.intake.formats import FORMATS, recognised

_KEY = OctKey.import_key("0123456789abcdef0123456789abcdef")
_CASES: list[tuple[str, bytes, str]] = [
    ("a resource", b'{"resourceType": "Patient"}', "fhir-json"),
    ("resourceType last", b'{"id": "a",\n "resourceType": "Patient"}\n', "fhir-json"),
    ("half a resource", b'{"resourceType": "Patient", "na', "fhir-json"),
    ("with a mark", b'\xef\xbb\xbf {"resourceType": "Patient"}', "fhir-json"),
    ("UTF-16", '{"resourceType": "Patient"}'.encode("utf-16"), "fhir-json"),
    ("UTF-16 without a mark", '{"resourceType": "Patient"}'.encode("utf-16-le"), "fhir-json"),
    ("a list of resources", b'[{"resourceType": "Patient"}]', "fhir-json"),
    ("one resource a line", b'{"resourceType":"Patient"}\n{"resourceType":"Observation"}\n', "ndjson"),
    ("one a line, blank lines", b'{"resourceType":"Patient"}\r\n\r\n{"resourceType":"Observation"}', "ndjson"),
    ("a record", b'{"woundfhir": 1}', "record-json"),
    ("a record with resources inside", b'{"patient": {}, "extra": [{"resourceType": "X"}]}', "record-json"),
    ("half a record", b'{"woundfhir": 1, "patient": {"na', "record-json"),
    ("a record in YAML", b"# a visit\nwoundfhir: 1\npatient:\n  born: 1948-03\n", "record"),
    ("YAML, capitals, line ends of Windows", b"---\r\nWoundfhir: 1\r\n", "record"),
    ("a record as CSV", b"woundfhir,patient.born\r\n1,1948-03\r\n", "csv"),
    ("CSV with quotes", b'"wound.id","visit.id"\n', "csv"),
    ("FHIR XML", b'<?xml version="1.0"?>\n<!-- x -->\n<Patient xmlns="http://hl7.org/fhir"/>', "fhir-xml"),
    ("FHIR XML with a prefix", b'<f:Patient xmlns:f="http://hl7.org/fhir"><', "fhir-xml"),
    ("FHIR XML with a DOCTYPE", b'<!DOCTYPE Bundle [<!ENTITY a "b">]><Bundle/>', "fhir-xml"),
    ("a page", b"<html><body>woundfhir: no</body></html>", "unknown"),
    ("signed", jws.serialize_compact({"alg": "HS256"}, b"x", _KEY).encode(), "sealed"),
    ("encrypted", jwe.encrypt_compact({"alg": "dir", "enc": "A128CBC-HS256"}, b"x", _KEY).encode() + b"\n", "sealed"),
    ("encrypted, in JSON", b'{"protected": "e30", "iv": "a", "ciphertext": "b", "tag": "c"}', "sealed"),
    ("a version number", b"1.2.3", "unknown"),
    ("nothing", b"", "unknown"),
    ("blanks", b" \n\t", "unknown"),
    ("a picture", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "unknown"),
    ("words", b"The wound is better, she said.", "unknown"),
]


def sniff(content: bytes) -> str:
    try:
        return recognised(content, "file").name
    except InputError:
        return "unknown"


@pytest.mark.parametrize(("content", "kind"), [case[1:] for case in _CASES], ids=[case[0] for case in _CASES])
def test_a_file_is_recognised_by_its_content(content: bytes, kind: str) -> None:
    assert sniff(content) == kind


def test_hl7s_examples_are_fhir_xml() -> None:
    assert {sniff(file.read_bytes()) for file in hl7_examples()} == {"fhir-xml"}


@given(st.binary(max_size=60))
def test_any_bytes_get_an_answer(content: bytes) -> None:
    assert sniff(content) in {*FORMATS, "unknown"}
