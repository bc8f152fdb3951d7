"""A sheet of a workbook (XLSX): its cells as what they are, a formula by the value that the workbook keeps."""

from __future__ import annotations

import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.limits import CELL_LENGTH, COLUMNS, LIMIT, readable_size
from woundfhir.record import quantity
from woundfhir.tables.mapping import TableMap
from woundfhir.tables.sheet import Line, Number, Sheet, Stamp, Struck
from woundfhir.tables.unseen import has_struck_fonts, hidden, hidden_sheets

Json = Any
#: How a zip file starts.
ZIP = b"PK\x03\x04"
#: The whole of a workbook may unpack to so many bytes, and it may hold so many parts.
_UNPACKED, _PARTS = 8 * LIMIT, 5_000
_DTD = re.compile(rb"<!\s*(?:DOCTYPE|ENTITY)", re.IGNORECASE)
#: Stands in a cell whose formula the workbook keeps no value of.
FORMULA = "#FORMULA"
#: What is said of notes that stand beside cells.
NOTES = "cells of the workbook have notes, and these are not read: look whether one takes something back"
_FIX = "Open it in a spreadsheet program and save the sheet as CSV"


def is_workbook(content: bytes) -> bool:
    """Whether bytes are a workbook; half of one is none."""
    if not content.startswith(ZIP):
        return False
    try:
        with zipfile.ZipFile(BytesIO(content)) as found:
            return "xl/workbook.xml" in found.namelist() or "[Content_Types].xml" in found.namelist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return b"xl/" in content[:4096]


def open_workbook(content: bytes | Path, where: str, mapping: TableMap | None = None) -> Sheet:
    """Return one sheet of a workbook: that which the mapping names, else the only one with cells.

    Raises
    ------
    InputError
        For what is no workbook, unpacks to too much or declares entities; for several sheets of which none is
        chosen, and for one that is not there.
    """
    source: Any = BytesIO(content) if isinstance(content, bytes) else content.open("rb")
    _bounded(source, where)
    import openpyxl
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and extensions that are not read
            book = openpyxl.load_workbook(source, read_only=True, data_only=True)
            formulas = openpyxl.load_workbook(source, read_only=True) if _has_formulas(source) else None
            name, note = _chosen(book, mapping.sheet if mapping else None, where)
    except InputError:
        raise
    except Exception:  # whatever a broken workbook makes the library raise
        raise InputError(where, "a workbook (XLSX) that can be opened", _FIX) from None
    notices = [NOTES] if _has_notes(source) else []
    if name in hidden_sheets(book):
        notices.append("the sheet is hidden in the workbook: look whether it counts")
    try:
        notices += hidden(source, name)
        struck = has_struck_fonts(source)
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError):
        raise InputError(where, "a workbook (XLSX) that can be opened", _FIX) from None
    several = len(book.sheetnames) > 1
    place = f"{where}, sheet {name}" if several else where
    lines = _lines(book[name], formulas[name] if formulas is not None else None, place, struck)
    counted_from = "1904" if book.epoch == CALENDAR_MAC_1904 else "1900"
    return Sheet(place, "XLSX", lines, note, notices=notices, counted_from=counted_from)


def _bounded(source: Any, where: str) -> None:
    """Refuse a bomb before anything of it is unpacked, and entities before anything is parsed."""
    try:
        with zipfile.ZipFile(source) as found:
            parts = found.infolist()
            if len(parts) > _PARTS or sum(one.file_size for one in parts) > _UNPACKED:
                expected = f"a workbook that unpacks to at most {readable_size(_UNPACKED)}"
                raise InputError(where, expected, "Save the sheet as CSV")
            for one in parts:
                if one.flag_bits & 1:
                    wrong = "it is protected by a password"
                    raise InputError(where, "a workbook that can be opened", "Save it without a password", found=wrong)
                if one.filename.endswith((".xml", ".rels")):
                    with found.open(one) as part:
                        start = part.read(64 * 1024).replace(b"\0", b"")  # in UTF-16 too
                    if _DTD.search(start):
                        wrong = "a part of it declares entities, which no workbook does"
                        raise InputError(where, "a workbook", _FIX, found=wrong)
    except (zipfile.BadZipFile, zlib.error, OSError, ValueError, NotImplementedError, EOFError):
        raise InputError(where, "a workbook (XLSX) that can be opened", _FIX) from None
    except zipfile.LargeZipFile:
        raise InputError(where, "a workbook of ordinary size", "Save the sheet as CSV") from None
    finally:
        source.seek(0)


def _has_formulas(source: Any) -> bool:
    """Whether any sheet has a formula; the values are then looked at twice."""
    with zipfile.ZipFile(source) as found:
        for one in found.namelist():
            if one.startswith("xl/worksheets/") and one.endswith(".xml"):
                with found.open(one) as part:
                    last = b""
                    while chunk := part.read(1 << 20):
                        if b"<f" in last + chunk:
                            return True
                        last = chunk[-1:]
    return False


