"""Canonical JSON: the examples of RFC 8785, its library where it is installed, and digits that stay.

Outside sources: RFC 8785 sections 3.2.2 and 3.2.3 and appendix B (from memory; the library agrees), and the PyPI
package rfc8785.
"""

from __future__ import annotations

import json
import struct
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from woundfhir.errors import InputError
from woundfhir.jose.canonical_json import canonical, es6, exact
from woundfhir.r4 import jsonio

Json = Any


def test_the_example_of_rfc_8785() -> None:
    # Section 3.2.2 and its result in section 3.2.3.
    written = (
        b'{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],'
        b' "string": "\\u20ac$\\u000F\\u000aA\\u0027\\u0042\\u0022\\u005c\\\\\\"\\/", "literals": [null, true, false]}'
    )
    expected = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"\u20ac$\\u000f\\nA\\u0027B\\"\\\\\\\\\\"/"}'
    ).replace("\\u0027", "'")
    assert canonical(jsonio.decode(written)).decode() == expected


def test_members_are_sorted_as_the_example_sorts_them() -> None:
    # Section 3.2.3: by UTF-16 code units, so the emoji comes before U+FB33.
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    for form in (canonical, exact):
        found = list(json.loads(form(dict.fromkeys(keys, 0))))
        assert found == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


#: Appendix B: the bits of a number, and its text.
NUMBERS = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "41b3de4355555556": "333333333.3333334",
    "becbf647612f3696": "-0.0000033333333333333333",
}


@pytest.mark.parametrize("bits", NUMBERS)
def test_the_numbers_of_rfc_8785(bits: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert es6(number) == NUMBERS[bits]


_texts = st.text(max_size=8)
_numbers = st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
_values = st.recursive(
    st.none() | st.booleans() | _numbers | _texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_texts, inner, max_size=3),
    max_leaves=12,
)


@settings(max_examples=300)
@given(_values)
def test_the_library_of_rfc_8785_writes_the_same(value: Json) -> None:
    other = pytest.importorskip("rfc8785", reason="the library rfc8785 is not installed")
    assert canonical(value) == other.dumps(value)


@pytest.mark.parametrize("text", ["4.10", "4.1", "0.30", "100", "1E+2", "12345678901234567890.123456789", "-0.0"])
def test_the_exact_form_keeps_the_digits(text: str) -> None:
    assert exact({"value": Decimal(text)}) == b'{"value":' + text.encode() + b"}"


@given(st.decimals(allow_nan=False, allow_infinity=False, places=3))
def test_the_canonical_form_of_a_decimal_is_that_of_the_nearest_number(value: Decimal) -> None:
    assert float(canonical([value])[1:-1]) == float(value)


def test_a_number_too_large_is_refused() -> None:
    for number in (Decimal("1E+400"), 10**400, float("inf"), float("nan")):
        with pytest.raises(InputError, match="binary floating point"):
            canonical([number])


def test_a_whole_number_past_the_limit_is_written_as_its_nearest() -> None:
    assert canonical([2**53 + 1, 10**21]) == b"[9007199254740992,1e+21]"
    assert exact([2**53 + 1]) == b"[9007199254740993]"
