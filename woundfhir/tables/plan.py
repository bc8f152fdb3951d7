"""A mapping held against the header of a table: which column is read by what, and what makes a client, wound, visit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from woundfhir.errors import InputError
from woundfhir.site_file import near
from woundfhir.tables.cell_words import Fact
from woundfhir.tables.cells import Reader
from woundfhir.tables.layout import Laid, folded, unit_of
from woundfhir.tables.mapping import ColumnMap, TableMap
from woundfhir.tables.targets import EACH, TIME, target

#: What has no number of a wound of its own belongs to the wound of its row.
ROW = 0


@dataclass(slots=True)
class Plan:
    """How the rows of one table are read.

    Attributes
    ----------
    mapping, laid
        The mapping and the table.
    readers
        Position of a column -> its reader, and the number of the wound that it is about.
    aside
        Positions of columns that are not read.
    client, visit, wound
        Positions of the columns that tell them apart; of wounds, by their number.
    items
        Of a table of one finding a row: name of the finding -> its reader.
    long
        Of such a table, positions of name, value and unit.
    constants
        What holds for every row.
    """

    mapping: TableMap
    laid: Laid
    readers: dict[int, Reader] = field(default_factory=dict)
    slots: dict[int, int] = field(default_factory=dict)
    aside: list[int] = field(default_factory=list)
    client: list[int] = field(default_factory=list)
    visit: list[int] = field(default_factory=list)
    wound: dict[int, list[int]] = field(default_factory=dict)
    fill_down: list[int] = field(default_factory=list)
    items: dict[str, Reader] = field(default_factory=dict)
    long: tuple[int, int, int | None] | None = None
    constants: list[Fact] = field(default_factory=list)

    def label(self, position: int) -> str:
        """Return a column as a message names it: its number, and its name where the mapping names it too."""
        reader = self.readers.get(position)
        name = reader.one.name if reader is not None else None
        return f"column {position + 1}" + (f" ({name})" if name else "")

    def about(self, head: str) -> Iterator[tuple[int, Reader]]:
        """Yield the columns that are about something: ``patient``, ``wound``, ``visit``, ``entry``."""
        for position, reader in self.readers.items():
            if reader.targets[0].head == head:
                yield position, reader


def plan(mapping: TableMap, laid: Laid) -> Plan:
    """Return how a mapping reads a table.

    Raises
    ------
    InputError
        For a column that the table does not have, or has twice; for two columns that go to one place; for units that
        contradict; when it is not said what tells clients, visits or wounds apart.
    """
    found = Plan(mapping, laid)
    taken: dict[tuple[str, int], str] = {}
    for number, one in enumerate(mapping.column, 1):
        place = f"mapping, column {number}"
        for position in _positions(one, laid, place):
            if position in found.readers or position in found.aside:
                raise InputError(place, "each column once", "Take one of the two out")
            if one.to is None:
                found.aside.append(position)
                continue
            reader = _reader(one, found, position, place)
            _once(reader, one.wound or ROW, taken, place)
            found.readers[position] = reader
            found.slots[position] = one.wound or ROW
            if one.fill_down:
                found.fill_down.append(position)
    _long(found)
    used = {*found.readers, *found.aside, *(found.long or ())}
    found.aside += [position for position in range(len(laid.header)) if position not in used]
    found.client = [_position(name, laid, "mapping, client") for name in mapping.client]
    found.visit = [_position(name, laid, "mapping, visit") for name in mapping.visit]
    for position in (_position(name, laid, "mapping, wound") for name in mapping.wound):
        found.wound.setdefault(found.slots.get(position, ROW), []).append(position)
    found.constants = list(_constants(mapping))
    _complete(found)
    return found


def names(mapping: TableMap) -> list[str]:
    """Return the names of columns that a mapping looks for in the header."""
    long = mapping.long
    more = [long.name, long.value, long.unit] if long else []
    every = [*(one.name for one in mapping.column), *more, *mapping.client, *mapping.visit, *mapping.wound]
    return [name for name in every if name]


def _positions(one: ColumnMap, laid: Laid, place: str) -> list[int]:
    if one.number is not None:
        if one.number > len(laid.header):
            raise InputError(f"{place}.number", f"a number up to {len(laid.header)}", "Count the columns again")
        return [one.number - 1]
    return [_position(str(one.name), laid, f"{place}.name")]


def _position(name: str, laid: Laid, place: str) -> int:
    wanted = folded(name)
    found = [position for position, header in enumerate(laid.header) if folded(header) == wanted]
    if len(found) == 1:
        return found[0]
    if found:
        listed = " and ".join(str(position + 1) for position in found)
        fix = f"Name it by its number instead: number = {found[0] + 1}"
        raise InputError(place, "a name that the header has once", fix, found=f"columns {listed} have it")
    fix = near(wanted, [folded(header) for header in laid.header]) or "Write it as it stands in the header"
    wrong = f"the header in row {laid.number} of {laid.sheet.where} does not have it"
    raise InputError(place, "the name of a column", fix, found=wrong)


def _reader(one: ColumnMap, found: Plan, position: int, place: str) -> Reader:
    given = found.laid.units.get(position)
    if given is not None and one.unit is not None and unit_of(one.unit) != given:
        wrong = f"the table gives another unit, in its header or below it ({given})"
        raise InputError(f"{place}.unit", "the unit that was measured in", "Find out which is right", found=wrong)
    return Reader(one, found.mapping, given, position + 1)


def _once(reader: Reader, slot: int, taken: dict[tuple[str, int], str], place: str) -> None:
    """Two columns never fill one place, but where it holds several answers."""
    for one in reader.targets:
        if one.shape == "choices" or EACH in one.column:
            continue
        before = taken.setdefault((one.path, slot), place)
        if before != place:
            fix = "Take one of the two out, or give each its wound with wound = 1, 2, ..."
            raise InputError(f"{place}.to", "a place of its own", fix, found=f"{before} goes to the same place")


def _long(found: Plan) -> None:
    long = found.mapping.long
    if long is None:
        if found.mapping.item:
            raise InputError("mapping, item", "the key 'long' beside it", "Say which column names the finding")
        return
    place = "mapping, long"
    unit = None if long.unit is None else _position(long.unit, found.laid, f"{place}.unit")
    found.long = (
        _position(long.name, found.laid, f"{place}.name"),
        _position(long.value, found.laid, f"{place}.value"),
        unit,
    )
    for number, one in enumerate(found.mapping.item, 1):
        name = folded(str(one.name))
        if name in found.items or one.name is None:
            raise InputError(f"mapping, item {number}", "the name of each finding once", "Take one of the two out")
        if one.to is not None:
            found.items[name] = Reader(one, found.mapping, None, len(found.laid.header) + number)


def _constants(mapping: TableMap) -> Iterator[Fact]:
    for path, text in mapping.constants.items():
        one = target(path)
        if one is not None and text.strip():
            yield Fact(one, one.column, text.strip())


def _complete(found: Plan) -> None:
    """Refuse a mapping that does not say whose a row is, or which wound and visit an answer belongs to."""
    mapping = found.mapping
    readers = [*found.readers.values(), *found.items.values()]
    if not readers:
        raise InputError("mapping, column", "at least one column with 'to'", "Say what the columns mean")
    heads = {one.head for reader in readers for one in reader.targets}
    targets = {one.column for reader in readers for one in reader.targets} | {one.column for one in found.constants}
    named = any(one[:2] == ("patient", "identifiers") for one in targets)
    if not named and not mapping.client and not mapping.one_client:
        fix = 'Map a column to patient.identifiers, or write client = ["..."], or one_client = true'
        raise InputError("mapping", "what tells the clients apart", fix)
    if ("visit", "at") not in targets and TIME in targets:
        raise InputError("mapping", "a column for visit.at beside visit.time", "Map the day of the visit")
    if heads & {"entry", "visit"} and not mapping.visit and not {("visit", "id"), ("visit", "at")} & targets:
        fix = 'Map a column to visit.at or visit.id, or write visit = ["..."]'
        raise InputError("mapping", "what tells the visits apart", fix)
    apart = mapping.one_wound or mapping.wound or ("wound", "id") in targets
    if heads & {"entry", "wound"} and not apart and not any(found.slots.values()):
        fix = 'Map a column to wound.id, or write wound = ["..."] (columns such as the site), or one_wound = true'
        raise InputError("mapping", "what tells the wounds of a client apart", fix)


def texts(cells: Sequence[str], positions: Sequence[int]) -> str:
    """Return what stands in some cells as one text; empty where all are blank."""
    return ", ".join(cells[position] for position in positions if position < len(cells) and cells[position])
