"""What a spreadsheet shows and its values do not say: hidden rows, columns and sheets, cells struck through."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from posixpath import join, normpath
from typing import Any

from lxml import etree

Json = Any
_TAG = re.compile(rb"<(?:\w+:)?(row|col)\b[^<>]*\bhidden\s*=\s*[\"'](?:1|true)[\"'][^<>]*>")
_PLACE = re.compile(rb"\b(r|min|max)\s*=\s*[\"'](\d+)[\"']")
#: So many rows are named; of more, how many.
_NAMED = 10


def hidden_sheets(book: Any) -> set[str]:
    """Return the names of the sheets that a workbook hides."""
    return {one.title for one in book.worksheets if one.sheet_state != "visible"}


def has_struck_fonts(source: Any) -> bool:
    """Whether a workbook (an open file) has a font that is struck through: only then a cell can be."""
    with zipfile.ZipFile(source) as found:
        names = found.namelist()
        return "xl/styles.xml" in names and re.search(rb"<(?:\w+:)?strike\b", found.read("xl/styles.xml")) is not None


def hidden(source: Any, name: str) -> list[str]:
    """Return what a sheet of a workbook (an open file) hides, a sentence each: its rows and its columns are read."""
    rows: list[int] = []
    columns: list[int] = []
    for tag in _tags(source, _part(source, name)):
        places = {key: int(number) for key, number in _PLACE.findall(tag[0])}
        if tag[1] == b"row":
            rows.append(places.get(b"r", 0))
        else:
            first = places.get(b"min", 0)
            columns += range(first, min(places.get(b"max", first), first + _NAMED) + 1)
    return [*_said("row", rows), *_said("column", columns)]


def _said(what: str, places: list[int]) -> Iterator[str]:
    if not places:
        return
    one = len(places) == 1
    more = f" and {len(places) - _NAMED} more" if len(places) > _NAMED else ""
    named = ", ".join(map(str, places[:_NAMED]))
    yield (
        f"{what if one else what + 's'} {named}{more} of the sheet {'is' if one else 'are'} hidden, and read like "
        "every other one: look whether they count"
    )


def _part(source: Any, name: str) -> str | None:
    """Return where in the file a sheet stands (ECMA-376 part 2: by the relation that the workbook names)."""
    with zipfile.ZipFile(source) as found:
        try:
            book = etree.fromstring(found.read("xl/workbook.xml"), etree.XMLParser(resolve_entities=False))
            links = etree.fromstring(found.read("xl/_rels/workbook.xml.rels"), etree.XMLParser(resolve_entities=False))
        except (KeyError, etree.XMLSyntaxError):
            return None
        targets = {one.get("Id"): one.get("Target", "") for one in links}
        for one in book.iter("{*}sheet"):
            if one.get("name") == name:
                target = targets.get(_relation(one), "")
                path = target.lstrip("/") if target.startswith("/") else normpath(join("xl", target))
                return path if path in found.namelist() else None
    return None


def _relation(one: Any) -> str | None:
    return next((value for key, value in one.items() if key.endswith("}id")), None)


def _tags(source: Any, part: str | None) -> Iterator[tuple[bytes, bytes]]:
    """Yield the tags of hidden rows and columns, with what they are, a piece of the part at a time."""
    if part is None:
        return
    with zipfile.ZipFile(source) as found, found.open(part) as opened:
        rest = b""
        while chunk := opened.read(1 << 20):
            text = rest + chunk
            cut = text.rfind(b"<")
            text, rest = text[:cut], text[cut:]
            yield from ((tag[0], tag[1]) for tag in _TAG.finditer(text))
        yield from ((tag[0], tag[1]) for tag in _TAG.finditer(rest))
