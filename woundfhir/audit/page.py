"""An audit as one self-contained HTML page: the counts first, the picture, then the tables."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from woundfhir.audit.count import Audit, data
from woundfhir.audit.picture import picture
from woundfhir.audit.tables import Table, headline, tables
from woundfhir.language import ENGLISH, spoken

_STYLE = """
@page { size: letter; margin: 16mm; }
* { box-sizing: border-box; }
body { font: 12pt/1.4 "DejaVu Sans", Verdana, Arial, sans-serif; color: #000; background: #fff; margin: 0 auto;
  max-width: 56rem; padding: 1rem; }
h1 { font-size: 22pt; margin: 0 0 .3rem; }
h2 { font-size: 16pt; margin: 1.6rem 0 .4rem; break-after: avoid; }
svg { max-width: 100%; height: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .25rem .6rem .25rem 0; border-bottom: 1px solid #000; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; }
tr { break-inside: avoid; }
"""


def as_html(audit: Audit) -> bytes:
    """Return the page; it needs nothing else and runs nothing."""
    return "".join(f"{line}\n" for line in _lines(audit)).encode()


def _lines(audit: Audit) -> Iterator[str]:
    texts = data()["texts"]
    yield "<!DOCTYPE html>"
    yield f'<html lang="{"en-CA" if spoken() is ENGLISH else spoken().tag}">'
    yield '<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
    yield "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
    yield f"<title>{escape(texts['title'])}</title><style>{_STYLE}</style></head>"
    yield f"<body><main><h1>{escape(texts['title'])}</h1>"
    for line in headline(audit):
        yield f"<p>{escape(line)}</p>"
    if audit.total.notes:
        yield picture(audit).decode()
    for table in tables(audit):
        if table.rows:
            yield from _table(table)
    yield f"<p>{escape(texts['caution'])}</p></main></body></html>"


def _table(table: Table) -> Iterator[str]:
    columns = data()["columns"]
    numbers = [key not in ("name", "title") for key in table.columns]
    yield f"<h2>{escape(table.title)}</h2><table><thead><tr>"
    for key, number in zip(table.columns, numbers, strict=True):
        yield f'<th scope="col"{_N if number else ""}>{escape(columns[key])}</th>'
    yield "</tr></thead><tbody>"
    for row in table.rows:
        cells = "".join(
            f"<td{_N if number else ''}>{escape(cell)}</td>" for cell, number in zip(row, numbers, strict=True)
        )
        yield f"<tr>{cells}</tr>"
    yield "</tbody></table>"


_N = ' class="n"'
