"""Counts of infection signs by the two published sets. A count asks for a look; it is no diagnosis."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

#: The signs of each set as tags of the answer list; the letters are those of the published memory aids.
LOCAL = frozenset(f"local:{letter}" for letter in ("N", "E", "R", "D", "S"))
DEEP = frozenset(f"deep:{letter}" for letter in ("Si", "T", "O", "N", "Er", "E", "S"))
#: How many signs of a set the study took as the point to look closer.
LEAST = 3


@dataclass(frozen=True, slots=True)
class SignCount:
    """How many different signs of each set are there.

    Attributes
    ----------
    local
        0 to 5 (NERDS).
    deep
        0 to 7 (STONEES).
    """

    local: int
    deep: int

    @property
    def local_reached(self) -> bool:
        """Whether three or more of the five are there: ask about bacteria at the surface (sens. 73 %, spec. 81 %)."""
        return self.local >= LEAST

    @property
    def deep_reached(self) -> bool:
        """Whether three or more of the seven are there: ask about deep infection (sens. 90 %, spec. 69 %)."""
        return self.deep >= LEAST


def count_signs(tags: Iterable[str]) -> SignCount:
    """Count the different signs of infection among tags; a sign said twice counts once, other tags do not count.

    Woo KY, Sibbald RG. A cross-sectional validation study of using NERDS and STONEES to assess bacterial burden.
    Ostomy Wound Manage 2009;55(8):40-48. Exudate and smell stand in both sets.

    Parameters
    ----------
    tags
        Tags of the signs that were found: see ``LOCAL`` and ``DEEP``.

    Examples
    --------
    >>> found = count_signs(["local:N", "local:E", "deep:E", "local:S", "deep:S", "local:S"])
    >>> found, found.local_reached, found.deep_reached
    (SignCount(local=3, deep=2), True, False)
    """
    found = set(tags)
    return SignCount(len(found & LOCAL), len(found & DEEP))
