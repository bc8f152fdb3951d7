"""A line drawing in one row of a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

_BLOCKS = "\u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588"
_ASCII = "_.-=+*%#"


def spark(values: Sequence[Decimal], *, width: int = 40, ascii_only: bool = False) -> str:
    """Return values as a row of blocks, from zero to the highest; longer series are thinned, the ends kept.

    Parameters
    ----------
    values
        Zero or above, oldest first.
    width
        The most characters.
    ascii_only
        For terminals without block characters.

    Examples
    --------
    >>> spark([Decimal(4), Decimal(2), Decimal(0)], ascii_only=True)
    '#+_'
    """
    marks = _ASCII if ascii_only else _BLOCKS
    if not values:
        return ""
    if len(values) > width:
        last = len(values) - 1
        values = [values[round(last * i / (width - 1))] for i in range(width)]
    top = max(values)
    if top <= 0:
        return marks[0] * len(values)
    return "".join(marks[min(len(marks) - 1, int(value / top * len(marks)))] for value in values)
