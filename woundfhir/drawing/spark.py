"""A line drawing in one row of a terminal, and a bar in a row of a table."""

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
        Zero or above, oldest first. What is below zero is shown as zero.
    width
        The most characters, at least 1.
    ascii_only
        For terminals without block characters.

    Returns
    -------
    str
        At most ``width`` characters; empty without values.

    Examples
    --------
    >>> spark([Decimal(4), Decimal(2), Decimal(0)], ascii_only=True)
    '#+_'
    >>> spark([Decimal(n) for n in range(100)], width=8, ascii_only=True)
    '_.-=+*%#'
    """
    marks = _ASCII if ascii_only else _BLOCKS
    if not values:
        return ""
    width = max(width, 1)
    if len(values) > width:
        last = len(values) - 1
        values = [values[last * i // (width - 1)] for i in range(width)] if width > 1 else [values[last]]
    top = max(values)
    if top <= 0:
        return marks[0] * len(values)
    return "".join(marks[min(len(marks) - 1, max(0, int(value * len(marks) / top)))] for value in values)


def bar(value: Decimal, top: Decimal, *, width: int = 20, ascii_only: bool = False) -> str:
    """Return a value as a bar of blocks against the highest of its column; above zero it is never empty.

    Parameters
    ----------
    value, top
        Zero or above.
    width
        How long the bar of the highest value is, in characters.
    ascii_only
        For terminals and fonts without block characters.

    Examples
    --------
    >>> bar(Decimal(5), Decimal(20), ascii_only=True), bar(Decimal("0.1"), Decimal(20), ascii_only=True)
    ('#####', '#')
    """
    if top <= 0 or value <= 0:
        return ""
    return ("#" if ascii_only else _BLOCKS[-1]) * max(1, min(width, round(value * width / top)))
