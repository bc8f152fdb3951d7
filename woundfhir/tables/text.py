"""A table in text: encoding and separator found, every row on its own, so that a broken one breaks no other."""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import chain, islice
from typing import BinaryIO

from woundfhir.errors import InputError
from woundfhir.limits import CELL_LENGTH, COLUMNS
from woundfhir.tables.mapping import TableMap
from woundfhir.tables.sheet import Line, Sheet

#: What may stand between two cells, the likelier one first where two fit alike.
SEPARATORS = "\t;|,"
#: A cell may run over so many lines; an open quote that is not closed by then is a fault of its own row.
_RUN = 100
_HEAD = 40
_SPLIT = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")
_NAMED = re.compile(r'"?sep=(.)"?\s*', re.IGNORECASE)
_NAMES = {"\t": "tabs", ";": "semicolons", "|": "vertical bars", ",": "commas"}
_UNCLOSED = "a quotation mark is opened and not closed"


def open_text(stream: BinaryIO, where: str, mapping: TableMap | None = None) -> Sheet:
    """Return the table in a stream of bytes.

    Parameters
    ----------
    stream
        Anything that ``read`` gives bytes of; it is read as the rows are asked for.
    where
        Its name, for messages.
    mapping
        Its ``separator`` and ``encoding`` hold where they are given.

    Raises
    ------
    InputError
        For an encoding that nobody knows, and for what is no text.

    Examples
    --------
    >>> import io
    >>> found = open_text(io.BytesIO("Nom;Né le\\nA;1948\\n".encode("cp1252")), "a.csv")
    >>> [line.cells for line in found.lines], found.forms()
    ([['Nom', 'Né le'], ['A', '1948']], ['cells are separated by semicolons', 'the text is Windows-1252 (1 line)'])
    """
    decoder = _Decoder(where, mapping.encoding if mapping else None)
    lines = decoder.lines(stream)
    head = list(islice(lines, _HEAD))
    found: list[str] = []
    separator = mapping.separator if mapping and mapping.separator else None
    first = next((line for line in head if line.strip()), "")
    if (named := _NAMED.fullmatch(first)) is not None:
        separator = separator or named[1]
        head = ["\n" if line is first else line for line in head]
    separator = separator or _separator(head)
    found.append(f"cells are separated by {_NAMES.get(separator, 'the character that the mapping names')}")
    return Sheet(where, "CSV", _rows(chain(head, lines), separator, where), found, decoder.described)


class _Decoder:
    """Bytes to lines of text: UTF-8, byte for byte Windows-1252 where it is none; UTF-16 by its mark or its zeros."""

    def __init__(self, where: str, encoding: str | None) -> None:
        self.where, self.encoding = where, encoding
        self.odd = 0
        if encoding is not None:
            try:
                codecs.lookup(encoding)
            except LookupError:
                fix = "Write utf-8, utf-16, cp1252 or latin-1"
                raise InputError(where, "an encoding that Python knows", fix) from None

    def described(self) -> str:
        """Return what was found so far, in words."""
        if self.encoding is not None and self.encoding != "utf-8-sig":
            return f"the text is {self.encoding.upper()}"
        odd = f"{self.odd} {'line' if self.odd == 1 else 'lines'}"
        return f"the text is Windows-1252 ({odd})" if self.odd else "the text is UTF-8"

    def lines(self, stream: BinaryIO) -> Iterator[str]:
        """Yield line after line, each with its end."""
        start = stream.read(4096)
        if self.encoding is None:
            self.encoding = _marked(start)
        whole = "utf-16" if self.encoding and self.encoding.startswith("utf-16") else self.encoding
        decode = self._mixed if self.encoding is None or self.encoding == "utf-8-sig" else None
        decoder = None if decode else codecs.getincrementaldecoder(str(whole and self.encoding))("replace")
        rest, chunk, begin = b"", start, True
        text = ""
        while chunk:
            if b"\0" in chunk and decoder is None:
                raise InputError(self.where, "a table as text", "Save it as CSV, UTF-8", found="it holds zero bytes")
            if decoder is None:
                *ready, rest = (rest + chunk).splitlines(keepends=True)
                if rest.endswith(b"\n"):
                    ready, rest = [*ready, rest], b""
                if len(rest) > 4 * CELL_LENGTH:
                    raise InputError(self.where, f"lines of at most {4 * CELL_LENGTH:,} bytes", "Split the table")
                for line in ready:
                    yield self._mixed(line.removeprefix(codecs.BOM_UTF8) if begin else line)
                    begin = False
            else:
                found = _SPLIT.findall(text + decoder.decode(chunk))
                text = found.pop() if found else ""
                if begin and found:
                    found[0], begin = found[0].removeprefix("\ufeff"), False
                if len(text) > 4 * CELL_LENGTH:
                    raise InputError(self.where, f"lines of at most {4 * CELL_LENGTH:,} characters", "Split the table")
                yield from found
            chunk = stream.read(1 << 16)
        if rest:
            yield self._mixed(rest.removeprefix(codecs.BOM_UTF8) if begin else rest)
        if text:
            yield text.removeprefix("\ufeff") if begin else text

    def _mixed(self, line: bytes) -> str:
        try:
            return line.decode("utf-8")
        except UnicodeDecodeError:
            self.odd += 1
            return line.decode("utf-8", _BYTE_BY_BYTE)


