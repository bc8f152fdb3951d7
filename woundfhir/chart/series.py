"""The notes that count, in the order of time, asked for the newest of them that says something.

Every question is answered by looking at each note once, however often and by whomever it is asked, so that a history
of thousands of visits stays cheap.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Generic, TypeVar

from woundfhir.chart.asking import known
from woundfhir.chart.certain import Certain
from woundfhir.chart.heard import again
from woundfhir.chart.time import When

#: A view of a note: an ``Asked`` with a time ``when``.
Note = TypeVar("Note", bound=Any)
Test = Callable[[Any], object]


class Series(Generic[Note]):
    """Notes that count, oldest first: all of a record, or the entries of one wound.

    Parameters
    ----------
    notes
        The list itself, which may grow at its end; nothing is copied.
    """

    __slots__ = ("_certain", "_first", "_last", "_newest_with", "_settled", "notes")

    def __init__(self, notes: Sequence[Note]) -> None:
        self.notes = notes
        #: Test -> for each note the place of the newest up to it that passes, or -1.
        self._last: dict[Test, list[int]] = {}
        self._certain: dict[Test, Certain] = {}
        self._first: dict[str, int | None] = {}
        self._newest_with: dict[str, Note | None] = {}
        #: How many of the notes stay; those behind them are put in for a while (see ``one_more.py``). None: all.
        self._settled: int | None = None

    def settle(self) -> None:
        """Let what is worked out from now on be about the notes that are here now; those put in later may go again."""
        self._settled = len(self.notes)

    def unsettle(self) -> None:
        """Forget what was worked out of notes that were put in since ``settle`` and are gone."""
        end, self._settled = self._settled, None
        for last in self._last.values():
            del last[end:]
        for found in self._certain.values():
            found.drop(len(self.notes) if end is None else end)

    @property
    def _end(self) -> int:
        return len(self.notes) if self._settled is None else self._settled

    def newest_that(self, test: Test, before: int | None = None) -> Note | None:
        """Return the newest note that passes a test, of all or of the first ``before``.

        Parameters
        ----------
        test
            A function of a module, not one made for the call: its answers are kept.
        before
            How many of the oldest notes are looked at; all where it is left out.
        """
        end = len(self.notes) if before is None else before
        if end and self.notes[0].heard is not None:
            again(self.notes[0], (id(self), test), lambda: self._try(test, end))
        else:
            self._try(test, end)
        place = self._last[test][end - 1] if end else -1
        return None if place < 0 else self.notes[place]

    def _try(self, test: Test, end: int) -> None:
        last = self._last.setdefault(test, [])
        for place in range(len(last), end):
            last.append(place if test(self.notes[place]) else last[-1] if last else -1)

    def newest_certain(self, test: Test, end: int, when: When) -> Note | None:
        """Return the newest of the first ``end`` notes that passes a test and is certainly earlier than a time."""
        place = self._passing(test, end).newest(end, when)
        return None if place < 0 else self.notes[place]

    def oldest_certain(self, test: Test, start: int, end: int, when: When) -> Note | None:
        """Return the oldest note at ``start`` or behind it, below ``end``, that passes and is certainly earlier."""
        place = self._passing(test, end).oldest(start, end, when)
        return None if place < 0 else self.notes[place]

    def _passing(self, test: Test, end: int) -> Certain:
        """Return the notes that pass a test, the first ``end`` at least."""
        self.newest_that(test, end)
        found, last = self._certain.setdefault(test, Certain()), self._last[test]
        for place in range(found.added, end):
            if last[place] == place:
                found.add(place, self.notes[place].when)
        found.added = max(found.added, end)
        return found

    def newest_with(self, path: str) -> Note | None:
        """Return the newest note with an answer at a path; "none" is one, a reason why there is none is not.

        Examples
        --------
        >>> from woundfhir.chart import open_record
        >>> from woundfhir.record import History
        >>> seen = {"wound": "W1", "assessment": {"tunnels": "none", "odour": {"absent": "not assessed"}}}
        >>> raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [{"id": "V1", "wounds": [seen]}]}
        >>> series = open_record(History.of(raw)).wound("W1").series
        >>> [series.newest_with(f"assessment.{key}") is not None for key in ("tunnels", "odour", "length")]
        [True, False, False]
        """
        end = self._end
        if path not in self._newest_with:
            places = range(end - 1, -1, -1)
            self._newest_with[path] = next(
                (self.notes[place] for place in places if known(self.notes[place].answer(path))), None
            )
        later = (one for one in reversed(self.notes[end:]) if known(one.answer(path)))
        return next(later, self._newest_with[path])

    def newest_written(self, path: str) -> Note | None:
        """Return the newest note with anything written at a path, be it a reason why there is no answer."""
        return next((one for one in reversed(self.notes) if one.written(path)), None)

    def first_with(self, path: str) -> int | None:
        """Return the place of the oldest note with anything written at a path."""
        end = self._end
        if path not in self._first:
            self._first[path] = next((place for place in range(end) if self.notes[place].written(path)), None)
        found = self._first[path]
        if found is None and end < len(self.notes):
            return next((place for place in range(end, len(self.notes)) if self.notes[place].written(path)), None)
        return found

    def answered_before(self, path: str, before: int) -> bool:
        """Whether one of the first ``before`` notes has anything written at a path."""
        found = self.first_with(path)
        return found is not None and found < before
