"""Limb pressure indices, with the convention of each named."""

from __future__ import annotations

from decimal import Decimal

from woundfhir.record.units import MeasureError, positive


def ankle_brachial_index(
    dorsalis_pedis: Decimal | None,
    posterior_tibial: Decimal | None,
    brachial_left: Decimal | None,
    brachial_right: Decimal | None,
) -> Decimal:
    """Return the ankle-brachial pressure index of one leg.

    Health Education and Improvement Wales (GPCPD): the higher ankle pressure over the higher arm pressure. Another
    convention uses the mean of the arms, or the lower ankle pressure.

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


def _higher(one: Decimal | None, other: Decimal | None, what: str) -> Decimal:
    found = [positive(pressure, what) for pressure in (one, other) if pressure is not None]
    if not found:
        raise MeasureError(what)
    return max(found)
