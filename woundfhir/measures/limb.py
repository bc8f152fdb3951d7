"""Limb pressure indices, with the convention of each named."""

from __future__ import annotations

from decimal import Decimal

from woundfhir.record.units import MeasureError, not_below_zero, positive

#: How the index is taken here. Another convention uses the mean of the arms, or the lower ankle pressure.
CONVENTION = "higher of dorsalis pedis and posterior tibial at that ankle, over the higher of the two arms"


def ankle_brachial_index(
    dorsalis_pedis: Decimal | None,
    posterior_tibial: Decimal | None,
    brachial_left: Decimal | None,
    brachial_right: Decimal | None,
) -> Decimal:
    """Return the ankle-brachial pressure index of one leg.

    Health Education and Improvement Wales (GPCPD): the higher ankle pressure over the higher arm pressure.

    Parameters
    ----------
    dorsalis_pedis, posterior_tibial
        Systolic pressures at that ankle in mmHg, at least one of them.
    brachial_left, brachial_right
        Systolic pressures of the arms in mmHg, at least one of them.

    Returns
    -------
    Decimal
        A ratio, not rounded.

    Raises
    ------
    MeasureError
        When an ankle or an arm is missing, or a pressure is zero or below.

    Examples
    --------
    >>> round(ankle_brachial_index(Decimal(125), Decimal(120), Decimal(130), Decimal(128)), 2)
    Decimal('0.96')
    """
    return _higher(dorsalis_pedis, posterior_tibial, "an ankle pressure") / _higher(
        brachial_left, brachial_right, "an arm pressure"
    )


def toe_brachial_index(toe: Decimal, brachial_left: Decimal | None, brachial_right: Decimal | None) -> Decimal:
    """Return the toe-brachial index: toe pressure over the higher arm pressure.

    Parameters
    ----------
    toe
        Systolic pressure of the great toe in mmHg.
    brachial_left, brachial_right
        Systolic pressures of the arms in mmHg, at least one of them.

    Returns
    -------
    Decimal
        A ratio, not rounded.

    Raises
    ------
    MeasureError
        When no arm is given, or a pressure is zero or below.

    Examples
    --------
    >>> toe_brachial_index(Decimal(70), Decimal(140), None)
    Decimal('0.5')
    """
    return positive(toe, "a toe pressure") / _higher(brachial_left, brachial_right, "an arm pressure")


def index_moved(first: Decimal, now: Decimal, least: Decimal = Decimal("0.15")) -> bool:
    """Return whether an ankle-brachial index has changed by more than measuring alone explains.

    Parameters
    ----------
    first, now
        Indices of one leg by one convention, above zero.
    least
        The change that counts; 0.15 in vascular laboratory criteria seen on a teaching page.

    Raises
    ------
    MeasureError
        When an index is zero or below.

    Examples
    --------
    >>> index_moved(Decimal("0.95"), Decimal("0.80")), index_moved(Decimal("0.95"), Decimal("0.81"))
    (True, False)
    """
    return abs(positive(now, "an index") - positive(first, "an index")) >= least


def wifi_ischaemia_grade(
    *, index: Decimal | None = None, ankle: Decimal | None = None, toe: Decimal | None = None
) -> dict[str, int]:
    """Return the ischaemia grade of the WIfI classification for each pressure that was taken, not a total.

    Mills JL et al., J Vasc Surg 2014 (Society for Vascular Surgery). The printed ranges leave gaps (0.795) and
    overlap once (ankle 70): the worse grade is taken. Toe pressure is preferred in diabetes.

    Parameters
    ----------
    index
        Ankle-brachial index: 0.80, 0.60 and 0.40 are the least of grades 0, 1 and 2.
    ankle
        Systolic ankle pressure in mmHg: above 100, above 70, from 50.
    toe
        Toe pressure (or transcutaneous oxygen) in mmHg: from 60, from 40, from 30.

    Returns
    -------
    dict
        ``index``, ``ankle``, ``toe`` -> 0 (none) to 3 (severe), for those given.

    Raises
    ------
    MeasureError
        When nothing is given, or something below zero.

    Examples
    --------
    >>> wifi_ischaemia_grade(index=Decimal("0.79"), ankle=Decimal(70), toe=Decimal(29))
    {'index': 1, 'ankle': 2, 'toe': 3}
    """
    grades: dict[str, int] = {}
    if index is not None:
        at = not_below_zero(index, "an index")
        grades["index"] = sum(at < Decimal(bound) for bound in ("0.80", "0.60", "0.40"))
    if ankle is not None:
        at = not_below_zero(ankle, "an ankle pressure")
        grades["ankle"] = (at <= 100) + (at <= 70) + (at < 50)
    if toe is not None:
        at = not_below_zero(toe, "a toe pressure")
        grades["toe"] = sum(at < bound for bound in (60, 40, 30))
    if not grades:
        raise MeasureError("an index, an ankle pressure or a toe pressure")
    return grades


def _higher(one: Decimal | None, other: Decimal | None, what: str) -> Decimal:
    found = [positive(pressure, what) for pressure in (one, other) if pressure is not None]
    if not found:
        raise MeasureError(what)
    return max(found)
