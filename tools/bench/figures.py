"""A figure with its aim, how times are taken, and what is in the way where an aim is missed."""

from __future__ import annotations

import cProfile
import pstats
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

Work = Callable[[], Any]
_ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Figure:
    """One thing that was measured.

    Parameters
    ----------
    part, what
        The group that it is printed in, and what was done.
    cost
        What it took, with its unit.
    ratio
        Against the floor that ``against`` names.
    limit
        The aim: the highest ratio, or with ``at_least`` the lowest; None where there is no aim.
    main
        Whether it stands in the README, where all that has an aim is named.
    """

    part: str
    what: str
    cost: str
    ratio: float | None = None
    against: str = ""
    limit: float | None = None
    at_least: bool = False
    main: bool = False

    @property
    def met(self) -> bool | None:
        """Whether the aim is met."""
        if self.limit is None or self.ratio is None:
            return None
        return self.ratio >= self.limit if self.at_least else self.ratio <= self.limit

    @property
    def aim(self) -> str:
        """The aim in words."""
        return "" if self.limit is None else f"{'at least' if self.at_least else 'at most'} {self.limit:g}"

    @property
    def verdict(self) -> str:
        """Whether the aim is met, in words; "" where there is none."""
        return "" if self.met is None else "met" if self.met else "not met"


@dataclass
class Report:
    """All figures of a run, printed as they come."""

    quick: bool
    figures: list[Figure] = field(default_factory=list)
    missed: list[tuple[Figure, list[str]]] = field(default_factory=list)

    def add(self, figure: Figure, why: Callable[[], list[str]] | None = None) -> None:
        """Take a figure; ``why`` names the steps in the way where its aim is missed."""
        if not self.figures or self.figures[-1].part != figure.part:
            print(f"\n{figure.part}", flush=True)
        self.figures.append(figure)
        ratio = "" if figure.ratio is None else f"{figure.ratio:8.2f} x {figure.against}"
        aim = figure.aim and f"   (aim: {figure.aim}; {figure.verdict})"
        print(f"  {figure.what:<62}{figure.cost:>14}{ratio}{aim}", flush=True)
        if figure.met is False:
            steps = [] if why is None else why()
            self.missed.append((figure, steps))
            for step in steps:
                print(f"      {step}", flush=True)

    def timed(self, part: str, what: str, seconds: float, floor: float, **more: Any) -> None:
        """Take a time as a ratio to a floor."""
        work = more.pop("work", None)
        why = None if work is None else partial(profiled, work)
        self.add(Figure(part, what, shown(seconds), seconds / floor, **more), why)


def shown(seconds: float) -> str:
    """Return a time with its unit.

    Examples
    --------
    >>> shown(0.0123), shown(12.3)
    ('12.30 ms', '12.30 s')
    """
    return f"{seconds * 1e3:,.2f} ms" if seconds < 10 else f"{seconds:,.2f} s"


def best(*works: Work, rounds: int = 5) -> list[float]:
    """Return the best time of each piece of work, measured in turns, in seconds of CPU time of this process."""
    found = [float("inf")] * len(works)
    for _ in range(rounds):
        for index, work in enumerate(works):
            start = time.process_time()
            work()
            found[index] = min(found[index], time.process_time() - start)
    return found


#: A short piece of work is profiled again and again for so many seconds.
_PROFILED = 0.5
_Where = tuple[str, int, str]
#: A function that was called: file, line, name; how often; its own seconds of CPU time, and those of them by caller.
_Row = tuple[_Where, int, float, dict[_Where, float]]


def profiled(work: Work, most: int = 4) -> list[str]:
    """Return the steps that take most of the time of a piece of work, with their share: rooms, then functions.

    What Python and libraries do counts to the room of ours that calls them.
    """
    rows = sorted(_profile(work), key=lambda one: -one[2])
    whole = sum(own for _, _, own, _ in rows) or 1.0
    steps: Counter[str] = Counter()
    for where, _, own, callers in rows:
        for caller, seconds in () if _is_ours(where) else callers.items():
            steps[_room(caller)] += seconds
            own -= seconds
        steps[_room(where)] += own
    found = [f"{seconds / whole:5.0%}  {name}" for name, seconds in steps.most_common(most)]
    return found + [f"{own / whole:5.0%}  {_place(*where)}  ({calls:,} calls)" for where, calls, own, _ in rows[:most]]


def grown(less: Work, few: int, more: Work, many: int, most: int = 5) -> list[str]:
    """Return the functions whose own time a visit grows most from a short history to a long one."""
    before = {where: own / few for where, _, own, _ in _profile(less)}
    after = [(where, calls, own / many) for where, calls, own, _ in _profile(more)]
    rows = sorted(after, key=lambda one: before.get(one[0], 0.0) - one[2])[:most]
    return [
        f"{before.get(where, 0.0) * 1e6:,.0f} to {own * 1e6:,.0f} us a visit  {_place(*where)}  ({calls:,} calls)"
        for where, calls, own in rows
    ]


def _profile(work: Work) -> list[_Row]:
    profile = cProfile.Profile(time.process_time)  # CPU time: other work on the machine is no function of ours
    start, rounds = time.process_time(), 0
    while time.process_time() - start < _PROFILED:
        profile.runcall(work)
        rounds += 1
    stats: Any = pstats.Stats(profile)
    return [
        (where, calls, own / rounds, {caller: one[2] / rounds for caller, one in callers.items()})
        for where, (_, calls, own, _, callers) in stats.stats.items()
    ]


def _is_ours(where: _Where) -> bool:
    return Path(where[0]).is_relative_to(_ROOT / "woundfhir")


def _room(where: _Where) -> str:
    return str(Path(where[0]).parent.relative_to(_ROOT)) if _is_ours(where) else "Python and libraries"


def _place(file: str, line: int, name: str) -> str:
    path = Path(file)
    short = path.relative_to(_ROOT) if path.is_relative_to(_ROOT) else path.name
    return name if file == "~" else f"{name}, {short}:{line}"
