"""Lists of the record while they are read: what we wrote stands at its number, what others wrote between."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, TypeVar

from woundfhir.fhir.came import Resource

Json = Any
T = TypeVar("T")
#: An item, the resource that said it, and the place of its list.
Item = tuple[Json, Resource | None, str]


class Listed:
    """The items of one list: ours at their numbers, others between them in the order in which they are read."""

    def __init__(self, items: list[Json]) -> None:
        self.items = items
        self._ours: dict[int, Item] = {}
        self._others: list[Item] = [(one, None, "") for one in items]

    def take(self, item: Json, resource: Resource | None, place: str, number: int | None) -> None:
        """Add one item; ``number`` is the one that our own place names."""
        made = (item, resource, place)
        if number is None or number in self._ours:
            self._others.append(made)
        else:
            self._ours[number] = made
            if number == len(self.items) + 1 and not self._others:  # as we write them
                self.items.append(item)
                return
        self.items[:] = [one for one, _, _ in at_numbers(self._ours, self._others)]

    def places(self) -> Iterator[tuple[Resource, str]]:
        """Yield each resource, and the place of its item."""
        for number, (_, resource, place) in enumerate(at_numbers(self._ours, self._others), 1):
            if resource is not None:
                yield resource, f"{place}/{number}"


def at_numbers(ours: Mapping[int, T], others: Iterable[T]) -> list[T]:
    """Return what has a number in its order, the others between them where numbers are missing, then behind them.

    Examples
    --------
    >>> at_numbers({1: "a", 3: "c"}, ["x", "y"])
    ['a', 'x', 'c', 'y']
    """
    out: list[T] = []
    waiting = list(reversed(list(others)))
    for number in sorted(ours):
        while len(out) < number - 1 and waiting:
            out.append(waiting.pop())
        out.append(ours[number])
    return [*out, *reversed(waiting)]
