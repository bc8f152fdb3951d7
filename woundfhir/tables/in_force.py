"""The mappings of tables that hold here, and the one of them that fits a table."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from woundfhir.catalogue import Catalogue, catalogue
from woundfhir.errors import InputError
from woundfhir.tables.layout import lay_out
from woundfhir.tables.mapping import TableMap, load_map
from woundfhir.tables.plan import names, plan
from woundfhir.tables.reading import OfClient, open_table, read_table
from woundfhir.tables.sheet import Sheet

SUFFIX = ".toml"
#: The mappings in force, with the catalogue that they are for: under a site's they are others.
_IN_FORCE: ContextVar[tuple[Catalogue, tuple[TableMap, ...]] | None] = ContextVar("mappings in force", default=None)


def in_force() -> tuple[TableMap, ...]:
    """Return the mappings by which tables are read here."""
    held = _IN_FORCE.get()
    return held[1] if held is not None and held[0] is catalogue() else ()


@contextmanager
def using(paths: Iterable[str | os.PathLike[str]]) -> Iterator[None]:
    """Read tables by these mappings, until the block ends, and for nobody else.

    Raises
    ------
    InputError
        For whatever ``load_map`` refuses.
    """
    found = tuple(load_map(Path(path)) for path in paths)
    token = _IN_FORCE.set((catalogue(), found or in_force()))
    try:
        yield
    finally:
        _IN_FORCE.reset(token)


def read_by(mappings: Sequence[TableMap], content: bytes | Path, where: str) -> Iterator[OfClient]:
    """Yield the clients of a table, read by the one of several mappings whose columns it has.

    Raises
    ------
    InputError
        When none of them fits, or several do; and for whatever ``read_table`` refuses.
    """
    return read_table(content, where, fitting(mappings, lambda one: open_table(content, where, one), where))


def fitting(mappings: Sequence[TableMap], opened: Callable[[TableMap], Sheet], where: str) -> TableMap:
    """Return the one of several mappings whose columns a table has; the only one is not tried.

    Raises
    ------
    InputError
        When none of them fits, or several do.
    """
    if len(mappings) == 1:
        return mappings[0]
    found = [one for one in mappings if _fits(one, opened)]
    if len(found) != 1:
        wrong = f"of the {len(mappings)} mappings given, {len(found) or 'none'} fits its columns"
        raise InputError(where, "one mapping that fits", "Name the mapping of this table with --map", found=wrong)
    return found[0]


def _fits(mapping: TableMap, opened: Callable[[TableMap], Sheet]) -> bool:
    try:
        plan(mapping, lay_out(opened(mapping), mapping, names(mapping)))
    except InputError:
        return False
    return True
