"""Burnt surface: the age table, the rule of nines, the palm. Parts that are only reddened are not counted."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from woundfhir.record.units import MeasureError, not_below_zero

_ONE = Decimal(1)


def _table(**parts: str) -> Mapping[str, Decimal]:
    return MappingProxyType({name.replace("_", " "): Decimal(share) for name, share in parts.items()})


#: Lund CC, Browder NC 1944: (half of the head, half of one thigh, half of one lower leg) in per cent of the surface,
#: front or back, at the ages in years at the head of the chart's columns. The figures were seen on a teaching page.
#: That page names the columns by ranges that END at these ages, many printed charts by ranges that BEGIN there: the
#: choice of column for an age in between follows the chart in use, and no function here makes it.
AGE_TABLE: Mapping[str, tuple[Decimal, Decimal, Decimal]] = MappingProxyType(
    {
        "0": (Decimal("9.5"), Decimal("2.75"), Decimal("2.5")),
        "1": (Decimal("8.5"), Decimal("3.25"), Decimal("2.5")),
        "5": (Decimal("6.5"), Decimal("4.0"), Decimal("2.75")),
        "10": (Decimal("5.5"), Decimal("4.25"), Decimal("3.0")),
        "15": (Decimal("4.5"), Decimal("4.5"), Decimal("3.25")),
        "adult": (Decimal("3.5"), Decimal("4.75"), Decimal("3.5")),
    }
)
#: Share of the parts that do not change with age, both sides, front and back. From memory; they sum to 60.
FIXED = _table(neck="2", trunk="26", buttocks="5", genitalia="1", upper_arms="8", forearms="6", hands="5", feet="7")
#: Wallace 1951, adults: share of one of each. There are two arms and two legs.
NINES = _table(head_and_neck="9", arm="9", front_of_trunk="18", back_of_trunk="18", leg="18", perineum="1")
_PAIRED = frozenset(("arm", "leg"))


def age_table(age: str) -> dict[str, Decimal]:
    """Return the share of each part of the whole body at an age, in per cent.

    Parameters
    ----------
    age
        A column of the chart: ``0``, ``1``, ``5``, ``10``, ``15`` (years) or ``adult``.

    Returns
    -------
    dict
        Part (both sides, front and back) -> per cent; the sum is 100.

    Raises
    ------
    MeasureError
        For an unknown column.

    Examples
    --------
    >>> sum(age_table("adult").values())
    Decimal('100.00')
    >>> age_table("1")["head"], age_table("adult")["head"]
    (Decimal('17.0'), Decimal('7.0'))
    """
    if age not in AGE_TABLE:
        raise MeasureError("a column of the age table: " + ", ".join(AGE_TABLE))
    head, thigh, leg = AGE_TABLE[age]
    return {"head": 2 * head, "thighs": 4 * thigh, "lower legs": 4 * leg, **FIXED}


def age_table_surface(age: str, parts: Mapping[str, Decimal]) -> Decimal:
    """Return the burnt surface by the age table (Lund and Browder 1944), in per cent of the body.

    Parameters
    ----------
    age
        A column of the chart, see ``age_table``.
    parts
        Part -> how much of it is burnt, 0 to 1 (one of two whole thighs is 0.5).

    Raises
    ------
    MeasureError
        For an unknown column or part, or a share outside 0 to 1.

    Examples
    --------
    >>> age_table_surface("adult", {"thighs": Decimal("0.25"), "hands": Decimal(1)})
    Decimal('9.7500')
    """
    table = age_table(age)
    return sum((_share(part, share, table, _ONE) * table[part] for part, share in parts.items()), Decimal(0))


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
        most = Decimal(2) if part in _PAIRED else _ONE
        total += _share(part, count, NINES, most) * NINES[part]
    return total


def palms_surface(palms: Decimal, per_palm: Decimal = _ONE) -> Decimal:
    """Return the burnt surface by the patient's own palms, in per cent.

    Parameters
    ----------
    palms
        How many palms (with fingers) cover it, zero or above.
    per_palm
        Per cent of one palm: 1 by the rule. In adults 0.78 was measured, so that the rule overstates
        by a tenth to a fifth (synapse.koreamed.org/articles/1154234, seen).

    Raises
    ------
    MeasureError
        When it is below zero or above 100 per cent.

    Examples
    --------
    >>> palms_surface(Decimal(3)), palms_surface(Decimal(3), Decimal("0.78"))
    (Decimal('3'), Decimal('2.34'))
    """
    surface = not_below_zero(palms, "palms") * not_below_zero(per_palm, "a share of one palm")
    if surface > 100:
        raise MeasureError("a surface of at most 100 per cent")
    return surface


def _share(part: str, share: Decimal, table: Mapping[str, Decimal], most: Decimal) -> Decimal:
    """Check a part and how much of it is burnt."""
    if part not in table:
        raise MeasureError("parts of the table: " + ", ".join(table))
    if not share.is_finite() or not 0 <= share <= most:
        raise MeasureError(f"a share of 0 to {most} of each part")
    return share
