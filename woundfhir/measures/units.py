"""Units of length, area, volume and pressure: converted exactly, checked, never assumed."""

from __future__ import annotations

from decimal import Decimal

from woundfhir.errors import WoundfhirError


class MeasureError(WoundfhirError):
    """Arithmetic that has no answer: a size of zero or below, units that do not fit. Carries no value."""


#: UCUM code -> (what it measures, how many of the base unit). An inch is 2.54 cm by definition (1959).
_UNITS: dict[str, tuple[str, Decimal]] = {
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
}


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
        Exact.

    Raises
    ------
    MeasureError
        When there is no unit, or the two measure different things.

    Examples
    --------
    >>> to_unit(Decimal("41.0"), "mm", "cm")
    Decimal('4.10')
    """
    if unit is None or unit not in _UNITS or wanted not in _UNITS or _UNITS[unit][0] != _UNITS[wanted][0]:
        raise MeasureError("a unit that can be turned into " + wanted)
    if unit == wanted:
        return value
    return value * _UNITS[unit][1] / _UNITS[wanted][1]


def positive(value: Decimal, what: str) -> Decimal:
    """Return a value that must be above zero.

    Raises
    ------
    MeasureError
        When it is not.
    """
    if not value.is_finite() or value <= 0:
        raise MeasureError(f"{what} above zero")
    return value
