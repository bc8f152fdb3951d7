"""What reports say around the findings is data: every text is used, every text that is used is there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from tests.paths import ROOT
from woundfhir.report.words import count, say, shortened
from woundfhir.texts import TextError, slots_of, tables

SOURCE = "\n".join(path.read_text("utf-8") for path in (ROOT / "woundfhir" / "report").glob("*.py"))
#: Tables of which code asks for a member by a name that it works out.
TABLES = ("counts", "called", "called_brief", "named")


def texts(table: Any, before: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from texts(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", value


KEYS = dict(texts(tables("woundfhir.report")["report"]))


def test_every_text_is_used() -> None:
    used = set(re.findall(r"""(?:say|count|_found)\(["']([\w.]+)["']""", SOURCE))
    left = {key for key in KEYS if key not in used and key.split(".")[0] not in (*used, *TABLES)}
    assert left == set()
    assert all(f"{table}." in SOURCE for table in TABLES)


def test_every_text_that_is_asked_for_is_there() -> None:
    heads = set(KEYS) | {key.split(".")[0] for key in KEYS}
    assert set(re.findall(r"""(?:say|count|_found)\(["']([\w.]+)["']""", SOURCE)) <= heads


@pytest.mark.parametrize("key", [key for key, text in KEYS.items() if isinstance(text, str)])
def test_a_text_is_not_empty_and_can_be_filled(key: str) -> None:
    assert KEYS[key].strip() and set(slots_of(KEYS[key]).values()) <= {""}


def test_a_text_that_is_not_there_and_a_slot_that_is_not_given_are_named() -> None:
    with pytest.raises(TextError, match="'nothing'"):
        say("nothing")
    with pytest.raises(TextError, match="value"):
        say("found")


@pytest.mark.parametrize(
    ("message", "short"),
    [
        ("Odour: not written", "Odour"),
        ("Supplies used: quantity not written", "Supplies used: quantity"),
        ("Two scores differ.", "Two scores differ"),
        ("The limb is not written.", "The limb"),
    ],
)
def test_a_list_of_what_is_missing_says_so_once(message: str, short: str) -> None:
    assert shortened(message) == short


def test_the_language_says_which_numbers_are_singular() -> None:
    assert [count("findings", number) for number in (0, 1, 2)] == ["0 findings", "1 finding", "2 findings"]
