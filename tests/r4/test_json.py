"""Exact numbers, and one clear message for whatever is no JSON object."""

from __future__ import annotations

import io
import json
from decimal import Decimal
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir.errors import InputError
from woundfhir.limits import read_whole
from woundfhir.r4 import jsonio, ndjson

SECRET = "Tremblay"  # an invented name that no message may hold


@pytest.mark.parametrize(
    "number", ["4.10", "0.0", "-0.50", "4", "100", "1E+2", "1E-7", "123456789012345678901234567890.10"]
)
def test_a_number_goes_out_as_it_came_in(number: str) -> None:
    """HL7 FHIR R4, json: the precision of a decimal is significant and SHALL be preserved."""
    content = b'{"value":' + number.encode() + b"}"
    assert jsonio.encode(jsonio.decode(content)) == content
    assert jsonio.encode(jsonio.decode_checked(content)) == content


def test_another_way_to_write_a_number_keeps_value_and_precision() -> None:
    found = jsonio.decode(b'{"a":1e2,"b":0.0000001}')
    written = jsonio.encode(found)
    assert written == b'{"a":1E+2,"b":1E-7}'
    assert json.loads(written, parse_float=Decimal) == {"a": Decimal("1e2"), "b": Decimal("0.0000001")}
    assert [found[k].as_tuple() for k in "ab"] == [Decimal("1e2").as_tuple(), Decimal("0.0000001").as_tuple()]


def test_the_readable_form_has_fixed_bytes() -> None:
    value = {"b": [Decimal("4.10"), {}], "a": "é", "c": []}
    assert jsonio.encode_readable(value).decode() == '{\n  "b": [\n    4.10,\n    {}\n  ],\n  "a": "é",\n  "c": []\n}\n'


_REFUSED: list[tuple[str, bytes, str, str]] = [
    ("UTF-16 with a mark", '{"a":"Tremblay"}'.encode("utf-16"), "byte 0", "UTF-16"),
    ("UTF-16 without a mark", '{"a":"Tremblay"}'.encode("utf-16-be"), "byte 0", "UTF-16"),
    ("UTF-32", '{"a":"Tremblay"}'.encode("utf-32"), "byte 0", "UTF-32"),
    ("Latin-1", '{\n"name":"Tremblay, Zoé"}'.encode("latin-1"), "line 2, column 21", "UTF-8"),
    ("empty", b"", "line 1", "empty"),
    ("blank", b" \n ", "line 2", "empty"),
    ("half an object", b'{"name": "Tremblay",\n "wounds": [', "line 2, column 13", "ends in the middle"),
    ("half a string", b'{"name": "Trembl', "line 1, column 17", "ends in the middle"),
    ("a comma too many", b'{"name": "Tremblay",}', "line 1, column 21", "breaks here"),
    ("single quotes", b"{'name': 'Tremblay'}", "line 1, column 2", "breaks here"),
    ("something behind", b'{"a": 1}\n{"b": 2}', "line 2", "breaks here"),
    ("a list", b'["Tremblay"]', "line 1", "one JSON object"),
    ("a text", b'"Tremblay"', "line 1", "one JSON object"),
    ("NaN", b'{"name": "Tremblay", "value": NaN}', "line 1, column 31", "no NaN"),
    ("-Infinity", b'{"value": -Infinity}', "line 1, column 12", "no Infinity"),
    ("a control character", b'{"name": "Trem\x01blay"}', "line 1, column 15", "breaks here"),
    ("half a surrogate pair", b'{"name": "Tremblay \\ud83d"}', "line 1, column 20", "surrogate"),
    ("a number without end", b'{"value": ' + b"9" * 5000 + b"}", "number", "hold"),
    ("an exponent without end", b'{"value": 1E' + b"9" * 30 + b"}", "number", "hold"),
    ("endless lists", b"[" * 100_000, "nesting", "200 levels"),
    ("endless objects", b'{"a":' * 300 + b"1" + b"}" * 300, "nesting", "200 levels"),
    ("a key twice", b'{"a": 1,\n "name": "Tremblay", "name": "Roy"}', "line 2, column 22 (name)", "each key once"),
    ("a key twice, escaped", b'{"x": [{"id": 1}, {"id": 1, "\\u0069d": 2}]}', "(x.id)", "each key once"),
    ("a key twice, no plain word", b'{"Tremblay, Zoe": 1, "Tremblay, Zoe": 2}', "(?)", "each key once"),
]


@pytest.mark.parametrize(
    ("content", "where", "says"), [case[1:] for case in _REFUSED], ids=[case[0] for case in _REFUSED]
)
def test_what_is_no_json_object_is_refused_with_its_place_and_without_its_words(
    content: bytes, where: str, says: str
) -> None:
    with pytest.raises(InputError) as caught:
        jsonio.decode_checked(content)
    message = str(caught.value)
    assert where in caught.value.where
    assert says in caught.value.expected
    assert caught.value.fix
    assert SECRET not in message and "Trem" not in message
    assert caught.value.__cause__ is None and (caught.value.__context__ is None or caught.value.__suppress_context__)