def _has_notes(source: Any) -> bool:
    """Whether somebody wrote a note to a cell."""
    with zipfile.ZipFile(source) as found:
        return any(re.match(r"xl/(?:threadedComments/|comments)", name) for name in found.namelist())


def _chosen(book: Any, wanted: str | None, where: str) -> tuple[str, list[str]]:
    names = [one.title for one in book.worksheets]
    if wanted is not None:
        if wanted not in names:
            wrong = "it has no sheet of this name"
            raise InputError(f"{where}, sheet", _listed(names), "Correct 'sheet' in the mapping", found=wrong)
        return wanted, [f"the sheet is {wanted}" + (f", one of {len(names)}" if len(names) > 1 else "")]
    filled = [one.title for one in book.worksheets if _is_filled(one)]
    if len(filled) == 1:
        more = f", the only one with cells of {len(names)}" if len(names) > 1 else ""
        return filled[0], [f"the sheet is {filled[0]}{more}"]
    if not filled:
        raise InputError(where, "a sheet with rows", "Look whether it is the right file")
    fix = 'Write sheet = "..." in the mapping, or --sheet with map table'
    away = hidden_sheets(book)
    shown = [f"{one} (hidden)" if one in away else one for one in filled]
    raise InputError(where, _listed(shown), fix, found=f"it has {len(filled)} sheets with rows")


def _listed(names: list[str]) -> str:
    return "one of the sheets " + ", ".join(names[:20])


def _is_filled(sheet: Any) -> bool:
    for number, row in enumerate(sheet.iter_rows(values_only=True)):
        if any(value is not None for value in row):
            return True
        if number > 1000:
            break
    return False


def _lines(sheet: Any, formulas: Any, where: str, struck: bool) -> Iterator[Line]:
    rows = sheet.iter_rows()
    behind = formulas.iter_rows(values_only=True) if formulas is not None else None
    try:
        for number, row in enumerate(rows, 1):
            written = next(behind, ()) if behind is not None else ()
            if len(row) > COLUMNS:
                yield Line(number, [], f"it has more than {COLUMNS:,} cells")
                continue
            cells = [_text(cell) for cell in row]
            if struck:
                cells = [_crossed(cell, text) for cell, text in zip(row, cells, strict=True)]
            lost = [at for at, value in enumerate(written) if str(value).startswith("=") and not cells[at]]
            for at in lost:
                cells[at] = FORMULA
            while cells and not cells[-1]:
                cells.pop()
            yield Line(number, cells)
    except InputError:
        raise
    except Exception:  # half a sheet, or one that is no XML
        raise InputError(where, "a workbook (XLSX) that can be read to its end", _FIX) from None


def _crossed(cell: Any, text: str) -> str:
    font = getattr(cell, "font", None)  # an empty cell has none
    return Struck(text) if text and font is not None and font.strike else text


def _text(cell: Any) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()[:CELL_LENGTH]
    if isinstance(value, (int, float)) and not isinstance(value, bool) and "%" in (cell.number_format or ""):
        share = Decimal(str(_short(value))) * 100
        return Number(f"{quantity.plain(int(share) if share == int(share) else share.normalize())} %")
    return as_text(value)


def as_text(value: Json) -> str:
    """Return a typed value of a cell as text; dates, times and numbers remember that they are.

    Examples
    --------
    >>> as_text(datetime(2026, 3, 2, 10, 5)), as_text(0.1 + 0.2), as_text(True), as_text(4.0)
    ('2026-03-02T10:05', '0.3', 'yes', '4')
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        whole = value.replace(microsecond=0)
        if whole.tzinfo is None and (whole.hour, whole.minute, whole.second) == (0, 0, 0):
            return Stamp(whole.date().isoformat())
        return Stamp(whole.isoformat() if whole.second else whole.isoformat(timespec="minutes"))
    if isinstance(value, date):
        return Stamp(value.isoformat())
    if isinstance(value, time):
        return Stamp(value.isoformat(timespec="minutes"))
    if isinstance(value, timedelta):
        minutes = int(value.total_seconds() // 60)
        return Stamp(f"{minutes // 60:02d}:{minutes % 60:02d}")
    if isinstance(value, (int, float, Decimal)):
        return "" if value != value else Number(quantity.plain(_short(value)))
    return str(value).strip()


def _short(value: int | float | Decimal) -> int | Decimal:
    """A binary number as a spreadsheet shows it: 15 digits, no zero after a whole number."""
    if isinstance(value, float):
        found = Decimal(format(value, ".15g"))
        return int(found) if found == found.to_integral_value() and abs(found) < 10**15 else found
    return value
