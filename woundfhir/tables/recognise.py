"""Whether a file is a table, and the message for one that came without a mapping."""

from __future__ import annotations

from collections import Counter
from io import BytesIO
from itertools import islice
from pathlib import Path

from woundfhir.errors import InputError
from woundfhir.tables.layout import Laid, lay_out
from woundfhir.tables.reading import open_table
from woundfhir.tables.text import open_text
from woundfhir.tables.vocabulary import meaning
from woundfhir.tables.workbook import ZIP, is_workbook

_HEAD = 64 * 1024
#: A table has so many rows at least, and so many of them have as many cells.
_ROWS, _ALIKE = 2, 0.6
#: A lone line is a header where so many of its cells are names of columns.
_NAMED = 3


def is_table(content: bytes) -> bool:
    """Whether bytes are a workbook, or text in rows of as many cells.

    Examples
    --------
    >>> is_table(b"a;b;c\\n1;2;3\\n4;5;6\\n"), is_table(b"Dear team,\\nshe is well\\n"), is_table(b"one line, only")
    (True, False, False)
    """
    if content.startswith(ZIP):
        return is_workbook(content)
    head = content[:_HEAD]
    if len(content) > _HEAD:
        head = head[: head.rfind(b"\n") + 1] or head
    try:
        lines = [line for line in islice(open_text(BytesIO(head), "head").lines, 40) if not line.blank]
    except InputError:
        return False
    widths = Counter(len(line.cells) for line in lines if not line.fault)
    widths.pop(1, None)
    width, rows = max(widths.items(), key=lambda one: one[1], default=(0, 0))
    if len(lines) == 1:  # a header without rows is said to be that
        known = [found for cell in lines[0].cells if (found := meaning(cell)) is not None]
        return sum(found.rests_on == "the header" for found in known) >= _NAMED
    if rows < _ROWS or rows < _ALIKE * len(lines):
        return False
    filled = sum(sum(map(bool, line.cells)) for line in lines if len(line.cells) == width)
    return 3 * filled >= rows * width  # what stands between separators is something


def no_mapping(content: bytes | Path, where: str) -> InputError:
    """Return the error of a table without a mapping: what was recognised, and the command that writes one."""
    name = "FILE" if where in ("standard input", "input", "text", "content") else where
    command = f"woundfhir map table {name} -o mapping.toml"
    fix = f"Write one with `{command}`, read it through, and give it with --map mapping.toml"
    expected = "a mapping that says what its columns mean"
    try:
        laid = lay_out(open_table(content, where))
    except InputError as error:
        return error
    return InputError(where, expected, fix, found=f"it is a table of others ({_recognised(laid)})")


def _recognised(laid: Laid) -> str:
    """What was recognised, in one line; the words of the header may be a client's, so columns have numbers."""
    alike = []
    for number, header in enumerate(laid.header, 1):
        if (found := meaning(header)) is not None:
            alike.append(f"{number} like {found.paths[0]}")
    form = [one.removeprefix("cells are separated by ").removeprefix("the text is ") for one in laid.sheet.forms()]
    shown = ", ".join(alike[:4]) + (f" and {len(alike) - 4} more" if len(alike) > 4 else "")
    columns = f"{len(laid.header)} columns" + (f", column {shown}" if alike else "")
    return "; ".join([*form, f"header in row {laid.number}", columns])
