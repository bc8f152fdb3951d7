"""Which tables there are, and which columns each has: what ``data/tables.toml`` says, read strictly."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args

from woundfhir.errors import InputError

#: The type of a column, in the words of SQL and Arrow. A decimal has 38 digits, 18 of them behind the point.
Type = Literal["string", "decimal", "integer", "boolean", "date", "timestamp"]
#: The names of the tables; a test holds this against the data.
Name = Literal["facts", "clients", "visits", "wounds", "sizes", "changes", "supplies", "findings", "plans"]
NAMES: tuple[Name, ...] = get_args(Name)
DIGITS, PLACES = 38, 18


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes
    ----------
    name, type
        Its name, and what it holds.
    says
        What it means.
    unit
        UCUM code of all its numbers, where they have one.
    of, gives
        Path of the concept whose answer it holds, and what of that (``woundfhir.flat.cells``); empty where code works
        it out.
    source
        Where the record has it.
    view
        Whether a ViewDefinition can give it from our FHIR.

    Examples
    --------
    >>> one = table_of("facts", "explain").columns[0]
    >>> one.name, one.type
    ('client', 'string')
    """

    name: str
    type: Type
    says: str
    unit: str = ""
    of: str = ""
    gives: str = ""
    source: str = ""
    view: bool = True


@dataclass(frozen=True, slots=True)
class Table:
    """One table.

    Attributes
    ----------
    name, title
        Its names, for programs and for people.
    row
        What one row is.
    key
        The columns that tell its rows apart.
    columns
        In their order.
    view
        The type of the FHIR resource that its ViewDefinition reads; empty where it has none.

    Examples
    --------
    >>> one = table_of("facts", "explain")
    >>> one.key, len(one.columns) > 10
    (('client', 'wound', 'visit', 'concept', 'item', 'number'), True)
    """

    name: Name
    title: str
    row: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    view: str = ""

    def below(self, group: str) -> Iterator[tuple[Column, str]]:
        """Yield the columns that hold an answer of a group of the catalogue, each with the rest of its path."""
        for column in self.columns:
            head, _, rest = column.of.partition(".")
            if head == group:
                yield column, rest

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the columns."""
        return tuple(column.name for column in self.columns)


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads((Path(__file__).parent / "data" / "tables.toml").read_text("utf-8"))


def version() -> str:
    """Return the version of the schema of all tables: columns that are added at the end change its second number.

    Examples
    --------
    >>> version().count(".")
    1
    """
    return str(_data()["version"])


@cache
def tables() -> dict[str, Table]:
    """Return all tables by name.

    Examples
    --------
    >>> tables()["sizes"].names[:6]
    ('client', 'wound', 'wound_id', 'visit', 'visit_id', 'at')
    """
    data = _data()
    found: dict[str, Table] = {}
    for name in NAMES:
        entry = data[name]
        shared = [column for part in entry["parts"] for column in data["parts"][part].items()]
        listed = (*shared, *entry["columns"].items())
        columns = tuple(Column(key, **{"source": column.get("of", ""), **column}) for key, column in listed)
        found[name] = Table(name, entry["title"], entry["row"], tuple(entry["key"]), columns, entry.get("view", ""))
    return found


def table_of(name: str, where: str = "table") -> Table:
    """Return a table by its name.

    Raises
    ------
    InputError
        Where there is none of this name; it says which one is near.

    Examples
    --------
    >>> table_of("sizes").key
    ('client', 'wound', 'visit')
    >>> table_of("size")
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: table: there is no such table; expected one of facts, clients, visits, wounds, sizes, \
changes, supplies, findings, plans. Did you mean sizes?
    """
    found = tables().get(name)
    if found is None:
        near = get_close_matches(name.casefold(), NAMES, 1, 0.5)
        fix = f"Did you mean {near[0]}?" if near else "Choose one of them"
        raise InputError(where, "one of " + ", ".join(NAMES), fix, found="there is no such table")
    return found
