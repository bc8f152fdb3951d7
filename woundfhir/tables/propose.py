"""A first mapping for a table, from its headers and cells: guesses marked as such, and what a person must decide."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path, PurePath

from pydantic import ValidationError

from woundfhir.errors import InputError
from woundfhir.tables.columns import Guess, cells_of, check, day_order, guesses, quoted
from woundfhir.tables.layout import Laid, folded, lay_out
from woundfhir.tables.mapping import DECIDE, TableMap
from woundfhir.tables.reading import open_table
from woundfhir.tables.sheet import Line, Sheet
from woundfhir.tables.targets import target
from woundfhir.tables.vocabulary import long_part, meaning
from woundfhir.tables.when import DAY_NUMBER, SHORT_YEAR

#: So many rows are looked at.
_SAMPLE = 2_000
_OF_THE_VISIT = (("visit", "at"), ("visit", "time"), ("visit", "id"))
#: A clock time behind a day, or the part of a day that a spreadsheet counts.
_CLOCKED = re.compile(r"\d\s*[:hT]|^\d{5}[.,]\d+$")
_COMMA, _POINT = re.compile(r"\d,\d"), re.compile(r"\d\.\d")


def propose(content: bytes | Path, where: str, sheet: str | None = None) -> str:
    """Return a first mapping for a table, as a TOML file that a person reads through.

    Parameters
    ----------
    content
        The table, or its path.
    where
        Its name.
    sheet
        Of a workbook, the sheet.

    Returns
    -------
    str
        What was found of the table's form as comments, every guess with what it rests on (``guess``), and ``decide``
        where the table does not settle it: the mapping is refused until somebody has.

    Raises
    ------
    InputError
        When the table cannot be opened or has no header.

    Examples
    --------
    >>> print(propose("Dossier;Longueur (cm)\\n17;4,2\\n".encode(), "a.csv").split("[[column]]")[2].strip())
    name = "Longueur (cm)"
    to = "assessment.length"
    guess = "the header, and 1 of 1 cells fit"
    """
    try:
        wanted = TableMap(table=1, sheet=sheet)
    except ValidationError:
        fix = "Leave it out for the first sheet that holds a table"
        raise InputError(f"{where}, the sheet", "the name of a sheet", fix) from None
    opened = open_table(content, where, wanted)
    head = list(islice(opened.lines, _SAMPLE))
    laid, rows = _laid(opened, head)
    lines = [line for line in laid.lines if not line.fault]
    long = {part: at for at, name in enumerate(laid.header) if (part := long_part(name)) is not None}
    if not {"name", "value"} <= long.keys():
        long = {}
    found = [one for one in guesses(laid, lines) if one.position not in long.values()]
    items = list(_items(lines, long)) if long else []
    order, why = day_order([*found, *items], lines, laid.hints)
    base = TableMap.model_validate({"table": 1, "decimal": _decimal(lines, found, long)})
    days = [text for one in found if "date" in one.shapes for text in cells_of(lines, one.position)]
    short = any(SHORT_YEAR.fullmatch(text) for text in days)
    counted = any(DAY_NUMBER.fullmatch(text) for text in days)
    base = base.model_copy(
        update={"short_years": short, "day_numbers": (opened.counted_from or "1900") if counted else None}
    )
    if order:  # where nothing settles it, either reads as many cells
        base = base.model_copy(update={"dates": "day first" if order == DECIDE else order})
    for one in found:
        check(one, laid, lines, base)
    _visit_day(found)
    if not order:  # the day of the visit may be known only now
        order, why = day_order([*found, *items], lines, laid.hints)
    for one in items:
        name = folded(one.name)
        here = [line.cell(one.position) for line in lines if folded(line.cell(long["name"])) == name]
        texts = [text for text in here if text]
        check(one, laid, lines, base, texts)
    _fill_down(found, lines)
    written = _Written(laid, rows, found, items, long)
    at = [one for one in found if "visit.at" in one.paths]
    written.clocked = any(_CLOCKED.search(text) for one in at for text in cells_of(lines, one.position))
    return "\n".join(written.lines(where, sheet, base, order, why)) + "\n"


def _laid(opened: Sheet, head: list[Line]) -> tuple[Laid, int]:
    """Find the header, and whether a second row belongs to it: names above several columns, or below some."""

    def laid(**more: int) -> Laid:
        again = replace(opened, lines=iter(head), found=[*opened.found, *opened.notices])
        return lay_out(again, TableMap(table=1, **more) if more else None)  # type: ignore[arg-type]

    one = laid()
    place = next(at for at, line in enumerate(head) if line.number == one.number)
    names = [name for name in one.header if name]
    above, below = head[place - 1] if place else None, head[place + 1] if place + 1 < len(head) else None
    if above is not None and not above.blank and len(set(map(folded, names))) < len(names):
        return laid(header=above.number, header_rows=2), 2
    words = [cell for cell in below.cells if cell] if below is not None else []
    if below is not None and words and all(re.fullmatch(r"[^\W\d_][^\d]*", cell) for cell in words):
        hanging = [at for at, cell in enumerate(below.cells) if cell and not (at < len(one.header) and one.header[at])]
        known = [cell for cell in words if meaning(cell) is not None]
        if hanging and known and len(words) < len(names):
            return laid(header=one.number, header_rows=2), 2
    return one, 1


def _items(lines: Sequence[Line], long: dict[str, int]) -> Iterator[Guess]:
    """Yield a guess for each finding of a table with one finding a row."""
    seen: dict[str, str] = {}
    for text in cells_of(lines, long["name"]):
        seen.setdefault(folded(text), text)
    for text in islice(seen.values(), 200):
        found = meaning(text)
        one = Guess(long["value"], text)
        if found is not None:
            one.paths, one.rests_on = found.paths, found.rests_on.replace("header", "name")
        yield one


def _decimal(lines: Sequence[Line], found: Sequence[Guess], long: dict[str, int]) -> str | None:
    """Return what stands in the numbers of the table, where it is one of the two."""
    places = [one.position for one in found if one.shapes & {"quantity", "share"}]
    cells = [text for at in (*places, *([long["value"]] if long else [])) for text in cells_of(lines, at)]
    commas, points = (sum(bool(mark.search(text)) for text in cells) for mark in (_COMMA, _POINT))
    return "comma" if commas and not points else "point" if points and not commas else None


def _visit_day(found: Sequence[Guess]) -> None:
    """Propose the only column of dates that means nothing else as the day of the visit, where no header names it."""
    if not any("visit.at" in one.paths for one in found):
        days = [
            one
            for one in found
            if not one.paths and any(note.endswith(("cells with dates", "cell with dates")) for note in one.notes)
        ]
        if len(days) == 1:
            days[0].paths, days[0].rests_on = ("visit.at",), "the only column of dates that means nothing else"


def _fill_down(found: Sequence[Guess], lines: Sequence[Line]) -> None:
    """Propose that a blank means "as above" where the client's columns are blank in many rows but the first."""
    patient = [one for one in found if one.paths and (place := target(one.paths[0])) and place.head == "patient"]
    if all(len(cells_of(lines, one.position)) == len(lines) for one in patient):
        return
    for one in found:
        place = target(one.paths[0]) if one.paths else None
        if place is None or not lines or (place.head != "patient" and place.column not in _OF_THE_VISIT):
            continue
        blank = len(lines) - len(cells_of(lines, one.position))
        if 5 * blank >= len(lines) and lines[0].cell(one.position):
            one.keys["fill_down"] = "true"
            one.notes.append(f"{blank} of {len(lines)} cells are blank: taken as in the row above. Is that so?")


