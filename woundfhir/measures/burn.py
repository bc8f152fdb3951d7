"""Burnt surface: the age table, the rule of nines, the palm."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from woundfhir.measures.units import MeasureError

#: Lund and Browder 1944: half of the head, one thigh, one lower leg, front or back, in per cent of the surface.
#: The table of ages was seen on a teaching page; the fixed parts are from memory (they sum to 60).
AGE_TABLE: Mapping[str, tuple[Decimal, Decimal, Decimal]] = {
    "birth": (Decimal("9.5"), Decimal("2.75"), Decimal("2.5")),
    "0-1": (Decimal("8.5"), Decimal("3.25"), Decimal("2.5")),
    "1-4": (Decimal("6.5"), Decimal("4.0"), Decimal("2.75")),
    "5-9": (Decimal("5.5"), Decimal("4.25"), Decimal("3.0")),
    "10-15": (Decimal("4.5"), Decimal("4.5"), Decimal("3.25")),
    "adult": (Decimal("3.5"), Decimal("4.75"), Decimal("3.5")),
}
#: Whole-body share of the parts that do not change with age.
FIXED: Mapping[str, Decimal] = {
    "neck": Decimal(2), "trunk": Decimal(26), "buttocks": Decimal(5), "genitalia": Decimal(1), "upper arms": Decimal(8),
    "forearms": Decimal(6), "hands": Decimal(5), "feet": Decimal(7),
}
NINES: Mapping[str, Decimal] = {
    "head and neck": Decimal(9), "arm": Decimal(9), "front of trunk": Decimal(18), "back of trunk": Decimal(18), "leg": Decimal(18),
    "perineum": Decimal(1),
}


def age_table(age: str) -> dict[str, Decimal]:
    """Return the share of each part of the whole body at an age, in per cent.

    Parameters
    ----------
    age
        One of ``birth``, ``0-1``, ``1-4``, ``5-9``, ``10-15``, ``adult``.

    Returns
    -------
    dict
        Part -> per cent; the sum is 100.

    Raises
    ------
    MeasureError
        For an unknown age.

    Examples
    --------
    >>> sum(age_table("adult").values())
    Decimal('100.00')
    """
    if age not in AGE_TABLE:
        raise MeasureError("an age of the table: " + ", ".join(AGE_TABLE))
    head, thigh, leg = AGE_TABLE[age]
    return {"head": 2 * head, "thighs": 4 * thigh, "lower legs": 4 * leg, **FIXED}


def rule_of_nines(parts: Mapping[str, Decimal]) -> Decimal:
    """Return the burnt surface of an adult by the rule of nines (Wallace 1951), in per cent.

    Parameters
    ----------
    parts
        Part -> how many of it are burnt (2 arms, half a leg 0.5). See ``NINES``.

    Raises
    ------
    MeasureError
        For an unknown part, or more than there are.

    Examples
    --------
    >>> rule_of_nines({"arm": Decimal(1), "front of trunk": Decimal("0.5")})
    Decimal('18.0')
    """
    total = Decimal(0)
    for part, count in parts.items():
        if part not in NINES or not 0 <= count <= (2 if part in ("arm", "leg") else 1):
            raise MeasureError("parts of the rule of nines: " + ", ".join(NINES))
        total += NINES[part] * count
    return total


def palms_surface(palms: Decimal, per_palm: Decimal = Decimal(1)) -> Decimal:
    """Return the burnt surface by the patient's own palms, in per cent.

    Parameters
    ----------
    palms
        How many palms (with fingers) cover it, zero or above.
    per_palm
        Per cent of one palm: 1 by the rule; adults measured 0.78 (the rule overstates by a tenth to a fifth).

    Raises
    ------
    MeasureError
        When it is below zero or above 100 per cent.

    Examples
    --------
    >>> palms_surface(Decimal(3)), palms_surface(Decimal(3), Decimal("0.78"))
    (Decimal('3'), Decimal('2.34'))
    """
    surface = palms * per_palm
    if not 0 <= surface <= 100:
        raise MeasureError("a surface of 0 to 100 per cent")
    return surface
