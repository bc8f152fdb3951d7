"""Where the header of a table stands, and which rows are no rows of data: titles, units, headers again, totals."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import chain, islice

from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.limits import COLUMN_LENGTH, COLUMNS
from woundfhir.tables.mapping import TableMap
from woundfhir.tables.sheet import Line, Number, Sheet, Stamp

#: So many rows are looked at to find the header.
HEAD = 40
_UNIT = re.compile(r"[(\[]\s*([^()\[\]]+?)\s*[)\]]\s*$")
#: A unit as programs write it behind a name: ``len_cm``, ``Width mm``, ``slough_pct``. "in" is a word too.
_BEHIND = re.compile(r"(?<=\w)[_ -](cm|mm|ml|pct|percent|%)$", re.IGNORECASE)
#: The letter of a scale of temperature, behind what is called a temperature.
_SCALE = re.compile(
    r"(?:(?<=\btemp)|(?<=\btemperature)|(?<=\btempérature)|(?<=\bt))\.?[\s_(\[]*(°?\s?[CF])[)\]]?$", re.I
)
_PERCENT = ("pct", "percent")
#: What may stand in a row of units and is no unit: how a cell is to be filled in.
_HINT = re.compile(
    r"\d+\s*(?:-|/|à|to)\s*\d+|/\s*\d+|[yon]\s*/\s*[yon]|(?:[djmay]{2,4}[-/. ]?){3}|text|texte|date", re.I
)
_TOTAL = re.compile(
    r"(?:grand |sous[- ]|sub[- ]?)?totals?|totaux|sum|somme|average|mean|moyenne|count|nombre|n\s*=\s*\d+|total\W.*"
    r"|(?:grand|sous|sub)[- ]?tota(?:l|ux)\W.*",
    re.I | re.S,
)
#: What is said of rows that sum others up.
TOTALS = "totals, not read"
#: A day in numbers: in a row with one, "total" may be an answer; which column it stands in decides (``owners``).
_DAY = re.compile(r"\d{1,4}\s*[-/.]\s*\d{1,2}\s*[-/.]\s*\d{1,4}(?:\D.*)?", re.S)
#: What says so in any cell of a row: no wound and no visit is called that.
SUMMED = re.compile(r"(?:(?:grand|sous|sub)[- ]?)?tota(?:ls?|ux)\s*:?", re.I)


@lru_cache(maxsize=65536)
def folded(name: str) -> str:
    """Return a name of a column as it is compared: case, accents, blanks, line ends and what nobody sees do not matter.

    Examples
    --------
    >>> folded(" N°  Dossier\\n") == folded("n° dossier"), folded("Côté") == folded("COTE")
    (True, True)
    """
    plain = unicodedata.normalize("NFKD", name.replace("\u2019", "'").casefold())
    seen = (char for char in plain if not unicodedata.combining(char) and unicodedata.category(char) != "Cf")
    return " ".join("".join(seen).split())


def unit_of(text: str) -> str | None:
    """Return the UCUM code of a unit, alone or at the end of a name.

    Examples
    --------
    >>> unit_of("Length (cm)"), unit_of("mm"), unit_of("Length"), unit_of("Ratio (L/l)"), unit_of("Len_mm")
    ('cm', 'mm', None, None, 'mm')
    >>> unit_of("Temp F"), unit_of("T°C"), unit_of("Temperature (°F)"), unit_of("Wound C")
    ('[degF]', 'Cel', '[degF]', None)
    """
    scale = _SCALE.search(text)
    found = scale or _UNIT.search(text) or _BEHIND.search(text)
    inner = found[1] if found else text.strip(" .")
    inner = inner.replace(" ", "").upper() if scale else inner
    inner = "%" if inner.casefold() in _PERCENT else inner
    return catalogue().units.get(inner) or (catalogue().units.get(inner.lower()) if len(inner) > 1 else None)


def without_unit(name: str) -> str:
    """Return a name without the unit, or whatever stands in brackets, at its end.

    Examples
    --------
    >>> without_unit("Length (cm)"), without_unit("len_cm"), without_unit("mm")
    ('Length', 'len', 'mm')
    """
    return _BEHIND.sub("", _UNIT.sub("", _SCALE.sub("", name)).rstrip()) or name


@dataclass(slots=True)
class Laid:
    """A table whose header is found.

    Attributes
    ----------
    sheet
        Where it came from, and what was found of its form.
    header
        The names of the columns, those of several rows joined.
    number
        The row of the header, counted from 1; the last of several.
    units
        Column -> the unit that the table gives it, in its header or in a row of units.
    hints
        Column -> what the row below the header says of how it is filled in.
    lines
        The rows of data, and those that are broken.
    notes
        Rows that are no data: what they are -> their numbers; filled while the rows are read.
    """

    sheet: Sheet
    header: list[str]
    number: int
    units: dict[int, str]
    hints: dict[int, str]
    lines: Iterator[Line]
    notes: dict[str, list[int]] = field(default_factory=dict)

    def described(self) -> list[str]:
        """Return what was found of its form, and which rows are no data."""
        rows = [self._rows(what) for what in self.notes]
        header = [f"the header stands in row {self.number}"] if self.number else []
        return [*self.sheet.forms(), *header, *rows]

    def _rows(self, what: str) -> str:
        some = self.notes[what]
        more = f" and {len(some) - 10} more" if len(some) > 10 else ""
        return f"{what}: {'row' if len(some) == 1 else 'rows'} {', '.join(map(str, some[:10]))}{more}"


def lay_out(sheet: Sheet, mapping: TableMap | None = None, names: Collection[str] = ()) -> Laid:
    """Find the header of a table.

    Parameters
    ----------
    sheet
        The table.
    mapping
        Its ``header`` and ``header_rows`` hold where they are given.
    names
        The names of the columns that are looked for; without them, the row that looks most like a header.

    Raises
    ------
    InputError
        When there is no row that could be one.
    """
    if sheet.kind == "rows":
        return _of_rows(sheet)
    head = list(islice(sheet.lines, HEAD))
    rows = mapping.header_rows if mapping else 1
    wanted = {folded(name) for name in names}
    if mapping and mapping.header:
        at = next((place for place, line in enumerate(head) if line.number == mapping.header), None)
        if at is None or head[at].blank:
            fix = "Correct 'header' in the mapping"
            raise InputError(f"{sheet.where}, row {mapping.header}", "the header of the table", fix)
    else:
        at = _best(head, wanted, rows)
        if at is None:
            expected = "a header row: a name for each column"
            raise InputError(sheet.where, expected, "Put the names of the columns above them, or write header = ROW")
    last = at + rows - 1
    header = _joined([line.cells for line in head[at : last + 1]])
    found = Laid(sheet, header, head[min(last, len(head) - 1)].number, {}, {}, iter(()))
    above = [line.number for line in head[:at] if not line.blank]
    if above:
        found.notes["above the header, not read"] = above
    for column, name in enumerate(header):
        if (unit := unit_of(name)) is not None and without_unit(name) != name:
            found.units[column] = unit
    again = [[folded(cell) for cell in line.cells if cell] for line in head[at : last + 1]]
    lines = _data(chain(head[last + 1 :], sheet.lines), found, again)
    if (first := next(lines, None)) is not None:  # a row of units below the header is known before any is read
        found.lines = chain((first,), lines)
    return found


def _of_rows(sheet: Sheet) -> Laid:
    """Take the first line for the header, and every other one for data."""
    names = next(sheet.lines).cells
    units = {at: unit for at, name in enumerate(names) if without_unit(name) != name and (unit := unit_of(name))}
    return Laid(sheet, names, 0, units, {}, (line for line in sheet.lines if line.fault or not line.blank))


def _best(head: Sequence[Line], wanted: Collection[str], rows: int) -> int | None:
    """Return the place of the header: the row with most names that are looked for, else with most words."""
    if wanted:
        hits = []
        for at in range(len(head)):
            names = _joined([line.cells for line in head[at : at + rows]])
            hits.append(len({folded(name) for name in names} & set(wanted)))
        best = max(hits, default=0)
        if best:
            return hits.index(best)
    widest = max((sum(map(bool, line.cells)) for line in head), default=0)
    for at, line in enumerate(head):
        filled = [cell for cell in line.cells if cell]
        named = [cell for cell in filled if _is_name(cell)]
        if len(named) >= max(2, 0.6 * widest) and len(named) >= 0.8 * len(filled) and not line.fault:
            return at
    return None


def _is_name(cell: str) -> bool:
    return not isinstance(cell, (Stamp, Number)) and any(char.isalpha() for char in cell) and len(cell) < 100


def _joined(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return one name a column; a name above several columns (merged cells) holds for those to its right."""
    width = min(max((len(row) for row in rows), default=0), COLUMNS)
    names = ["" for _ in range(width)]
    for place, row in enumerate(rows):
        spread, below = "", rows[place + 1 :]
        for column in range(width):
            cell = row[column] if column < len(row) else ""
            under = any(column < len(one) and one[column] for one in below)
            spread = cell if cell else spread if below and under else ""
            if spread:
                names[column] = f"{names[column]} / {spread}" if names[column] else spread
    return [" ".join(name.split())[:COLUMN_LENGTH] for name in names]


