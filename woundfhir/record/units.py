"""Units of length, area, volume, pressure and time: converted exactly, checked, never assumed."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from woundfhir.errors import WoundfhirError
from woundfhir.record.quantity import parse


class MeasureError(WoundfhirError):
    """Arithmetic that has no answer: a size of zero or below, units that do not fit. Carries no value.

    Examples
    --------
    >>> try:
    ...     to_unit(Decimal(1), "cm", "mL")
    ... except MeasureError as error:
    ...     print(error)
    a unit that can be turned into mL
    """


#: UCUM code -> (what it measures, how many of the base unit). An inch is 2.54 cm by definition (1959).
_UNITS: Mapping[str, tuple[str, Decimal]] = MappingProxyType(
    {
        "cm": ("length", Decimal(1)),
        "mm": ("length", Decimal("0.1")),
        "m": ("length", Decimal(100)),
        "[in_i]": ("length", Decimal("2.54")),
        "cm2": ("area", Decimal(1)),
        "mm2": ("area", Decimal("0.01")),
        "cm3": ("volume", Decimal(1)),
        "mL": ("volume", Decimal(1)),
        "L": ("volume", Decimal(1000)),
        "mm[Hg]": ("pressure", Decimal(1)),
        "min": ("time", Decimal(1)),
        "h": ("time", Decimal(60)),
        "d": ("time", Decimal(1440)),
        "wk": ("time", Decimal(10080)),
    }
)
_NONE: Mapping[str, str] = MappingProxyType({})


def to_unit(value: Decimal, unit: str | None, wanted: str) -> Decimal:
    """Convert a value to another unit of the same kind.

    Parameters
    ----------
    value
        The number.
    unit
        Its UCUM code; None (a bare number) is refused, never guessed at.
    wanted
        The UCUM code to convert to.

    Returns
    -------
    Decimal
        Exact towards cm, cm2, cm3, mL, mm[Hg] and min; towards larger units of time and inches to the digits of the
        decimal context.

    Raises
    ------
    MeasureError
        When there is no unit, or the two measure different things.

    Examples
    --------
    >>> to_unit(Decimal("41.0"), "mm", "cm"), to_unit(Decimal("2.0"), "[in_i]", "cm")
    (Decimal('4.10'), Decimal('5.080'))
    """
    if unit == wanted:
        return value
    if unit is None or unit not in _UNITS or wanted not in _UNITS or _UNITS[unit][0] != _UNITS[wanted][0]:
        raise MeasureError("a unit that can be turned into " + wanted)
    return value * _UNITS[unit][1] / _UNITS[wanted][1]


def amount(text: object, wanted: str, spellings: Mapping[str, str] = _NONE) -> Decimal | None:
    """Return a quantity as the record writes it ("4.10 cm"), as a number of the unit wanted.

    Parameters
    ----------
    text
        An answer of the record; anything that is no plain quantity ("<0.3 cm2", words, nothing) gives None.
    wanted
        The UCUM code of the unit to return.
    spellings
        Spelling -> UCUM code for units that are not written in UCUM; without it only UCUM codes are read.

    Raises
    ------
    MeasureError
        When there is no unit, or it measures something else.

    Examples
    --------
    >>> amount("41 mm", "cm"), amount("about 4 cm", "cm"), amount("2 inches", "cm", {"inches": "[in_i]"})
    (Decimal('4.1'), None, Decimal('5.08'))
    """
    found = parse(text)
    if found is None or found.comparator:
        return None
    return to_unit(found.value, spellings.get(found.unit, found.unit) if found.unit else None, wanted)


def temperature_difference(value: Decimal, unit: str, wanted: str) -> Decimal:
    """Convert a DIFFERENCE of two temperatures, such as wound skin against the mirror site: five ninths, no offset.

    Parameters
    ----------
    value
        Any number.
    unit, wanted
        ``Cel`` or ``[degF]``.

    Raises
    ------
    MeasureError
        For another unit.

    Examples
    --------
    >>> round(temperature_difference(Decimal(3), "[degF]", "Cel"), 4)
    Decimal('1.6667')
    """
    if {unit, wanted} - {"Cel", "[degF]"}:
        raise MeasureError("degrees Celsius or Fahrenheit")
    if unit == wanted:
        return value
    return value * 5 / 9 if wanted == "Cel" else value * 9 / 5


def positive(value: Decimal, what: str) -> Decimal:
    """Return a value that must be above zero.

    Raises
    ------
    MeasureError
        When it is not.

    Examples
    --------
    >>> positive(Decimal("0.1"), "depth")
    Decimal('0.1')
    """
    if not value.is_finite() or value <= 0:
        raise MeasureError(f"{what} above zero")
    return value


def not_below_zero(value: Decimal, what: str) -> Decimal:
    """Return a value that must be zero or above.

    Raises
    ------
    MeasureError
        When it is not.

    Examples
    --------
    >>> not_below_zero(Decimal(0), "depth")
    Decimal('0')
    """
    if not value.is_finite() or value < 0:
        raise MeasureError(f"{what} of zero or above")
    return value
