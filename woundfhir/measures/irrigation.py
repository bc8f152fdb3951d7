"""Irrigation volume, for the one kind of wound for which a figure by length is published."""

from __future__ import annotations

from decimal import Decimal

from woundfhir.record.units import positive

#: mL for each cm of length.
PER_CM = (Decimal(50), Decimal(100))


def laceration_volume(length: Decimal) -> tuple[Decimal, Decimal]:
    """Return the published range of irrigation volume for a traumatic laceration: 50 to 100 mL for each cm.

    A figure of emergency medicine for fresh lacerations only; it is not carried over to chronic wounds (for
    pressure injuries RNAO 2016 gives at least 100 to 150 mL, whatever the size). Seen on a teaching page on
    myths of wound irrigation. Local policy and the order come first.

    Parameters
    ----------
    length
        In cm, above zero.

    Returns
    -------
    tuple
        Least and most, in mL.

    Raises
    ------
    MeasureError
        When the length is zero or below.

    Examples
    --------
    >>> laceration_volume(Decimal(5))
    (Decimal('250'), Decimal('500'))
    """
    positive(length, "length")
    return length * PER_CM[0], length * PER_CM[1]
