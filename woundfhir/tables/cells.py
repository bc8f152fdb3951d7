"""One cell read: what the record says of it, or why it cannot be read. A reader for each column of the mapping."""

from __future__ import annotations

import re

from woundfhir.record.leaf import is_plain
from woundfhir.record.size import split_size
from woundfhir.tables.cell_column import Column
from woundfhir.tables.cell_shapes import SHAPES, read_text
from woundfhir.tables.cell_words import ERRORS, MARK, NOT_GIVEN, NOTHING, WORD, Read, refused
from woundfhir.tables.figures import read_figure
from woundfhir.tables.layout import folded, unit_of
from woundfhir.tables.mapping import ColumnMap, TableMap
from woundfhir.tables.sheet import Number, Odd, Struck
from woundfhir.tables.targets import Target

#: Control characters that no table holds: what becomes of letters that are read by the wrong encoding.
_C1 = re.compile(r"[\x80-\x84\x86-\x9f]")


class Reader(Column):
    """Reads the cells of one column.

    Parameters
    ----------
    one
        What the mapping says of the column.
    mapping
        The mapping around it.
    unit
        The unit that the table gives the column.
    place
        The number of the column.

    Examples
    --------
    >>> lone = ColumnMap(name="Lg", to=["assessment.length"], unit="cm")
    >>> reader = Reader(lone, TableMap(table=1), None, 3)
    >>> [fact.text for fact in reader.read("4,2").facts], reader.read("big").fate
    (['4.2 cm'], 'not-understood')
    """

    def __init__(self, one: ColumnMap, mapping: TableMap, unit: str | None, place: int) -> None:
        super().__init__(one, mapping, unit, place)
        self._known: dict[tuple[type, str, str | None], Read] = {}

    def read(self, text: str, unit: str | None = None) -> Read:
        """Return what a cell says; ``unit`` is that of its row, in a table of one finding a row."""
        key = (type(text), text, unit)
        found = self._known.get(key)
        if found is None:
            found = self._read(text, unit)
            if len(self._known) < 4096:
                self._known[key] = found
        return found

    def _read(self, text: str, unit: str | None) -> Read:
        if isinstance(text, Odd):
            return refused(f"text, a number, a date or nothing; {text}")
        if isinstance(text, Struck):
            return Read((), "withdrawn", "struck through in the workbook")
        if ERRORS.fullmatch(text):
            return refused("a value, not a formula that has none or an error of the spreadsheet")
        if not is_plain(text):
            return refused("text without control characters")
        if _C1.search(text):
            return refused('letters: its bytes are of another encoding. Write "encoding" in the mapping')
        plain = folded(text)
        if plain in self.words:
            answer = self.words[plain]
            if not answer.strip():
                return Read((), "bookkeeping", "a word that the mapping leaves out")
            text, reworded = answer, True
            if answer.startswith("absent:"):
                facts = [self.absent(one, answer.removeprefix("absent:").strip()) for one in self.targets]
                return Read(tuple(facts), "reworded", WORD)
        else:
            reworded = False
            if plain in NOTHING:
                return Read((), "bookkeeping", MARK)
            if plain in NOT_GIVEN:
                return self._not_given(text)
        found = self._several(text) if len(self.targets) > 1 else self._one(self.targets[0], text, unit or self.unit)
        return found._replace(fate="reworded", why=WORD) if reworded and found.fate == "understood" else found

    def _not_given(self, text: str) -> Read:
        answered = [one for one in self.targets if one.concept is not None]
        if not answered:
            return Read((), "bookkeeping", MARK)
        return Read(tuple(self.absent(one, text) for one in answered), "understood", "why there is no answer")

    def _several(self, text: str) -> Read:
        """Read a size: as many numbers as there are places, or fewer."""
        parts = split_size(text)
        if len(parts) < 2 or len(parts) > len(self.targets):
            names = " x ".join(one.concept.label.lower() if one.concept else one.path for one in self.targets)
            return refused(f"numbers with x between them: {names}")
        own = [unit for part in parts if (figure := read_figure(part, self.decimal, None)) and (unit := figure.unit)]
        if 0 < len(own) < len(parts) and self.unit and any(unit_of(unit) != unit_of(self.unit) for unit in own):
            return refused(f"a unit behind the last number, or none: the column is in {self.unit}")
        reads = [
            self._one(one, Number(part) if isinstance(text, Number) else part, self.unit)
            for one, part in zip(self.targets, parts, strict=False)
        ]
        wrong = next((one for one in reads if one.fate == "not-understood"), None)
        if wrong is not None:
            return wrong
        facts = tuple(fact for one in reads for fact in one.facts)
        return Read(facts, max(one.fate for one in reads if one.fate), "the parts of one cell")

    def _one(self, one: Target, text: str, unit: str | None) -> Read:
        shape = SHAPES.get(one.shape, read_text)
        return shape(self, one, text, unit)
