"""The garbage collector rests while much is made at once.

What is written and read here is trees of dicts without circles. Python's collector does not know that, and walks all
that was made so far again and again: two thirds of the time of a large history.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count

#: When so many objects are there that the collector has not looked at, its look at all of them takes a second.
_MANY = 100_000
#: Of so many large results in a row, one is followed by a look at everything, so that circles do not add up.
_EACH = 8
_results = count(1)


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
            if gc.get_count()[0] > _MANY:
                _take_as_old()
            gc.enable()


def _take_as_old() -> None:
    """Let the collector take what was made for old, as if it had looked at it; now and then it does look, at all.

    What was frozen by somebody else stays so.
    """
    if next(_results) % _EACH == 0:
        gc.collect()
    elif not gc.get_freeze_count():
        gc.freeze()  # all that lives goes where nothing is looked at,
        gc.unfreeze()  # and from there to the oldest: both without a walk through it
