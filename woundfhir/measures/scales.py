"""Scales: PUSH 3.0 and the range of the Braden scale. The texts of the instruments are not reproduced."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from woundfhir.record.units import MeasureError, not_below_zero

#: PUSH 3.0 (NPUAP 1998): upper bound of each area bin in cm2 -> sub-score. From memory, held against a table seen.
_PUSH_AREA = tuple(
    (Decimal(bound), score)
    for score, bound in enumerate(("0.6", "1.0", "2.0", "3.0", "4.0", "8.0", "12.0", "24.0"), start=2)
)
#: Lowest and highest total of a scale of risk. Braden and Bergstrom 1988: five parts of 1 to 4 and one of 1 to 3.
RISK_TOTALS = {"Braden scale": (6, 23)}


def push_area_score(area: Decimal) -> int:
    """Return the PUSH 3.0 sub-score of an area (length times width).

    PUSH Tool 3.0, National Pressure Injury Advisory Panel 1998 (free to use, copyright NPIAP). The printed bins
    have gaps between their tenths: the area is rounded half up to 0.1 cm2 first, except that "below 0.3" is
    tested as measured.

    Parameters
    ----------
    area
        In cm2, zero or above.

    Returns
    -------
    int
        0 to 10.

    Raises
    ------
    MeasureError
        When the area is below zero.

    Examples
    --------
    >>> [push_area_score(Decimal(a)) for a in ("0", "0.29", "0.3", "8.04", "8.05", "24.1")]
    [0, 1, 2, 7, 8, 10]
    """
    if not_below_zero(area, "an area") == 0:
        return 0
    if area < Decimal("0.3"):
        return 1
    rounded = min(area, Decimal(25)).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
    return next((score for bound, score in _PUSH_AREA if rounded <= bound), 10)


def push_total(area: Decimal, exudate: int, tissue: int) -> int:
    """Return the PUSH 3.0 total.

    Parameters
    ----------
    area
        Length times width in cm2, zero or above.
    exudate
        Sub-score 0 (none) to 3 (heavy), as the nurse gives it: the words of other scales are not the same.
    tissue
        Sub-score 0 (closed) to 4 (any necrosis).

    Returns
    -------
    int
        0 (closed) to 17.

    Raises
    ------
    MeasureError
        When a sub-score is out of range.

    Examples
    --------
    >>> push_total(Decimal("11.47"), 1, 3)
    12
    """
    if not 0 <= exudate <= 3 or not 0 <= tissue <= 4:
        raise MeasureError("an exudate score of 0 to 3 and a tissue score of 0 to 4")
    return push_area_score(area) + exudate + tissue
