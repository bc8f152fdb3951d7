"""Quantities as written: "4.10 cm" is a comparator, a number kept to the last digit, and a unit."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import NamedTuple

from woundfhir.errors import InputError
from woundfhir.limits import TOO_LONG, fits

# A JSON number that FHIR can carry: 18 digits at most (R4, datatypes, decimal), and no "-0".
_NUMBER = r"(?=[-\d.]{1,19}(?![\d.]))(-?[1-9][0-9]*(?:\.[0-9]+)?|-?0\.[0-9]+|0)"
_TEXT = re.compile(rf"(<=|>=|<|>)?{_NUMBER}(?: (\S(?:.*\S)?))?")
#: A comma between digits; and one that may part thousands, as in "1,250 mL": which it is, only who wrote it knows.
_COMMA, _THOUSANDS = re.compile(r"(?<=\d),(?=\d)"), re.compile(r"[1-9]\d{0,2},\d{3}(?!\d)")
_LOOSE = re.compile(rf"(<=|>=|<|>)?\s*{_NUMBER}(?![eE][-+]?\d)\s*([^\W\d].*|[%°\[{{].*)?", re.DOTALL)


class Quantity(NamedTuple):
    """A quantity as written; ``unit`` is None for a bare number."""

    comparator: str | None
    number: str
    unit: str | None

    @property
    def value(self) -> Decimal:
        """The number, exact."""
        return Decimal(self.number)

    @property
    def exact(self) -> int | Decimal:
        """The number as JSON has it: whole where no decimal point is written."""
        return Decimal(self.number) if "." in self.number else int(self.number)


def plain(value: int | float | Decimal) -> str:
    """Return a number as the record writes it: no exponent, no digit more or less than it has.

    Raises
    ------
    InputError
        For a number with more digits than are read (``limits.NUMBER_DIGITS``), and for one that is not finite.

    Examples
    --------
    >>> plain(Decimal("4.10")), plain(Decimal("1E+2")), plain(4.2), plain(3)
    ('4.10', '100', '4.2', '3')
    """
    if not fits(value):
        raise InputError("a number", *TOO_LONG)
    if isinstance(value, int):
        return str(value)
    return format(value if isinstance(value, Decimal) else Decimal(repr(float(value))), "f")


def parse(text: object) -> Quantity | None:
    """Read a quantity in its canonical form.

    Parameters
    ----------
    text
        ``[comparator]number[ unit]``; comparators < <= > >=; a JSON number; one space before the unit.

    Returns
    -------
    Quantity or None
        None when the text is anything else: other words are kept by the caller, never guessed at.

    Examples
    --------
    >>> parse("4.10 cm")
    Quantity(comparator=None, number='4.10', unit='cm')
    >>> parse("<0.3 cm2").comparator, parse("about 4 cm"), parse("4,1 cm")
    ('<', None, None)
    """
    if not isinstance(text, str):
        return None
    found = _TEXT.fullmatch(text)
    return Quantity(found[1], found[2], found[3]) if found else None


def tidy(text: str) -> str:
    """Put the spaces of a quantity right ("4.10cm" becomes "4.10 cm"); all other text comes back as it was.

    Examples
    --------
    >>> tidy("4.10cm"), tidy("< 0.3  cm2"), tidy("4,10 cm"), tidy("1e3 cm")
    ('4.10 cm', '<0.3 cm2', '4,10 cm', '1e3 cm')
    """
    found = _LOOSE.fullmatch(text)
    if not found:
        return text
    comparator, number, unit = found[1] or "", found[2], found[3]
    return f"{comparator}{number} {' '.join(unit.split())}" if unit else f"{comparator}{number}"


def with_point(text: str) -> str:
    """Put a decimal point for a decimal comma, and the spaces right; whatever is no quantity comes back as it was.

    Examples
    --------
    >>> with_point("4,2 cm"), with_point("< 0,30cm2"), with_point("4,2 x 3,1 cm"), with_point("1,250 mL")
    ('4.2 cm', '<0.30 cm2', '4,2 x 3,1 cm', '1.250 mL')
    """
    made, commas = _COMMA.subn(".", text)
    made = tidy(made)
    return text if commas > 1 or parse(made) is None else made


def may_be_thousands(text: str) -> bool:
    """Whether a comma in a number may part thousands.

    Examples
    --------
    >>> may_be_thousands("1,250 mL"), may_be_thousands("0,250 mL"), may_be_thousands("4,2 cm")
    (True, False, False)
    """
    return _THOUSANDS.search(text) is not None
