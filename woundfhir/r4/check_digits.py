"""Whether a code can be one of LOINC or SNOMED CT at all: its form and its check digit."""

from __future__ import annotations

import re

_LOINC = re.compile(r"[1-9]\d{0,6}-\d")
#: A SNOMED CT identifier of a concept: partition 00 (core) or 10 (extension) before the check digit.
_SNOMED = re.compile(r"[1-9]\d{2,14}[01]0\d")
#: Tables of Verhoeff's scheme (SNOMED CT Release File Specification, check digit).
_TURN = (1, 5, 7, 6, 2, 8, 3, 0, 9, 4)


def _times(a: int, b: int) -> int:
    """Multiply in the dihedral group of ten elements."""
    if a < 5:
        return (a + b) % 5 + (0 if b < 5 else 5)
    return (a - b) % 5 + (5 if b < 5 else 0)


def is_loinc(code: str) -> bool:
    """Whether a code has LOINC's form and check digit (LOINC Users' Guide: mod 10, Luhn).

    Examples
    --------
    >>> is_loinc("39126-8"), is_loinc("39126-9"), is_loinc("LP1-2")
    (True, False, False)
    """
    if not code.isascii() or not _LOINC.fullmatch(code):
        return False
    digits = [int(one) for one in reversed(code.replace("-", ""))]
    return (sum(digits[::2]) + sum(sum(divmod(2 * one, 10)) for one in digits[1::2])) % 10 == 0


def is_snomed(code: str) -> bool:
    """Whether a code is an identifier of a SNOMED CT concept, with its check digit.

    Examples
    --------
    >>> is_snomed("13954005"), is_snomed("13954006"), is_snomed("13954")
    (True, False, False)
    """
    if not code.isascii() or not _SNOMED.fullmatch(code):
        return False
    sum_ = 0
    for place, digit in enumerate(reversed(code)):
        turned = int(digit)
        for _ in range(place % 8):
            turned = _TURN[turned]
        sum_ = _times(sum_, turned)
    return sum_ == 0
