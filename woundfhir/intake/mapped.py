"""What a site's maps say, of codes and of tables, holds while something is read."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from woundfhir import maps


@contextmanager
def using(paths: Iterable[str | os.PathLike[str]]) -> Iterator[None]:
    """Read by these maps: TOML says what the columns of a table mean, anything else what codes mean.

    Parameters
    ----------
    paths
        Files, or folders of files of both kinds.

    Raises
    ------
    InputError
        For what is no map; says where, and what was expected.
    """
    tables: list[Path] = []
    codes: list[Path] = []
    for path in map(Path, paths):
        found = sorted(path.rglob("*.toml")) if path.is_dir() else [path] if path.suffix.lower() == ".toml" else []
        tables += found
        if not found or (path.is_dir() and any(one.suffix.lower() in maps.SUFFIXES for one in path.rglob("*"))):
            codes.append(path)
    with ExitStack() as held:
        if codes:
            held.enter_context(maps.using(codes))
        if tables:
            from woundfhir.tables.in_force import using as reading_tables

            held.enter_context(reading_tables(tables))
        yield