class _Written:
    """The proposal as text."""

    def __init__(
        self, laid: Laid, rows: int, found: Sequence[Guess], items: Sequence[Guess], long: dict[str, int]
    ) -> None:
        self.laid, self.rows, self.found, self.items, self.long = laid, rows, found, items, long
        self.clocked = False

    def lines(self, where: str, sheet: str | None, base: TableMap, order: str, why: str) -> Iterator[str]:
        """Yield the lines of the file."""
        mapped = [one for one in self.found if one.paths]
        yield f"# A first mapping for {PurePath(where).name}, proposed by `woundfhir map table` from headers and cells."
        yield '# Each `guess` says what it rests on: take the line out when it is right. Replace each "decide".'
        yield "# `woundfhir catalogue` lists what `to` may name, `woundfhir explain WORD` finds it, and"
        yield "# `woundfhir explain mapping` prints a mapping with every key."
        for line in self.laid.described():
            yield f"# - {line}"
        yield "table = 1"
        if sheet:
            yield f"sheet = {quoted(sheet)}"
        if self.rows > 1:
            yield f"header = {self.laid.number - self.rows + 1}"
            yield f"header_rows = {self.rows}"
        yield f"# {why}"
        if order:
            yield f'dates = "{order}"'
        if base.short_years:
            yield "short_years = true  # 02/03/26 is 2026, but for birth dates. Is that so?"
        if base.day_numbers and self.laid.sheet.counted_from:
            meant = _COUNTED[base.day_numbers]
            yield f'day_numbers = "{base.day_numbers}"  # days are written as numbers: {meant}. Is that so?'
        elif base.day_numbers:
            yield f"# days are written as numbers. As the spreadsheet counts: {', or '.join(_COUNTED.values())}"
            yield 'day_numbers = "decide"  # "1900" or "1904"'
        if base.decimal:
            yield f'decimal = "{base.decimal}"'
        if any("visit.time" in one.paths for one in mapped) or self.clocked:
            yield 'zone = "decide"  # such as America/Toronto, or "none"'
        yield from self._distinguishing(mapped)
        for one in self.found:
            yield from self._table("column", one)
        if self.long:
            yield ""
            yield "[long]"
            for part, at in self.long.items():
                yield f"{part} = {quoted(self.laid.header[at])}"
            for one in self.items:
                yield from self._table("item", one)

    def _distinguishing(self, mapped: Sequence[Guess]) -> Iterator[str]:
        """Yield what tells clients and wounds apart, where no number does."""
        by_path = {path: one for one in mapped for path in one.paths}
        names = [quoted(by_path[path].name) for path in _WHO if path in by_path and by_path[path].name]
        if "patient.identifiers" not in by_path and names:
            yield "# No column has a number of the client: rows alike in these columns are one client. Is that so?"
            yield f"client = [{', '.join(names)}]"
        elif "patient.identifiers" not in by_path:
            yield '# decide: nothing names the client. client = ["..."], or one_client = true'
        heads = {one.head for path in by_path if (one := target(path)) is not None}
        items = {one.head for each in self.items for path in each.paths if (one := target(path)) is not None}
        if "wound.id" in by_path or not (heads | items) & {"wound", "entry"}:
            return
        sites = [quoted(one.name) for one in mapped for path in one.paths if path in _WHERE and one.name]
        if sites:
            yield "# No column has a number of the wound: rows alike in these columns are one wound. Is that so?"
            yield f"wound = [{', '.join(dict.fromkeys(sites))}]"
        elif not any("wound" in one.keys for one in mapped):
            yield '# decide: nothing tells the wounds of a client apart. wound = ["..."], or one_wound = true'

    def _table(self, kind: str, one: Guess) -> Iterator[str]:
        mark = "" if one.paths else "# "
        yield ""
        for note in one.notes:
            yield f"# {note}"
        yield f"{mark}[[{kind}]]"
        yield f"{mark}name = {quoted(one.name)}" if one.name else f"{mark}number = {one.position + 1}"
        if not one.paths:
            yield f'{mark}to = ""  # kept aside as it is'
            return
        listed = [quoted(path) for path in one.paths]
        yield f"to = {listed[0]}" if len(listed) == 1 else f"to = [{', '.join(listed)}]"
        for key, value in one.keys.items():
            yield f"{key} = {value}"
        yield f"guess = {quoted(one.rests_on)}"


#: What a number of a day means, by the year that is counted from (ECMA-376 part 1, 18.17.4.1).
_COUNTED = {"1900": "46083 is 2026-03-02 (1900)", "1904": "44621 is 2026-03-02 (1904)"}
_WHO = ("patient.name", "patient.name.family", "patient.name.given", "patient.born")
_WHERE = ("wound.site", "wound.side", "wound.place")
