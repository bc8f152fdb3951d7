"""A page of the guide as a terminal shows it: text filled to the width, tables in columns, code as it stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate
from typing import NamedTuple

from markdown_it.token import Token

from woundfhir.guide.site import tokens
from woundfhir.report.text import styled

#: Blanks between two columns, and before a block of code.
_GAP, _CODE = 2, 4
#: Styles by the name that Markdown's parser gives.
_INLINE = {"strong": "bold", "em": "underline", "link": ""}
_HEADINGS = {"h1": "bold underline", "h2": "bold", "h3": "bold", "h4": "dim"}


class Word(NamedTuple):
    """A word and its style; ``close`` where no blank stands between it and the one before."""

    text: str
    style: str
    close: bool = False


def laid_out(markdown: str, width: int, *, colour: bool) -> str:
    """Return a page for a terminal.

    Parameters
    ----------
    width
        The most characters of a line; code and what cannot be parted may be longer.
    colour
        Whether to mark headings and the like by the codes of ANSI terminals.

    Examples
    --------
    >>> print(laid_out("## A title\\n\\n- one `two`\\n- three", 40, colour=False), end="")
    A title
    <BLANKLINE>
      • one two
      • three
    """
    blocks = ["\n".join(_shown(line, colour) for line in block) for block in _blocks(tokens(markdown), width)]
    return "\n\n".join(blocks) + "\n"


def _shown(line: Sequence[Word], colour: bool) -> str:
    parts = (f"{'' if word.close or not number else ' '}{_word(word, colour)}" for number, word in enumerate(line))
    return "".join(parts).rstrip()


def _word(word: Word, colour: bool) -> str:
    return styled(word.text, word.style) if colour else word.text


def _blocks(found: Sequence[Token], width: int) -> Iterator[list[list[Word]]]:
    """Yield the blocks of a page: paragraphs, whole lists, tables, code."""
    number = 0
    while number < len(found):
        token = found[number]
        end = _end(found, number)
        inner = found[number + 1 : end]
        match token.type:
            case "heading_open":
                yield _filled([word._replace(style=_HEADINGS[token.tag]) for word in _words(inner[0])], width)
            case "paragraph_open":
                yield _filled(_words(inner[0]), width)
            case "bullet_list_open" | "ordered_list_open":
                yield list(_list(inner, width, 1 if token.type.startswith("ordered") else None))
            case "blockquote_open":
                inside = _blocks(inner, width - 2)
                yield [[Word("│", "dim"), *line] for block in inside for line in block]
            case "table_open":
                yield list(_table(inner, width))
            case "fence" | "code_block":
                yield [[Word(" " * _CODE + line, "cyan")] for line in token.content.splitlines()]
        number = end + 1


def _end(found: Sequence[Token], number: int) -> int:
    """The place of the token that closes the block which begins here."""
    depth = list(accumulate(token.nesting for token in found[number:]))
    return number + depth.index(0)


def _list(inner: Sequence[Token], width: int, first: int | None) -> Iterator[list[Word]]:
    number = 0
    while number < len(inner):
        end = _end(inner, number)
        mark = "•" if first is None else f"{first}."
        room = width - len(mark) - 3
        lines = [line for block in _blocks(inner[number + 1 : end], room) for line in block]
        for place, line in enumerate(lines):
            yield [Word(f"  {mark if place == 0 else ' ' * len(mark)}", ""), *line]
        first = None if first is None else first + 1
        number = end + 1


def _words(inline: Token) -> list[Word]:
    """The words of running text; an address that is no page of ours stands behind its words."""
    out: list[Word] = []
    styles: list[str] = []
    close, address = True, ""
    for token in inline.children or ():
        if token.nesting == 1:
            styles.append(_INLINE.get(token.tag, "") or _INLINE.get(token.type.removesuffix("_open"), ""))
            address = str(token.attrs.get("href", ""))
        elif token.nesting == -1:
            styles.pop()
            if token.type == "link_close" and address.startswith("http"):
                out.append(Word(f"({address})", "dim"))
        else:
            text = token.content if token.type in ("text", "code_inline", "image") else " "
            style = "cyan" if token.type == "code_inline" else " ".join(filter(None, styles))
            words = text.split()
            out += [
                Word(word, style, close and not place and not text[0].isspace()) for place, word in enumerate(words)
            ]
            close = bool(text) and not text[-1].isspace()
    return out


def _filled(words: Iterable[Word], width: int) -> list[list[Word]]:
    """Part words into lines; what is close together is not parted."""
    units: list[list[Word]] = []
    for word in words:
        if word.close and units:
            units[-1].append(word)
        else:
            units.append([word._replace(close=False)])
    lines: list[list[Word]] = [[]]
    length = 0
    for unit in units:
        size = sum(len(word.text) for word in unit)
        if lines[-1] and length + 1 + size > width:
            lines.append([])
            length = 0
        length += size + bool(lines[-1])
        lines[-1] += unit
    return lines


def _table(inner: Sequence[Token], width: int) -> Iterator[list[Word]]:
    rows: list[list[list[Word]]] = []
    for token in inner:
        if token.type == "tr_open":
            rows.append([])
        elif token.type == "inline":
            rows[-1].append(_words(token))
    head, rows = rows[0], rows[1:]
    if any(head):  # else a table without words in its head
        rows.insert(0, [[word._replace(style="bold") for word in cell] for cell in head])
    columns = [[row[number] for row in rows] for number in range(len(head))]
    widths = _widths(
        [max(map(_length, column)) for column in columns],
        [max(len(text) for cell in column for text in _units(cell)) for column in columns],
        width,
    )
    for row in rows:
        cells = [_filled(cell, size) for cell, size in zip(row, widths, strict=True)]
        for line in range(max(map(len, cells))):
            yield list(_beside([cell[line] if line < len(cell) else [] for cell in cells], widths))


def _units(words: Iterable[Word]) -> list[str]:
    """What stands between two blanks; at least one text."""
    return "".join(f"{'' if word.close else ' '}{word.text}" for word in words).split() or [""]


def _length(words: Sequence[Word]) -> int:
    return sum(len(word.text) for word in words) + sum(not word.close for word in words[1:])


def _widths(wanted: list[int], least: list[int], width: int) -> list[int]:
    """Share a line among columns: who wants less than an equal share gets it, who needs more gets what it needs.

    Where the line is too short for what all need, it becomes longer.
    """
    given: dict[int, int] = {}
    while len(given) < len(wanted):
        open_ = [number for number in range(len(wanted)) if number not in given]
        share = (width - _GAP * (len(wanted) - 1) - sum(given.values())) // len(open_)
        needy = {number: least[number] for number in open_ if least[number] >= share}
        modest = {number: wanted[number] for number in open_ if wanted[number] <= share}
        given |= needy or modest or dict.fromkeys(open_, share)
    return [given[number] for number in range(len(wanted))]


def _beside(cells: Sequence[Sequence[Word]], widths: Sequence[int]) -> Iterator[Word]:
    for number, (cell, width) in enumerate(zip(cells, widths, strict=True)):
        yield from (word._replace(close=place == 0 or word.close) for place, word in enumerate(cell))
        if number < len(cells) - 1:
            yield Word(" " * (max(0, width - _length(cell)) + _GAP), "", True)
