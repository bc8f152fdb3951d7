"""One column of a table with what the mapping says of it."""

from __future__ import annotations

from woundfhir.tables.cell_words import TIDIED, Fact, Read
from woundfhir.tables.layout import folded
from woundfhir.tables.mapping import ColumnMap, TableMap
from woundfhir.tables.targets import Target, target


class Column:
    """Where the cells of a column go, and how they are written.

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
    """

    def __init__(self, one: ColumnMap, mapping: TableMap, unit: str | None, place: int) -> None:
        found = [target(path) for path in one.to or ()]
        self.targets = [_numbered(each, place) for each in found if each is not None]
        self.one = one
        self.unit = one.unit or unit
        self.place = place
        self.dates = one.dates or mapping.dates
        self.decimal = one.decimal or mapping.decimal
        zone = one.zone or mapping.zone
        self.zone = None if zone == "none" else zone
        self.short_years = mapping.short_years
        self.day_numbers = mapping.day_numbers
        self.words = {folded(written): answer for written, answer in one.words.items()}
        self.system = None if one.system in (None, "none") else one.system

    @staticmethod
    def absent(one: Target, reason: str) -> Fact:
        """Return the fact that there is no answer, with the reason."""
        return Fact(one, (*one.column, "absent"), reason)

    @staticmethod
    def fact(one: Target, text: str) -> Fact:
        """Return the fact that a cell states."""
        return Fact(one, one.column, str(text))

    def read_as(self, one: Target, text: str, reworded: bool = False) -> Read:
        """Return the reading of a cell as this text, and whether the text is another than that of the cell."""
        return Read((self.fact(one, text),), "reworded" if reworded else "understood", TIDIED)


def _numbered(found: Target, place: int) -> Target:
    """Give each column of several identifiers a number of its own."""
    column = found.column
    if column[:2] == ("patient", "identifiers"):
        column = (*column[:2], str(place), *column[3:])
    return found._replace(column=column)
