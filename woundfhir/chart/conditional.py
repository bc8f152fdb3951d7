"""Views that can be asked for a named condition, and the table of the names; ``conditions.py`` fills it.

A condition is defined once, for the view that it is about. Asked of another view it is passed on: an entry asks
its visit and its wound; a visit asks whether one of its entries holds it; a wound asks its newest entry, and for a
condition of a visit the newest note of the record; the record and the client ask whether any wound holds it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from woundfhir.chart.asking import Asked
from woundfhir.chart.heard import again
from woundfhir.language import spoken
from woundfhir.texts import TextError, tables

#: What a condition is about; ``any`` holds alike for every view.
About = Literal["any", "wound", "visit", "entry"]


@dataclass(frozen=True, slots=True)
class Condition:
    """A named condition: which view it is about, and its test. Its words stand in ``texts/<language>/``."""

    name: str
    scope: About
    test: Callable[[Any], bool]

    def says(self) -> str:
        """Return in words when it holds."""
        return _words(self.name, "says")

    def label(self) -> str:
        """Return how a sentence names it."""
        return _words(self.name, "label")


CONDITIONS: dict[str, Condition] = {}


def _words(name: str, key: str) -> str:
    try:
        found: str = tables("woundfhir.chart")[name][key]
    except KeyError:
        raise TextError(f"the condition '{name}' has no '{key}' in chart/texts/{spoken().key}") from None
    return found


Test = Callable[[Any], bool]


def condition(name: str, scope: About) -> Callable[[Test], Test]:
    """Name a test, so that the catalogue's ``when`` and the rules can ask for it."""

    def register(test: Test) -> Test:
        CONDITIONS[name] = Condition(name, scope, test)
        return test

    return register


def holds(view: Any, name: str) -> bool:
    """Whether a condition holds for a view of any scope; each is worked out once for a view.

    Raises
    ------
    KeyError
        For a name that is no condition.
    """
    if view.heard is not None:
        return again(view, name, lambda: _kept(view, name))
    return _kept(view, name)


def _kept(view: Any, name: str) -> bool:
    known = view._held.get(name)
    if known is None:
        known = view._held[name] = _holds(view, CONDITIONS[name])
    return known  # type: ignore[no-any-return]


def all_hold(view: Any, names: Sequence[str]) -> bool:
    """Whether all conditions hold together; for a visit: for one and the same wound."""
    if view.scope == "visit" and view.entries and len(names) > 1:
        return any(all(holds(entry, name) for name in names) for entry in view.entries if not entry.wound.in_error)
    held = view._held
    for name in names:
        known = held.get(name)
        if known is None or view.heard is not None:
            known = holds(view, name)
        if not known:
            return False
    return True


def _holds(view: Any, condition: Condition) -> bool:
    if condition.scope in (view.scope, "any"):
        return condition.test(view)
    if view.scope == "entry":
        return holds(view.wound if condition.scope == "wound" else view.visit, condition.name)
    if view.scope == "visit":
        return any(holds(entry, condition.name) for entry in view.entries if not entry.wound.in_error)
    if view.scope == "wound":
        nearest = view.newest if condition.scope == "entry" else view.record.newest
        return nearest is not None and holds(nearest, condition.name)
    record = view if view.scope == "record" else view.record
    if condition.scope == "visit":
        return record.newest is not None and holds(record.newest, condition.name)
    return any(holds(wound, condition.name) for wound in record.wounds if not wound.in_error)


class Conditional(Asked):
    """A view that can be asked for named conditions."""

    scope: Literal["record", "patient", "wound", "visit", "entry"]
    _held: dict[str, bool]

    def __init__(self) -> None:
        super().__init__()
        self._held = {}

    def holds(self, *names: str) -> bool:
        """Whether all the named conditions hold (``woundfhir.chart.conditions`` lists them)."""
        return all(holds(self, name) for name in names)
