"""Line by line: nothing is held, the line of a fault is told."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest

from woundfhir.errors import InputError
from woundfhir.r4 import ndjson

_ONE, _TWO = {"resourceType": "Patient", "id": "a"}, {"resourceType": "Observation", "valueDecimal": Decimal("4.10")}


def test_one_resource_a_line_with_a_line_end() -> None:
    """HL7 FHIR R4 and Bulk Data Access 1.0: newline-delimited JSON, each resource on one line."""
    content = ndjson.write([_ONE, _TWO])
    assert content == b'{"resourceType":"Patient","id":"a"}\n{"resourceType":"Observation","valueDecimal":4.10}\n'
    assert list(ndjson.read(content)) == list(ndjson.read(io.BytesIO(content))) == [_ONE, _TWO]


def test_blank_lines_line_ends_and_a_mark_are_let_pass() -> None:
    content = b'\xef\xbb\xbf\r\n{"resourceType":"Patient","id":"a"}\r\n  \n\n'
    content += b'{"resourceType":"Observation","valueDecimal":4.10}'
    assert list(ndjson.read(content)) == [_ONE, _TWO]
    assert [number for number, _ in ndjson.lines(content)] == [2, 5]


def test_resources_come_before_the_rest_is_read() -> None:
    stream = io.BytesIO(ndjson.write([_ONE] * 3))
    found = ndjson.read(stream)
    next(found)
    assert stream.tell() == len(ndjson.write([_ONE]))


@pytest.mark.parametrize(
    ("line", "where", "says"),
    [
        (b'{"resourceType":"Patient", "name": "Tremb', "line 3, column 42", "ends in the middle"),
        (b'{"resourceType":"Patient","id":"a","id":"b"}', "line 3, column 36 (id)", "each key once"),
        (b'{"name":"Tremblay"}', "line 3", "resourceType"),
        (b'["Tremblay"]', "line 3", "one JSON object"),
        (b'{"resourceType":"Patient","name":"Tr\xe9mblay"}', "line 3, column 37", "UTF-8"),
        (b'{"resourceType":"Patient","name":"' + b"x" * 200 + b'"}', "line 3", "at most 100 bytes"),
    ],
)
def test_a_fault_is_reported_with_its_line_after_the_good_ones_were_handed_out(
    line: bytes, where: str, says: str
) -> None:
    found = ndjson.read(ndjson.write([_ONE, _ONE]) + line, limit=100)
    assert [next(found), next(found)] == [_ONE, _ONE]
    with pytest.raises(InputError) as caught:
        next(found)
    assert caught.value.where == where
    assert says in caught.value.expected
    assert "blay" not in str(caught.value)


def test_a_line_at_the_limit_is_read_and_a_longer_one_is_not_read_whole() -> None:
    assert list(ndjson.lines(b"x" * 10 + b"\n", limit=10)) == [(1, b"x" * 10)]
    stream = io.BytesIO(b"x" * 1000)
    with pytest.raises(InputError, match="line 1: expected at most 10 bytes"):
        list(ndjson.lines(stream, limit=10))
    assert stream.tell() == 12


def test_the_fast_way_reads_the_same() -> None:
    assert list(ndjson.read(ndjson.write([_ONE, _TWO]), checked=False)) == [_ONE, _TWO]
