"""The mapping of a table: a TOML file that a site writes, or that ``woundfhir map table`` proposes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.record.dates import named_zone
from woundfhir.site_file import SiteModel, SiteText, checked, load_toml, read_text, refuse
from woundfhir.tables.targets import near_path, target

Json = Any
#: What stands where a person must decide before the table can be read.
DECIDE = "decide"
DateForm = Literal["day first", "month first", "year first", "decide"]
Decimals = Literal["comma", "point"]
#: The first year of the days that a spreadsheet counts (ECMA-376 part 1, 18.17.4.1).
DayNumbers = Literal["1900", "1904", "decide"]
#: What to do about a path that is like none.
LISTED = "`woundfhir catalogue` lists all of them"


def _listed(raw: Any) -> Any:
    return [raw] if isinstance(raw, str) else raw


def _paths(found: list[str]) -> list[str]:
    for path in found:
        if target(path) is None:
            fix = f"Did you mean {near}?" if (near := near_path(path)) else LISTED
            refuse("a path of the record, such as patient.born, wound.id, visit.at or assessment.length", fix)
    return found


def _unit(found: str) -> str:
    if found not in catalogue().units:
        refuse("a unit that the catalogue knows, such as cm, mm, % or mmHg", "Write it as UCUM does")
    return found


def _zone(found: str) -> str:
    if found not in (DECIDE, "none") and named_zone(found) is None:
        refuse('a time zone such as America/Toronto or -05:00, or "none"', "Correct its name")
    return found


Paths = Annotated[list[SiteText], BeforeValidator(_listed), AfterValidator(_paths)]
Names = Annotated[list[SiteText], BeforeValidator(_listed)]
Unit = Annotated[SiteText, AfterValidator(_unit)]


class ColumnMap(SiteModel):
    """What one column, or one item of a long table, means."""

    name: SiteText | None = Field(default=None, description="the words in the header, in quotes")
    number: int | None = Field(default=None, description="the number of the column, counted from 1", ge=1)
    to: Paths | None = Field(default=None, description='where it goes: "assessment.length", or several for "4 x 3 cm"')
    unit: Unit | None = Field(default=None, description="the unit of a bare number, such as cm")
    words: dict[str, str] = Field(default={}, description='what is written -> our answer: {M = "moderate"}')
    dates: DateForm | None = Field(default=None, description='"day first", "month first" or "year first"')
    decimal: Decimals | None = Field(default=None, description='"comma" or "point"')
    zone: Annotated[SiteText, AfterValidator(_zone)] | None = Field(default=None, description="the time zone")
    system: SiteText | None = Field(default=None, description='the address of what gives the number, or "none"')
    out_of: int | None = Field(default=None, description="the highest number of the scale, as in 3/10", ge=1)
    separator: SiteText | None = Field(default=None, description='what stands between several answers, such as ";"')
    fill_down: bool = Field(default=False, description="true where a blank cell means: as in the row above")
    wound: int | None = Field(default=None, description="its wound, where wounds stand side by side", ge=1)
    aside: SiteText | None = Field(default=None, description="why the column is not read")
    guess: SiteText | None = Field(default=None, description="what a proposal rests on; take it out when it is right")


class LongMap(SiteModel):
    """The columns of a table that has one finding a row."""

    name: SiteText = Field(description="the column that names the finding")
    value: SiteText = Field(description="the column that holds it")
    unit: SiteText | None = Field(default=None, description="the column with its unit")


class TableMap(SiteModel):
    """A mapping as it stands in its file.

    Examples
    --------
    >>> found = read_map('table = 1\\n[[column]]\\nname = "Lg"\\nto = "assessment.length"\\nunit = "cm"', "map.toml")
    >>> found.column[0].to
    ['assessment.length']
    """

    table: Literal[1] = Field(description="1, the version of this form")
    sheet: SiteText | None = Field(default=None, description="the name of the sheet of a workbook")
    separator: str | None = Field(default=None, description="what stands between two cells", min_length=1, max_length=1)
    encoding: SiteText | None = Field(default=None, description="the encoding of the file, such as cp1252")
    header: int | None = Field(default=None, description="the row in which the header stands, counted from 1", ge=1)
    header_rows: int = Field(default=1, description="how many rows the header has", ge=1, le=3)
    dates: DateForm | None = Field(default=None, description='"day first", "month first" or "year first"')
    short_years: bool = Field(default=False, description="true where years of visits have two digits: 26 is 2026")
    day_numbers: DayNumbers | None = Field(
        default=None, description='where 46327 is a day: "1900" or "1904", from which the spreadsheet counts'
    )
    decimal: Decimals | None = Field(default=None, description='"comma" or "point"')
    zone: Annotated[SiteText, AfterValidator(_zone)] | None = Field(default=None, description="the time zone")
    client: Names = Field(default=[], description="what tells clients apart, where no number does")
    visit: Names = Field(default=[], description="the columns that tell visits apart; without it: their date")
    wound: Names = Field(default=[], description="the columns that tell wounds apart; without it: wound.id")
    one_client: bool = Field(default=False, description="true where all rows are of one client")
    one_wound: bool = Field(default=False, description="true where each client has one wound only")
    constants: dict[str, str] = Field(default={}, description="path -> what holds for every row")
    long: LongMap | None = Field(default=None, description="of a table with one finding a row: its columns")
    column: list[ColumnMap] = Field(default=[], description="a table for each column")
    item: list[ColumnMap] = Field(default=[], description="of a long table, a table for each finding")

    def guesses(self) -> list[str]:
        """Return the names of columns and items that are still marked as guesses."""
        return [one.name or f"column {one.number}" for one in (*self.column, *self.item) if one.guess]


def read_map(text: str, where: str) -> TableMap:
    """Return the mapping in a TOML text.

    Raises
    ------
    InputError
        For the first place that does not fit, and for what must be decided first.
    """
    return _decided(load_toml(text, TableMap, where, "mapping"), where)


def load_map(path: str | Path) -> TableMap:
    """Return the mapping in a file; see ``read_map``."""
    return read_map(read_text(path, "mapping", ()), str(path))


def as_map(given: TableMap | Mapping[str, Json] | str | Path) -> TableMap:
    """Return a mapping, however a program gives it: checked already, as decoded TOML, or as a file."""
    if isinstance(given, TableMap):
        return given
    if isinstance(given, Mapping):
        return _decided(checked(dict(given), TableMap, "mapping"), "mapping")
    return load_map(given)


def _decided(found: TableMap, where: str) -> TableMap:
    for place, one in _columns(found):
        if (one.name is None) == (one.number is None):
            raise InputError(f"{where}, {place}", "its name or its number", "Write one of the two")
        if (one.to is None) == (one.aside is None):
            raise InputError(f"{where}, {place}", "'to', or 'aside' with a reason", "Write one of the two")
    for path in found.constants:
        if target(path) is None:
            fix = f"Did you mean {near}?" if (near := near_path(path)) else LISTED
            raise InputError(f"{where}, constants", "paths of the record", fix)
    open_ones = list(_undecided(found))
    if open_ones:
        place, expected = open_ones[0]
        more = f"; to decide are: {', '.join(place for place, _ in open_ones)}" if len(open_ones) > 1 else ""
        fix = "Ask whoever made the table, and write the answer in place of decide"
        raise InputError(f"{where}, {place}", expected, fix, found=f"nobody has decided it yet{more}")
    return found


def _columns(found: TableMap) -> Iterable[tuple[str, ColumnMap]]:
    yield from ((f"column {number}", one) for number, one in enumerate(found.column, 1))
    yield from ((f"item {number}", one) for number, one in enumerate(found.item, 1))


def _undecided(found: TableMap) -> Iterable[tuple[str, str]]:
    forms = "day first, month first or year first"
    if found.dates == DECIDE:
        yield "dates", forms
    if found.day_numbers == DECIDE:
        yield "day_numbers", '"1900" or "1904", the year from which the spreadsheet of the table counts days'
    if found.zone == DECIDE:
        yield "zone", 'a time zone such as America/Toronto, or "none"'
    for place, one in _columns(found):
        if one.dates == DECIDE:
            yield f"{place}.dates", forms
        if one.zone == DECIDE:
            yield f"{place}.zone", 'a time zone such as America/Toronto, or "none"'
        if one.system == DECIDE:
            yield f"{place}.system", 'the address (URI) of what gives the number, or "none"'
