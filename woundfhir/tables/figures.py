"""Numbers as people write them in tables: decimal commas, comparators, estimates and ranges."""

from __future__ import annotations

import re
from typing import NamedTuple

from woundfhir.catalogue import catalogue
from woundfhir.tables.sheet import Number

_FIGURE = r"(?:\d{1,3}(?:[\u00a0\u202f ]\d{3})+|\d+)?(?:[.,]\d+)*"
_PLAIN = re.compile(rf"(<=|>=|<|>|≤|≥)?\s*(-?(?=[\d.,]){_FIGURE})\s*(\D.*)?", re.DOTALL)
#: An estimate, and a range (common practice, no source).
_ABOUT = re.compile(
    r"(?:~|≈|±|\+/-|c(?:irc)?a\.?|env(?:\.|iron)?|approx(?:\.|imately)?|about)\s*[\d.,]+\s*(\D.*)?", re.I
)
_RANGE = re.compile(r"[\d.,]+\s*(?:[^\d.,\s]+)?\s*(?:-|–|à|to)\s*[\d.,]+\s*(\D.*)?", re.I)
_SIGNS = {"≤": "<=", "≥": ">="}
_THOUSANDS = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?")


class Figure(NamedTuple):
    """A number of a cell.

    Attributes
    ----------
    text
        As the record writes it, with the unit if there is one; of an estimate, as it is written.
    estimate
        Whether it is an estimate or a range, kept in its own words.
    unit
        The unit, as written.
    """

    text: str
    estimate: bool
    unit: str | None


def read_figure(text: str, decimal: str | None, unit: str | None) -> Figure | None:
    """Return the number in a cell, None for what is none or could be two.

    Parameters
    ----------
    text
        The cell.
    decimal
        ``comma``, ``point``, or None where the mapping does not say.
    unit
        The unit of a bare number.

    Examples
    --------
    >>> read_figure("4,2", None, "cm").text, read_figure("< 0,50cm", "comma", None).text, read_figure("~4", None, "cm")
    ('4.2 cm', '<0.50 cm', Figure(text='~4 cm', estimate=True, unit='cm'))
    >>> read_figure("1,250", None, "mL"), read_figure("1,250", "point", "mL").text, read_figure("four", None, "cm")
    (None, '1250 mL', None)
    """
    for pattern in (_ABOUT, _RANGE):
        if (found := pattern.fullmatch(text)) is not None:
            own = _known(found[1])
            if found[1] and own is None:
                return None
            return Figure(text if own or not unit else f"{text} {unit}", True, own or unit)
    found = _PLAIN.fullmatch(text)
    if found is None:
        return None
    number = found[2] if isinstance(text, Number) else _number(found[2], decimal)
    own = _known(found[3])
    if number is None or (found[3] and own is None):
        return None
    sign, unit = found[1] or "", own or unit
    return Figure(f"{_SIGNS.get(sign, sign)}{number}" + (f" {unit}" if unit else ""), False, unit)


def _known(unit: str | None) -> str | None:
    """Return a unit as it is written where the catalogue knows it."""
    bare = " ".join(unit.split()).rstrip(".") if unit else ""
    units = catalogue().units
    return bare if bare in units else bare.lower() if bare.lower() in units and len(bare) > 1 else None


def _number(text: str, decimal: str | None) -> str | None:
    """Return a number with a decimal point, None where its comma or point could mean two things."""
    bare = re.sub(r"[\u00a0\u202f ]", "", text)
    minus, bare = ("-", bare[1:]) if bare.startswith("-") else ("", bare)
    commas, points = bare.count(","), bare.count(".")
    if decimal == "point" and commas:
        bare = bare.replace(",", "") if _THOUSANDS.fullmatch(bare) else ""
    elif commas + points > 1:
        bare = ""
    elif commas or points:
        mark = "," if commas else "."
        fraction = bare.partition(mark)[2]
        expected = decimal is None if commas else decimal == "comma"  # whether the mark is not the one that was named
        bare = "" if not fraction or (expected and len(fraction) == 3) else bare.replace(",", ".")
    if not bare or points > 1:
        return None
    whole, point, fraction = bare.partition(".")
    if point and not fraction:
        return None
    whole = whole.lstrip("0") or "0"
    number = f"{whole}{point}{fraction}"
    return number if set(number) <= {"0", "."} else f"{minus}{number}"
