"""Lines for a terminal that is narrower than they are."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap

#: The width that reports are made for; a terminal at least as wide shows them as they are.
WIDE = 100
_LEAST = 30
_STYLED = re.compile(r"((?:\x1b\[[0-9;]*m)*)(.*?)((?:\x1b\[0m)?)")


def width() -> int:
    """Return how wide a line may be: at most ``WIDE``, and on a terminal no wider than that (COLUMNS, or its own)."""
    if not sys.stdout.isatty():
        return WIDE
    return max(_LEAST, min(WIDE, shutil.get_terminal_size((WIDE, 24)).columns))


def narrowed(text: str) -> str:
    """Return text whose lines fit the terminal, parted between words, each with the indent of the line it goes on."""
    if (most := width()) == WIDE:
        return text
    return "".join(f"{part}\n" for line in text.splitlines() for part in _parts(line, most))


def _parts(line: str, most: int) -> list[str]:
    """Part one line; its colours stand around every part."""
    found = _STYLED.fullmatch(line)
    before, words, after = found.groups() if found else ("", line, "")
    indent = words[: len(words) - len(words.lstrip())] + "  "
    parts = textwrap.wrap(words, most, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    return [f"{before}{part}{after}" for part in parts or [words]]
