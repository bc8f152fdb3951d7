"""What stands before a note: the questions that notes, and wounds at a note, answer alike."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Self

from woundfhir.chart.conditional import Conditional
from woundfhir.chart.series import Series
from woundfhir.chart.time import When


class InTime(Conditional):
    """A view of a note, or of a wound at a note, among those of its kind that count."""

    #: How many of its kind that count come before it.
    nth = 0

    @property
    def series(self) -> Series[Any]:
        """Those of its kind that count, oldest first."""
        raise NotImplementedError

    @property
    def when(self) -> When:
        """When the visit was; see ``woundfhir.chart.time``."""
        raise NotImplementedError

    def before(self, other: Self) -> bool:
        """Whether its visit was certainly earlier than another, whatever their times as written can mean."""
        return self.when.before(other.when)

    def latest(self, test: Callable[[Self], object]) -> Self | None:
        """Return the newest earlier one that counts and passes a test.

        Parameters
        ----------
        test
            A function of a module, not one made in the rule: its answers are kept for the whole series.
        """
        return self.series.newest_that(test, self.nth)

    def newest(self, test: Callable[[Self], object]) -> Self | None:
        """Return this one where it passes a test, else the ``latest`` that does."""
        return self if test(self) else self.latest(test)

    def answered_before(self, path: str) -> bool:
        """Whether an earlier one that counts has an answer; worked out once for the whole series."""
        return self.series.answered_before(path, self.nth)


class InEpisode(InTime):
    """A view of a wound at a note, which is compared only with others since the wound opened."""

    @property
    def episode_start(self) -> int:
        """The place in the series where the episode begins; nothing before is compared."""
        raise NotImplementedError

    def comparable(self, test: Callable[[Self], object]) -> Self | None:
        """Return the newest entry of this episode that is certainly earlier and passes a test, or None.

        Parameters
        ----------
        test
            A function of a module, as for ``latest``.
        """
        return next(self.comparables(test), None)

    def comparables(self, test: Callable[[Self], object]) -> Iterator[Self]:
        """Yield this episode's entries that are certainly earlier and pass a test (see ``latest``), newest first."""
        end = self.nth
        while (found := self.series.newest_certain(test, end, self.when)) is not None:
            if found.nth < self.episode_start:
                return
            yield found
            end = found.nth

    def oldest_comparable(self, test: Callable[[Self], object]) -> Self | None:
        """Return the oldest entry of this episode that is certainly earlier and passes a test (see ``latest``)."""
        return self.series.oldest_certain(test, self.episode_start, self.nth, self.when)

    def in_episode(self, test: Callable[[Self], object]) -> Self | None:
        """Return the newest earlier entry of this episode that counts and passes a test (see ``latest``)."""
        found = self.latest(test)
        return None if found is None or found.nth < self.episode_start else found