def _data(lines: Iterator[Line], found: Laid, again: list[list[str]]) -> Iterator[Line]:
    first = True
    for line in lines:
        if line.blank and not line.fault:
            continue
        if not line.fault:
            cells = [folded(cell) for cell in line.cells if cell]
            if cells in again:
                found.notes.setdefault("the header again", []).append(line.number)
                continue
            if first and _is_units(line.cells):
                _take_units(line.cells, found)
                found.notes["units of the columns"] = [line.number]
                continue
            if _is_total(line.cells):
                found.notes.setdefault(TOTALS, []).append(line.number)
                continue
        first = False
        yield line


def _is_units(cells: Sequence[str]) -> bool:
    filled = [cell for cell in cells if cell]
    return any(unit_of(cell) for cell in filled) and all(
        unit_of(cell) or _HINT.fullmatch(cell.strip(" ()[]")) for cell in filled
    )


def _take_units(cells: Sequence[str], found: Laid) -> None:
    for column, cell in enumerate(cells):
        if (unit := unit_of(cell)) is not None:
            found.units[column] = unit
        elif cell:
            found.hints[column] = cell.strip(" ()[]").casefold()


def _is_total(cells: Sequence[str]) -> bool:
    """Whether a row sums others up: a cell says so, and most of the rest is numbers or blank.

    Examples
    --------
    >>> [_is_total(row) for row in (["Subtotal 9", "", "8"], ["9", "", "Total", "8"], ["9", "heel", "total cast", "8"])]
    [True, True, False]
    >>> _is_total(["9", "2026-03-02", "1", "total", "8"])
    False
    """
    filled = [cell for cell in cells if cell]
    words = [cell for cell in filled[1:] if any(char.isalpha() for char in cell)]
    if _TOTAL.fullmatch(filled[0]) is not None and len(words) <= 1:
        return True
    dated = any(isinstance(cell, Stamp) or _DAY.fullmatch(cell) for cell in filled)
    return not dated and any(SUMMED.fullmatch(cell) for cell in filled) and len(words) <= 1
