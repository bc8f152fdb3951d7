"""The newest and the oldest of some notes that are certainly earlier than another, without a walk through all of them.

Notes whose time is a clock on the wall are held apart from the others: within each kind, what one note is certainly
earlier than, every note that ends before it is certainly earlier than too (see ``woundfhir.chart.time``).
"""

from __future__ import annotations

from bisect import bisect_left

from woundfhir.chart.time import When


class _Kind:
    """Notes of one kind in order; each knows the newest before it that ends earlier, and the one that ends first."""

    __slots__ = ("earliest", "links", "places", "times")

    def __init__(self) -> None:
        self.places: list[int] = []
        self.times: list[When] = []
        self.links: list[int] = []
        self.earliest: list[int] = []

    def add(self, place: int, when: When) -> None:
        here = len(self.places)
        link = here - 1
        while link >= 0 and self.times[link].last >= when.last:
            link = self.links[link]
        self.places.append(place)
        self.times.append(when)
        self.links.append(link)
        self.earliest.append(here if link < 0 else self.earliest[-1])

    def drop(self, end: int) -> None:
        at = bisect_left(self.places, end)
        for held in (self.places, self.times, self.links, self.earliest):
            del held[at:]

    def newest(self, end: int, when: When) -> int:
        at = bisect_left(self.places, end) - 1
        if at < 0 or not self.times[self.earliest[at]].before(when):
            return -1
        while not self.times[at].before(when):
            at = self.links[at]
        return self.places[at]

    def oldest(self, start: int, end: int, when: When) -> int:
        first, stop = bisect_left(self.places, start), bisect_left(self.places, end)
        if first >= stop or not self.times[self.earliest[stop - 1]].before(when):
            return -1
        return next((self.places[at] for at in range(first, stop) if self.times[at].before(when)), -1)


class Certain:
    """Notes of one series, added oldest first, each by its place; -1 stands for none."""

    __slots__ = ("_fixed", "_wall", "added")

    def __init__(self) -> None:
        #: How many notes of the series were looked at.
        self.added = 0
        self._fixed, self._wall = _Kind(), _Kind()

    def add(self, place: int, when: When) -> None:
        """Add a note."""
        (self._fixed if when.wall is None else self._wall).add(place, when)

    def drop(self, end: int) -> None:
        """Forget the notes from ``end`` on."""
        self.added = min(self.added, end)
        self._fixed.drop(end)
        self._wall.drop(end)

    def newest(self, end: int, when: When) -> int:
        """Return the place, below ``end``, of the newest that is certainly earlier than a time."""
        return max(self._fixed.newest(end, when), self._wall.newest(end, when))

    def oldest(self, start: int, end: int, when: When) -> int:
        """Return the place, from ``start`` on and below ``end``, of the oldest certainly earlier than a time."""
        found = [self._fixed.oldest(start, end, when), self._wall.oldest(start, end, when)]
        return min((place for place in found if place >= 0), default=-1)
