"""One client of a table: rows to facts, facts to a record, and the report of what became of each cell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from woundfhir.fhir.ids import shortened
from woundfhir.fhir.losses import Loss, Losses
from woundfhir.record import History
from woundfhir.record.canonical import as_json
from woundfhir.record.leaf import made_plain
from woundfhir.tables.cell_words import WORD, Read, wound_number
from woundfhir.tables.cells import Reader
from woundfhir.tables.facts import Facts, Place
from woundfhir.tables.layout import folded
from woundfhir.tables.plan import ROW, Plan, texts
from woundfhir.tables.sheet import Line
from woundfhir.tables.targets import TIME

Json = Any
#: Why something is kept under ``extra``.
ASIDE = "a column that the mapping does not read"
UNNAMED = "a finding that the mapping does not name"
AGAIN = "another cell says the same"
_UNDATED = "not understood: expected the day of the visit; its answers stand as a visit of its own, without a day"
_ALIKE = (
    "not understood: its wound could be that of row {row}, written in another way; it stands as a wound of its own. "
    'Say which it is with "words" in the mapping'
)
_NO_WOUND = "the row names no wound that it belongs to"
_BAD = "not-understood"


class Stood(NamedTuple):
    """A cell in its row: its position, its text, how a message names it, and what came of it."""

    position: int
    text: str
    label: str
    read: Read


class TableClient:
    """Takes the rows of one client.

    Parameters
    ----------
    plan
        How the rows are read.
    name
        What the table is called under ``extra``.
    """

    def __init__(self, plan: Plan, name: str) -> None:
        zone = plan.mapping.zone
        self.plan, self.name = plan, name
        self.facts = Facts(None if zone == "none" else zone)
        self.extra: list[dict[str, str]] = []
        self.counts: Counter[tuple[str, str, str]] = Counter()
        self.wrong: list[Loss] = []
        #: (wound or visit, spelling as it is compared) -> the id, as it was written first.
        self.ids: dict[tuple[str, str], str] = {}
        #: Wound as ``wound_number`` gives it -> its first row and id.
        self.alike: dict[str, tuple[int, str]] = {}

    def result(self, title: str, inferred: Sequence[str], notices: Sequence[str]) -> tuple[History, Losses]:
        """Return the record and its report.

        Raises
        ------
        InputError
            When the rows make no record, whatever the mapping says.
        """
        for one in self.plan.constants:
            for place in list(self.facts.known) if one.target.head != "patient" else [Place("patient")]:
                if place.head == one.target.head:
                    self.facts.put(one, place.wound, place.visit, 0)
        history = History.of(self.facts.record(), title)
        if self.extra:
            history.keep(self.extra)
        return history, self.report(inferred, notices)

    def report(self, inferred: Sequence[str], notices: Sequence[str]) -> Losses:
        """Return what became of each cell so far."""
        where = self.plan.laid.sheet.where
        said = [Loss(path, where, why, fate, number, where) for (path, fate, why), number in self.counts.items()]
        return Losses(inferred=tuple(inferred), notices=tuple(notices), more=(*self.wrong, *said))

    # -- rows ----------------------------------------------------------------------------------

    def take(self, line: Line) -> None:
        """Read a row."""
        stood = list(self._read(line))
        visit = self._visit(line, stood)
        for slot in dict.fromkeys((ROW, *self.plan.slots.values())):
            of_slot = [one for one in stood if self.plan.slots.get(one.position, ROW) == slot]
            if of_slot:
                self._slot(line, of_slot, slot, visit)
        self._aside(line)

    def set_aside(self, line: Line, kind: str, why: str, place: str = "") -> None:
        """Keep a row of which nothing can be read, whole, with a line in the report."""
        said = f"{kind.replace('-', ' ')}: {why}"
        self._keep(f"row {line.number}", said, as_json([str(cell) for cell in line.cells]))
        cells = max(1, sum(map(bool, line.cells)))
        where = self.plan.laid.sheet.where
        self.wrong.append(Loss(place or f"row {line.number}", where, said, kind, cells, where))

    def _read(self, line: Line) -> Iterator[Stood]:
        for position, reader in self.plan.readers.items():
            if text := line.cell(position):
                yield Stood(position, text, self.plan.label(position), reader.read(text))
        if self.plan.long is not None:
            name, value, unit = (line.cell(position) for position in self.plan.long)
            item = self.plan.items.get(folded(name))
            if item is not None:
                if value:
                    yield Stood(
                        self.plan.long[1], value, f"column {self.plan.long[1] + 1}", _in_unit(item, value, unit)
                    )
            elif name or value:
                self._keep(f"row {line.number}", UNNAMED, as_json({"name": name, "value": value, "unit": unit}))
                self.counts["findings", "kept", UNNAMED] += sum(map(bool, (name, value, unit)))

    def _aside(self, line: Line) -> None:
        kept: dict[str, str] = {}
        for position in self.plan.aside:
            if text := line.cell(position):
                name = self.plan.laid.header[position] or f"column {position + 1}"
                kept[name if name not in kept else f"{name} (column {position + 1})"] = str(text)
                self.counts[f"column {position + 1}", "kept", ASIDE] += 1
        if kept:
            self._keep(f"row {line.number}", ASIDE, as_json(kept))

    def _keep(self, place: str, why: str, value: str) -> None:
        self.extra.append({"from": self.name, "place": place, "why": why, "value": made_plain(value)})

    # -- which visit, which wound ----------------------------------------------------------------

    def _visit(self, line: Line, stood: Sequence[Stood]) -> str:
        """Return the id of the visit that a row is about; empty where nothing tells which."""
        said = {one.column: one.text for one in self.plan.constants}
        said |= {fact.column: fact.text for one in stood for fact in one.read.facts if fact.target.head == "visit"}
        at = said.get(("visit", "at"), "")
        if len(at) == len("2026-03-02") and TIME in said:
            at = f"{at}T{said[TIME]}"
        key = said.get(("visit", "id")) or texts(line.cells, self.plan.visit) or at
        return self._id("visit", key)

    def _wound(self, line: Line, stood: Sequence[Stood], slot: int) -> str:
        named = (
            (fact.text, one.read.why) for one in stood for fact in one.read.facts if fact.column == ("wound", "id")
        )
        said, why = next(named, ("", WORD))
        if why != WORD:
            self._compare(line, said)
        key = said or texts(line.cells, self.plan.wound.get(slot, []))
        if not key and (slot != ROW or self.plan.mapping.one_wound):
            key = f"wound {slot or 1}"
        return self._id("wound", key)

    def _compare(self, line: Line, said: str) -> None:
        """Ask about a wound whose number stood above in other letters: once for each way in which it is written."""
        new = ("wound", folded(shortened(said))) not in self.ids
        row, first = self.alike.setdefault(wound_number(said), (line.number, said))
        if new and folded(first) != folded(said):
            where = self.plan.laid.sheet.where
            self.wrong.append(Loss(f"row {line.number}", where, _ALIKE.format(row=row), _BAD, 0, where))

    def _id(self, kind: str, key: str) -> str:
        """Return the id of a wound or a visit: the words by which it is distinguished, as they were written first."""
        key = shortened(key)
        return self.ids.setdefault((kind, folded(key)), made_plain(key)) if key else ""

    # -- facts ---------------------------------------------------------------------------------

    def _slot(self, line: Line, stood: Sequence[Stood], slot: int, visit: str) -> None:
        """Put what cells say where it belongs: those of the row, or of one of several wounds in it."""
        about = {fact.target.head for one in stood for fact in one.read.facts}
        wound = self._wound(line, stood, slot) if about & {"wound", "entry"} else ""
        if not visit and about & {"visit", "entry"}:
            visit = f"row {line.number}"
            where = self.plan.laid.sheet.where
            lost = Loss(visit, where, _UNDATED, _BAD, 0, where)
            if not self._day_is_bad(line) and lost not in self.wrong[-20:]:
                self.wrong.append(lost)
        for one in stood:
            if one.read.fate == _BAD:
                self._refuse(line, one, f"expected {one.read.why}")
            elif one.read.fate == "withdrawn":
                self._refuse(line, one, one.read.why, "withdrawn")
            elif not wound and {fact.target.head for fact in one.read.facts} & {"wound", "entry"}:
                self._refuse(line, one, _NO_WOUND)
            else:
                self._put(line, one, wound, visit)
        if wound:
            self.facts.found(Place("wound", wound))
        if visit and ("visit" in about or wound):
            self.facts.found(Place("visit", visit=visit))
        if wound and visit:  # the wound was seen, even if nothing about it is written
            self.facts.found(Place("entry", wound, visit))

    def _day_is_bad(self, line: Line) -> bool:
        """Whether the day of a row is written and is not read: its cell has a line of its own."""
        days = (at for at, reader in self.plan.readers.items() if reader.targets[0].column == ("visit", "at"))
        return any(
            line.cell(at) and self.plan.readers[at].read(line.cell(at)).fate in (_BAD, "withdrawn") for at in days
        )

    def _put(self, line: Line, one: Stood, wound: str, visit: str) -> None:
        came = [self.facts.put(fact, wound, visit, line.number) for fact in one.read.facts]
        contradicted = next((put for put in came if put.news == "conflict"), None)
        if contradicted is not None:
            why = f"row {contradicted.row} says otherwise about the same thing, and stands"
            self._refuse(line, one, why, "conflict")
        elif came and all(put.news == "again" for put in came):
            self.counts[one.label, "reworded", AGAIN] += 1
        else:
            self.counts[one.label, one.read.fate, one.read.why] += 1

    def _refuse(self, line: Line, one: Stood, why: str, kind: str = _BAD) -> None:
        said = f"{kind.replace('-', ' ')}: {why}"
        place = f"row {line.number}, {one.label}"
        self._keep(place, said, str(one.text))
        where = self.plan.laid.sheet.where
        self.wrong.append(Loss(place, where, said, kind, at=where))


def _in_unit(reader: Reader, value: str, unit: str) -> Read:
    """Read a finding in the unit of its row."""
    return reader.read(value, " ".join(unit.split()) or None)
