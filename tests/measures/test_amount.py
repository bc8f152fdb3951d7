"""Quantities as text, read for arithmetic: strict, exact, never guessed."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir.measures import MeasureError, amount
from woundfhir.record.quantity import parse, tidy

#: JSON's number (RFC 8259) without exponent, at most the 18 digits that R4 lets a decimal carry.
NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?")


@given(st.from_regex(NUMBER, fullmatch=True).filter(lambda text: len(text) < 18 and text != "-0"))
def test_every_json_number_with_a_unit_is_read_to_its_last_digit(text: str) -> None:
    found = parse(f"{text} cm")
    assert found is not None and (found.number, found.unit) == (text, "cm")
    value = amount(f"{text} cm", "cm")
    assert value is not None and str(value) == text


@given(st.text(alphabet="0123456789.,-+<>= cmx\u00b2\u0664\n", max_size=12))
def test_what_is_read_has_the_grammar_and_nothing_else_is(text: str) -> None:
    found = parse(text)
    if found is None:
        return
    assert NUMBER.fullmatch(found.number)
    assert text == f"{found.comparator or ''}{found.number}" + (f" {found.unit}" if found.unit else "")


@given(st.text(alphabet="0123456789.,-+<>= cmx\u00b2\n", max_size=12))
def test_tidying_twice_is_tidying_once_and_changes_spaces_only(text: str) -> None:
    once = tidy(text)
    assert tidy(once) == once
    assert re.sub(r"\s", "", once) == re.sub(r"\s", "", text)


@pytest.mark.parametrize("text", ["4,10 cm", "4.10cm", "4.10  cm", "04 cm", ".5 cm", "4. cm", "+4 cm", "4e1 cm", "4 "])
def test_what_is_not_canonical_is_no_number(text: str) -> None:
    """A decimal comma is not guessed at."""
    assert amount(text, "cm") is None


@pytest.mark.parametrize(("text", "kept"), [("4.10cm", "4.10 cm"), ("4.10  cm", "4.10 cm"), ("4,10 cm", "4,10 cm")])
def test_the_lenient_reading_puts_spaces_right_and_leaves_commas(text: str, kept: str) -> None:
    assert tidy(text) == kept


def test_a_bound_is_no_amount_and_a_bare_number_has_no_unit() -> None:
    assert amount("<0.3 cm2", "cm2") is None
    with pytest.raises(MeasureError):
        amount("4.10", "cm")


def test_nothing_but_text_is_read() -> None:
    assert [amount(odd, "cm") for odd in (None, 4, Decimal(4), ["4 cm"], {"absent": "not assessed"})] == [None] * 5
