"""Counts of infection signs by the two published sets. A count asks for a look; it is no diagnosis."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

#: The signs of each set as tags of the answer list; the letters are those of the published memory aids.
LOCAL = frozenset(f"local:{letter}" for letter in ("N", "E", "R", "D", "S"))
DEEP = frozenset(f"deep:{letter}" for letter in ("Si", "T", "O", "N", "Er", "E", "S"))


@dataclass(frozen=True, slots=True)
class SignCount:
    """How many different signs of each set are there.

    Attributes
    ----------
    local
        0 to 5. From three on the study took it for bacteria at the surface (sensitivity 73 %, specificity 81 %).
    deep
        0 to 7. From three on the study took it for deep infection (sensitivity 90 %, specificity 69 %).

    Examples
    --------
    >>> count_signs(["local:N", "local:E", "deep:E"])
    SignCount(local=2, deep=1)
    """

    local: int
    deep: int


def count_signs(tags: Iterable[str]) -> SignCount:
    """Count the different signs of infection among tags; a sign written twice counts once, other tags do not count.

    Woo KY, Sibbald RG. A cross-sectional validation study of using NERDS and STONEES to assess bacterial burden.
    Ostomy Wound Manage 2009;55(8):40-48. Exudate and smell stand in both sets.

    Parameters
    ----------
    tags
        Tags of the signs that were found: see ``LOCAL`` and ``DEEP``.

    Examples
    --------
    >>> count_signs(["local:N", "local:E", "deep:E", "local:S", "deep:S", "local:S"])
    SignCount(local=3, deep=2)
    """
    found = set(tags)
    return SignCount(len(found & LOCAL), len(found & DEEP))
