"""Which answers were asked for by their words: so that a word that no list knows can say what it kept from looking."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

Value = TypeVar("Value")


class Heard:
    """The places of answers whose words or tags were asked for.

    Examples
    --------
    >>> heard = Heard()
    >>> heard.ask("visits[0].purpose"), sorted(heard.taken()), sorted(heard.taken())
    (None, ['visits[0].purpose'], [])
    """

    __slots__ = ("_kept", "_open")

    def __init__(self) -> None:
        self._open: list[set[str]] = [set()]
        self._kept: dict[Hashable, set[str]] = {}

    def ask(self, place: str) -> None:
        """Note that the words at a place were asked for."""
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


def again(view: Any, key: Hashable, work: Callable[[], Value]) -> Value:
    """Do work whose result a view keeps, heard each time where somebody listens."""
    heard: Heard | None = view.heard
    return work() if heard is None else heard.kept((id(view), key), work)
