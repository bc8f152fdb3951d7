"""How far a long run is: what is done, how fast, how long still."""

from __future__ import annotations

import sys
import time

_EVERY = 0.5


class Progress:
    """A line on standard error that is written over.

    Parameters
    ----------
    shown
        Whether it is shown at all.
    """

    def __init__(self, shown: bool) -> None:
        self.shown = shown
        self._start = self._last = 0.0
        self._length = 0
        self.begin("", 0)

    def begin(self, what: str, total: int) -> None:
        """Begin a part of the work."""
        self.what, self.total, self.done, self.visits = what, total, 0, 0
        self._start = time.monotonic()

    def add(self, amount: int, visits: int = 0) -> None:
        """Note that more is done."""
        self.done += amount
        self.visits += visits
        if self.shown and (now := time.monotonic()) - self._last > _EVERY:
            self._last = now
            self._write(f"{line(self.what, self.done, self.total, self.visits, now - self._start)}")

    def end(self) -> None:
        """Take the line away."""
        if self._length:
            self._write("")
            sys.stderr.write("\r")
            self._length = 0

    def _write(self, text: str) -> None:
        sys.stderr.write("\r" + text.ljust(self._length))
        sys.stderr.flush()
        self._length = len(text)


def line(what: str, done: int, total: int, visits: int, seconds: float) -> str:
    """Return what is done, the rate and the time left, in one line.

    Examples
    --------
    >>> line("reading", 50, 200, 0, 10.0), line("converting", 3, 4, 300, 6.0)
    ('reading: 25 %, 30 s left', 'converting: 75 %, 50 visits a second, 2 s left')
    """
    share = done / total if total else 1.0
    rate = f", {visits / seconds:,.0f} visits a second" if visits and seconds else ""
    left = f", {seconds * (1 - share) / share:,.0f} s left" if share else ""
    return f"{what}: {share:.0%}{rate}{left}".replace("%", " %")
