"""What a written number says for certain: "<0.5" is below 0.5 and "<3" says nothing about 2."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple


class Amount(NamedTuple):
    """A number with its comparator, held against limits; each answer is True only where it is certain.

    Two answers that exclude each other ("below" and "at least") are both False where nothing is certain.

    Parameters
    ----------
    value
        The number as written, or turned into another unit.
    comparator
        ``<``, ``<=``, ``>``, ``>=``; None for an exact number.

    Examples
    --------
    >>> index = Amount(Decimal("0.5"), "<")
    >>> index.below(Decimal("0.5")), index.below(Decimal("0.4")), index.at_least(Decimal("0.4"))
    (True, False, False)
    """

    value: Decimal
    comparator: str | None = None

    @property
    def exact(self) -> Decimal | None:
        """The number where it stands alone; None behind a comparator."""
        return None if self.comparator else self.value

    def below(self, limit: Decimal) -> bool:
        """Whether it is certainly below a limit."""
        if self.comparator in (">", ">="):
            return False
        return self.value <= limit if self.comparator == "<" else self.value < limit

    def at_most(self, limit: Decimal) -> bool:
        """Whether it is certainly at or below a limit."""
        return self.comparator not in (">", ">=") and self.value <= limit

    def above(self, limit: Decimal) -> bool:
        """Whether it is certainly above a limit."""
        if self.comparator in ("<", "<="):
            return False
        return self.value >= limit if self.comparator == ">" else self.value > limit

    def at_least(self, limit: Decimal) -> bool:
        """Whether it is certainly at or above a limit."""
        return self.comparator not in ("<", "<=") and self.value >= limit

    def outside(self, low: Decimal, high: Decimal) -> bool:
        """Whether it certainly lies outside a range."""
        return self.below(low) or self.above(high)