def test_depth_at_the_limit_is_read() -> None:
    content = b'{"a":' * 200 + b"1" + b"}" * 200
    assert jsonio.encode(jsonio.decode_checked(content)) == content


def test_a_mark_for_utf_8_is_let_pass() -> None:
    """RFC 8259, section 8.1: a parser MAY ignore a byte order mark."""
    assert jsonio.decode_checked(b'\xef\xbb\xbf{"a":1}') == {"a": 1}


class _Endless(io.RawIOBase):
    """A stream that never ends, and counts what is taken from it."""

    taken = 0

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        assert size > 0
        self.taken += size
        return b" " * size


def test_an_oversize_input_is_refused_before_it_is_read_whole() -> None:
    stream = _Endless()
    with pytest.raises(InputError, match="at most 3 MB"):
        jsonio.read(stream, limit=3 * 1024 * 1024)  # type: ignore[arg-type]
    assert stream.taken == 3 * 1024 * 1024 + 1
    with pytest.raises(InputError, match="at most 5 bytes"):
        jsonio.decode_checked(b'{"a":1}', limit=5)
    assert read_whole(io.BytesIO(b"12345"), 5) == b"12345"


@pytest.mark.parametrize(
    ("value", "where"),
    [
        ({"a": [{"b": Decimal("NaN")}]}, "a[0].b"),
        ({"a": Decimal("-Infinity")}, "a"),
        ({"a": {"b": "Tremblay \ud800"}}, "a.b"),
        ({"a": {"b \ud800": 1}}, "a key in a"),
    ],
)
def test_what_json_cannot_say_is_not_written(value: Any, where: str) -> None:
    with pytest.raises(InputError) as caught:
        jsonio.encode(value)
    assert caught.value.where == where
    assert SECRET not in str(caught.value)


def test_a_text_may_hold_the_words() -> None:
    assert jsonio.encode({"a": "NaN, Infinity"}) == b'{"a":"NaN, Infinity"}'


_json = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(-(10**30), 10**30), st.text(st.characters(codec="utf-8"), max_size=5)
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=3), inner)
    ),
    max_leaves=12,
)


@given(st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=3), _json, max_size=4))
def test_both_readers_read_what_a_reference_reader_reads(value: dict[str, Any]) -> None:
    """Reference: json of the Python standard library."""
    for content in (json.dumps(value).encode(), json.dumps(value, ensure_ascii=False, indent=1).encode()):
        assert jsonio.decode_checked(content) == jsonio.decode(content) == json.loads(content) == value
        assert json.loads(jsonio.encode(value)) == value


@given(
    st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from(["1", '"x\\"}"', '{"a":1}', '[{"b":{}}]'])), max_size=4)
)
def test_a_key_twice_is_found_wherever_it_stands(pairs: list[tuple[str, str]]) -> None:
    inner = "{" + ", ".join(f'"{key}": {value}' for key, value in pairs) + "}"
    content = f'{{"q": "\\\\", "x": [1, {inner}]}}'.encode()
    if len({key for key, _ in pairs}) == len(pairs):
        assert jsonio.decode_checked(content) == json.loads(content)
    else:
        with pytest.raises(InputError, match="each key once") as caught:
            jsonio.decode_checked(content)
        column = int(caught.value.where.split("column ")[1].split(" ")[0])
        assert content[column - 1 : column + 1] in (b'"a', b'"b', b'"c')


@given(st.binary(max_size=40))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    try:
        found = jsonio.decode_checked(content)
    except InputError:
        return
    assert isinstance(found, dict)


@pytest.mark.parametrize("indent", [0, 2])
@pytest.mark.parametrize(
    "wrong",
    [
        '{"a":"x","b":{"c":1,"c":1}}',
        '{"a":[{"b":1},{"b":1,"b":1}]}',
        f'{{"a":{"1" * 41}}}',
        f'{{"a":0.{"1" * 41}}}',
        '{"a":1E+999999999}',
        f'{{"a":{"[" * 201}{"]" * 201}}}',
    ],
)
def test_what_is_written_as_we_write_it_is_checked_like_any_other(wrong: str, indent: int) -> None:
    """A file of ours is known by writing it again, and then no second pass is made; nothing slips through by that."""
    content = msgspec.json.format(wrong, indent=indent).encode() if indent else wrong.encode()
    with pytest.raises(InputError):
        jsonio.decode_checked(content)


def test_a_word_in_a_text_is_no_number_that_is_missing() -> None:
    assert ndjson.write([{"a": "NaN"}, {"b": "Infinity"}]) == b'{"a":"NaN"}\n{"b":"Infinity"}\n'
    with pytest.raises(InputError):
        ndjson.write([{"a": 1}, {"b": Decimal("NaN")}])
