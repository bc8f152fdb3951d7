"""YAML that we write is text to every other reader; YAML that means something else than it shows is refused.

Outside checks: PyYAML's own resolver (YAML 1.1) and ruamel.yaml (YAML 1.1 and 1.2), general-purpose readers.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from tests.strategies import records
from woundfhir.errors import InputError
from woundfhir.record import History
from woundfhir.record.files import read_yaml, to_yaml

#: Texts that some reader takes for another thing (YAML 1.1 types; YAML 1.2.2, chapter 10).
_WORDS = """000417 No no y Y N yes on OFF true False ~ null NULL Null 1:30 190:20:30 0x1F 0o17 017 1e3 1E+2 .5 5. +4
-0 4,10 1_000 .inf -.INF .nan 2026-03-02 2026-03-02T10:05:00Z 0b101 = << 12 4.10 nil 1 1.2.3
- ? : # & * ! | > % @ ` [ ]"""
_MORE = ("2026-03-02 10:05:00", " a", "a: b", "a #b", "{a", "'", '"', "a\nb", "\u2028", "\x85", "\ufeff")
_TRAPS = (*_WORDS.split(), *_MORE)


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield f"{path}.{key!r}", key
            yield from leaves(item, f"{path}.{key}")
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from leaves(item, f"{path}[{number}]")
    else:
        yield path, value


def readers(content: bytes) -> Iterator[tuple[str, Any]]:
    yield "PyYAML, YAML 1.1", yaml.load(content, Loader=yaml.FullLoader)
    for version in ("1.1", "1.2"):
        reader = YAML(typ="safe", pure=True)
        reader.version = version
        yield f"ruamel.yaml, YAML {version}", reader.load(io.BytesIO(content))


def hold(history: History) -> None:
    content = to_yaml(history)
    assert History.of(read_yaml(content.decode(), "note")).data == history.data
    for name, found in readers(content):
        assert found.pop("woundfhir") == 1
        assert [p for p, leaf in leaves(found) if not isinstance(leaf, str)] == [], name
        assert found == {key: value for key, value in history.data.items() if key != "woundfhir"}, name


@pytest.mark.parametrize("trap", _TRAPS, ids=ascii)
def test_a_text_stays_a_text_for_other_readers(trap: str) -> None:
    hold(History.of({"woundfhir": 1, "patient": {"identifiers": [{"system": "urn:x", "value": trap}], "note": trap}}))


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(records(), st.sampled_from(_TRAPS))
def test_every_record_is_read_alike_by_other_readers(raw: dict[str, Any], trap: str) -> None:
    raw["patient"]["note"] = trap
    hold(History.of(raw))


@pytest.mark.parametrize(
    ("content", "place"),
    [
        ("a: {length: 4,10 cm}", "line 1, column 15"),
        ("a: {length: 4,10 cm, width: 2 cm}", "line 1, column 15"),
        ("a:\n  - {width: 2 cm, length: 4,1}", "line 2, column 29"),
        ("é: {length: 4,10 cm}", "line 1, column 15"),
    ],
)
def test_a_decimal_comma_in_braces_is_refused_with_its_place(content: str, place: str) -> None:
    with pytest.raises(InputError) as caught:
        read_yaml(content, "note.yaml")
    assert str(caught.value).startswith(f"note.yaml, {place}: in braces a comma ends an answer")
    assert "decimal point" in str(caught.value) and "10 cm" not in str(caught.value)


@pytest.mark.parametrize(
    "content", ["{a: , b: 1}", "{a: '', b: 1}", "{a: 1, b: }", "{a: '4,10 cm'}", "a: 4,10 cm", "{a: [4, 10]}", "{}"]
)
def test_what_is_whole_in_braces_is_read(content: str) -> None:
    read_yaml(content, "note.yaml")