_BYTE_BY_BYTE = "woundfhir-windows-1252"


def _byte(error: UnicodeError) -> tuple[str, int]:
    """Read what is no UTF-8 as Windows-1252, and the five bytes that it does not have as Latin-1."""
    if not isinstance(error, UnicodeDecodeError):
        raise error
    some = error.object[error.start : error.end]
    text = "".join(bytes((one,)).decode("cp1252" if one not in b"\x81\x8d\x8f\x90\x9d" else "latin-1") for one in some)
    return text, error.end


codecs.register_error(_BYTE_BY_BYTE, _byte)


def _marked(start: bytes) -> str | None:
    """Return the encoding that a byte order mark, or zeros at every other byte, give away."""
    if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if start.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    even, odd = start[0::2].count(0), start[1::2].count(0)
    if max(even, odd) * 3 > len(start) // 2:
        return "utf-16-le" if odd > even else "utf-16-be"
    return None


def _separator(head: Sequence[str]) -> str:
    """Return what stands between the cells: that which gives most rows the same number of them."""

    def fit(separator: str) -> tuple[int, int]:
        widths = Counter(_width(line, separator) for line in head if line.strip())
        widths.pop(1, None)
        width, rows = max(widths.items(), key=lambda one: (one[1] * (one[0] - 1), one[0]), default=(1, 0))
        return rows * (width - 1), -SEPARATORS.index(separator)

    best = max(SEPARATORS, key=fit)
    if best == "," and fit(";")[0] * 2 >= fit(",")[0] > 0:  # 4,2;3,1: decimal commas make cells too
        return ";"
    return best


def _width(line: str, separator: str) -> int:
    try:
        return len(_parsed([line], separator) or [line])
    except csv.Error:  # quotes that this separator makes no sense of
        return 1


def _parsed(lines: Sequence[str], separator: str) -> list[str] | None:
    """Return the cells of one row, None while a quote is open; raise ``csv.Error`` for what is no row."""
    try:
        found = list(csv.reader(lines, strict=True, delimiter=separator))
    except csv.Error as error:
        if "unexpected end" in str(error):
            return None
        raise
    return found[0] if len(found) == 1 else [] if not found else None


def _rows(lines: Iterator[str], separator: str, where: str) -> Iterator[Line]:
    csv.field_size_limit(CELL_LENGTH)
    waiting: list[str] = []
    for number in _count():
        line = waiting.pop(0) if waiting else next(lines, None)
        if line is None:
            return
        if line.count(separator) > COLUMNS:
            yield Line(number, [line[:200].strip()], f"it has more than {COLUMNS:,} cells")
            continue
        run, cells = [line], None
        try:
            while (cells := _parsed(run, separator)) is None and len(run) < _RUN:
                more = waiting.pop(0) if waiting else next(lines, None)
                if more is None:
                    break
                run.append(more)
        except csv.Error:
            cells = None
        if cells is None:
            waiting[:0] = run[1:]
            yield Line(number, [line.strip()], _UNCLOSED)
            continue
        yield Line(number, [cell.strip() for cell in cells])


def _count() -> Iterator[int]:
    number = 0
    while True:
        number += 1
        yield number
