"""Scales: PUSH 3.0, Braden, two items of the Bates-Jensen tool. The texts of the instruments are not reproduced."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from woundfhir.record.units import MeasureError, not_below_zero, positive

#: PUSH 3.0 (NPUAP 1998): upper bound of each area bin in cm2 -> sub-score. From memory, held against a table seen.
_PUSH_AREA = tuple(
    (Decimal(bound), score)
    for score, bound in enumerate(("0.6", "1.0", "2.0", "3.0", "4.0", "8.0", "12.0", "24.0"), start=2)
)
#: Bates-Jensen Wound Assessment Tool, item 1: lower bound of each size bin in cm2.
_BWAT_SIZE = (Decimal(4), Decimal(16), Decimal(36), Decimal(80))
#: Braden and Bergstrom 1988: upper bound of each band of the total.
_BRADEN_BANDS = ((9, "severe"), (12, "high"), (14, "moderate"), (18, "mild"))


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
    if area >= 25:
        return 10
    rounded = area.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
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


def braden_total(scores: Sequence[int]) -> int:
    """Return the Braden total of its six sub-scores.

    Braden and Bergstrom 1988 (copyright): five sub-scores of 1 to 4, the last (friction and shear) of 1 to 3.

    Parameters
    ----------
    scores
        The six sub-scores, friction and shear last.

    Returns
    -------
    int
        6 to 23; lower is more risk.

    Raises
    ------
    MeasureError
        When there are not six, or one is out of range.

    Examples
    --------
    >>> braden_total([2, 3, 2, 2, 3, 2])
    14
    """
    if len(scores) != 6 or any(not 1 <= s <= 4 for s in scores[:5]) or not 1 <= scores[5] <= 3:
        raise MeasureError("five sub-scores of 1 to 4 and one of 1 to 3")
    return sum(scores)


def braden_band(total: int) -> str:
    """Return the band of risk of a Braden total.

    Braden and Bergstrom 1988: 9 or less severe, 10 to 12 high, 13 to 14 moderate, 15 to 18 mild.

    Parameters
    ----------
    total
        6 to 23.

    Returns
    -------
    str
        ``severe``, ``high``, ``moderate``, ``mild``, or ``none`` above 18 (no band).

    Raises
    ------
    MeasureError
        When the total is out of range.

    Examples
    --------
    >>> [braden_band(total) for total in (6, 9, 10, 13, 15, 19)]
    ['severe', 'severe', 'high', 'moderate', 'mild', 'none']
    """
    if not 6 <= total <= 23:
        raise MeasureError("a total of 6 to 23")
    return next((band for bound, band in _BRADEN_BANDS if total <= bound), "none")


def bwat_size_score(area: Decimal) -> int:
    """Return the size item of the Bates-Jensen Wound Assessment Tool (length times width).

    The printed bins are below 4, 4 to below 16, 16.1 to below 36, 36.1 to below 80, above 80 cm2. Sizes in the
    gaps (16.05, exactly 80) are put into the larger bin: our choice, since the text does not place them.

    Parameters
    ----------
    area
        In cm2, above zero.

    Returns
    -------
    int
        1 to 5.

    Raises
    ------
    MeasureError
        When the area is zero or below.

    Examples
    --------
    >>> [bwat_size_score(Decimal(area)) for area in ("3.9", "4", "15.9", "16.1", "36.1", "80.1")]
    [1, 2, 2, 3, 4, 5]
    """
    positive(area, "an area")
    return 1 + sum(area >= bound for bound in _BWAT_SIZE)


def bwat_exudate(share: Decimal) -> str:
    """Return the word of the Bates-Jensen exudate item for the share of the dressing that is involved.

    Only the three words that the tool ties to a share; "none" and "scant" are told by looking at the wound.

    Parameters
    ----------
    share
        Per cent of the dressing, above 0, at most 100.

    Returns
    -------
    str
        ``small`` (below 25), ``moderate`` (above 25, below 75) or ``large`` (above 75).

    Raises
    ------
    MeasureError
        When it is out of range, or exactly 25 or 75: the text of the tool does not place these.

    Examples
    --------
    >>> [bwat_exudate(Decimal(share)) for share in (10, 24, 26, 74, 76)]
    ['small', 'small', 'moderate', 'moderate', 'large']
    """
    if not 0 < share <= 100 or share in (25, 75):
        raise MeasureError("a share above 0 and at most 100 per cent that is not exactly 25 or 75")
    return "small" if share < 25 else "moderate" if share < 75 else "large"
