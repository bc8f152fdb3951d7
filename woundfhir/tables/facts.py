"""The facts of one client as rows give them, and the record that they make: one value a place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal, NamedTuple

from woundfhir.record import dates
from woundfhir.record.table_clients import Column
from woundfhir.record.table_reading import lists
from woundfhir.tables.cell_words import Fact
from woundfhir.tables.targets import EACH, TIME

Json = Any


class Place(NamedTuple):
    """What a fact is about: ``patient``, ``wound``, ``visit`` or ``entry``, and which wound and visit."""

    head: str
    wound: str = ""
    visit: str = ""


class Put(NamedTuple):
    """What became of a fact: new, a repetition, or contradicting what row ``row`` says."""

    news: Literal["new", "again", "conflict"]
    row: int = 0


class Facts:
    """Holds the facts of one client.

    Parameters
    ----------
    zone
        The time zone of clock times without an offset, or None.
    """

    def __init__(self, zone: str | None = None) -> None:
        self.zone = zone
        self.known: dict[Place, dict[Column, tuple[str, int]]] = {}

    def found(self, place: Place) -> None:
        """Let there be a wound, a visit, or a wound at a visit, whether or not there is any fact about it."""
        self.known.setdefault(place, {})

    def put(self, fact: Fact, wound: str, visit: str, row: int) -> Put:
        """Take a fact; one that contradicts an earlier one is not taken."""
        head = fact.target.head
        place = Place(head, wound if head in ("wound", "entry") else "", visit if head in ("visit", "entry") else "")
        column = tuple(str(row) if part == EACH else part for part in fact.column)
        if column in (("wound", "id"), ("visit", "id")):
            return Put("again" if place in self.known else "new")
        known = self.known.setdefault(place, {})
        if fact.target.shape == "choices":
            same = next(
                (stood for other, stood in known.items() if other[:-1] == column[:-1] and stood[0] == fact.text), None
            )
            if same is not None:
                return Put("again", same[1])
        for other in _touching(column, known):
            text, earlier = known[other]
            return Put("again" if other == column and text == fact.text else "conflict", earlier)
        known[column] = (fact.text, row)
        return Put("new")

    def record(self) -> dict[str, Json]:
        """Return the raw record: what ``History.of`` takes."""
        wounds, visits = [], {}
        for place, cells in self.known.items():
            if place.head == "wound":
                wounds.append({"id": place.wound, **self._tree(cells, 1)})
            elif place.head == "visit":
                visits[place.visit] = {"id": place.visit, **self._visit(cells)}
        for place, cells in self.known.items():
            if place.head == "entry":
                visit = visits.setdefault(place.visit, {"id": place.visit})
                visit.setdefault("wounds", []).append({"wound": place.wound, **self._tree(cells, 0)})
        patient = self._tree(self.known.get(Place("patient"), {}), 1)
        zone = {"zone": self.zone} if self.zone else {}
        return {"woundfhir": 1, **zone, "patient": patient, "wounds": wounds, "visits": list(visits.values())}

    def _visit(self, cells: dict[Column, tuple[str, int]]) -> dict[str, Json]:
        tree = self._tree(cells, 1)
        clock = tree.pop(TIME[1], None)
        if clock and len(str(tree.get("at", ""))) == len("2026-03-02"):
            tree["at"] = dates.tidy(f"{tree['at']}T{clock}", self.zone)
        return tree

    @staticmethod
    def _tree(cells: dict[Column, tuple[str, int]], drop: int) -> dict[str, Json]:
        """Build dicts and lists from the parts of columns; ``drop`` is how many of their first parts are left out."""
        root: dict[str, Json] = {}
        for column, (text, _) in cells.items():
            here = root
            for part in column[drop:-1]:
                here = here.setdefault(part, {})
            here[column[-1]] = text
        return lists(root)  # type: ignore[no-any-return]


def _touching(column: Column, known: dict[Column, tuple[str, int]]) -> Iterator[Column]:
    """Yield the columns that fill the same place, a part of it, or the whole of it."""
    if column in known:
        yield column
        return
    bare = column[:-1] if column[-1] == "absent" else column
    for other in known:
        whole = other[:-1] if other[-1] == "absent" else other
        length = min(len(bare), len(whole))
        if bare[:length] == whole[:length] and (len(bare) != len(whole) or bare == whole):
            yield other
