"""CSV for a spreadsheet: cells that it would read as a formula, made harmless and read back as they were.

A cell that begins with ``= + - @``, a tab or a line end may be run as a formula (OWASP, "CSV Injection"). Guarded, it
begins with an apostrophe, and so does a cell that begins with one; a table of ours says in its column ``guarded`` that
it is so, and reading takes the apostrophe away again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

#: The column that says so, and what stands in it.
GUARDED, YES = "guarded", "yes"
#: What a spreadsheet takes for the beginning of a formula, with its full-width forms, and the mark itself.
_BEGINNINGS = tuple("=+-@\t\r\n＝＋－＠'")
_MARK = "'"
_on: ContextVar[bool] = ContextVar("guarded", default=False)


@contextmanager
def guarding() -> Iterator[None]:
    """Let tables be written guarded."""
    token = _on.set(True)
    try:
        yield
    finally:
        _on.reset(token)


def is_guarding() -> bool:
    """Whether tables are written guarded."""
    return _on.get()


def guard(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula.

    Examples
    --------
    >>> guard("=1+1"), guard("4.1 cm"), guard("'tis"), unguard(guard("-2"))
    ("'=1+1", '4.1 cm', "''tis", '-2')
    """
    return _MARK + cell if cell.startswith(_BEGINNINGS) else cell


def unguard(cell: str) -> str:
    """Turn ``guard`` back."""
    return cell.removeprefix(_MARK)


def cells(row: Iterable[object]) -> list[str]:
    """Return the cells of a row as they are to be written: guarded where tables are."""
    texts = ["" if cell is None else str(cell) for cell in row]
    return [guard(text) for text in texts] if _on.get() else texts
