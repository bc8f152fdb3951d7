"""The garbage collector rests while much is made at once.

What is written and read here is trees of dicts without circles. Python's collector does not know that, and walks all
that was made so far again and again: two thirds of the time of a large history.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def resting() -> Iterator[None]:
    """Let the garbage collector rest, for a block or as a decorator; it is as it was afterwards, whatever happens.

    Where several threads rest at once, it may work again before the last of them is done: that costs time alone.

    Examples
    --------
    >>> with resting():
    ...     gc.isenabled()
    False
    >>> gc.isenabled()
    True
    """
    worked = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if worked:
            gc.enable()
