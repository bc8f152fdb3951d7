"""Which answers were asked for by their words: so that a word that no list knows can say what it kept from looking."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Iterator
from itertools import accumulate
from typing import Any, TypeVar

Value = TypeVar("Value")
_STEP = re.compile(r"\.?[^.\[\]]+|\[\d+\]")


class Heard:
    """The places of some answers whose words or tags were asked for.

    Parameters
    ----------
    places
        The answers that it is about; whoever asks for the list or the group around one asks for it too.

    Examples
    --------
    >>> heard = Heard(["visits[0].purpose[0]"])
    >>> heard.ask("visits[0].purpose"), heard.ask("visits[0].setting")
    (None, None)
    >>> sorted(heard.taken()), sorted(heard.taken())
    (['visits[0].purpose'], [])
    """

    __slots__ = ("_about", "_kept", "_open")

    def __init__(self, places: Iterable[str]) -> None:
        self._about = {part for place in places for part in around(place)}
        self._open: list[set[str]] = [set()]
        self._kept: dict[Hashable, set[str]] = {}

    def ask(self, place: str) -> None:
        """Note that the words at a place were asked for."""
        if place in self._about:
            self._open[-1].add(place)

    def taken(self) -> set[str]:
        """Return the places asked for since the last time, and begin anew."""
        found, self._open[-1] = self._open[-1], set()
        return found

    def kept(self, key: Hashable, work: Callable[[], Value]) -> Value:
        """Do work whose result is kept; what it asked for is noted again for everybody who asks for the same."""
        self._open.append(set())
        try:
            return work()
        finally:
            asked = self._kept.setdefault(key, set())
            asked |= self._open.pop()
            self._open[-1] |= asked


def around(place: str) -> Iterator[str]:
    """Yield a place and every place around it.

    Examples
    --------
    >>> list(around("wounds[0].kind"))
    ['wounds', 'wounds[0]', 'wounds[0].kind']
    """
    yield from accumulate(_STEP.findall(place))


def again(view: Any, key: Hashable, work: Callable[[], Value]) -> Value:
    """Do work whose result a view keeps, heard each time where somebody listens."""
    heard: Heard | None = view.heard
    return work() if heard is None else heard.kept((id(view), key), work)
