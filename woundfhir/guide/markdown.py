"""Small pieces of Markdown for the pages that are made."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from typing import Any

#: What Markdown would take for more than itself: anywhere, at the edge of a word, at the start of a line.
_MARKS = re.compile(r"[\\*\[<|]|(?<!\w)_|_(?!\w)|^[#>+-](?= )")


def plain(text: object) -> str:
    """Return a text as Markdown that shows it; what stands between backticks stays code.

    Examples
    --------
    >>> print(plain("a <b> of `x_y` and x_y"))
    a \\<b> of `x_y` and x_y
    """
    parts = str(text).split("`")
    if len(parts) % 2 == 0:
        return _MARKS.sub(r"\\\g<0>", str(text)).replace("`", "\\`")
    return "`".join(_MARKS.sub(r"\\\g<0>", part) if number % 2 == 0 else part for number, part in enumerate(parts))


def code(text: object) -> str:
    """Return a text as code inside a line, also in a cell of a table.

    Examples
    --------
    >>> code("a|b"), code("")
    ('`a\\\\|b`', '')
    """
    said = str(text)
    if not said:
        return ""
    fence = "``" if "`" in said else "`"
    return f"{fence}{said}{fence}".replace("|", "\\|")


def block(text: str, kind: str = "text") -> str:
    """Return lines as a block of code."""
    fence = "````" if "```" in text else "```"
    return f"{fence}{kind}\n{text.rstrip()}\n{fence}"


def shown(value: Any) -> str:
    """Return data as a block of JSON."""
    return block(json.dumps(value, ensure_ascii=False, indent=2), "json")


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table; empty without rows.

    Examples
    --------
    >>> print(table(("a", "b"), [("1", "2")]))
    | a | b |
    |---|---|
    | 1 | 2 |
    """
    lines = [f"| {' | '.join(' '.join(cell.split()) for cell in row)} |" for row in rows]
    return "\n".join((f"| {' | '.join(head)} |", f"|{'---|' * len(head)}", *lines)) if lines else ""


def page(title: str, *parts: str) -> str:
    """Return a page of a title and its parts; an empty part is left out."""
    return "\n\n".join((f"# {title}", *(part for part in parts if part))) + "\n"
