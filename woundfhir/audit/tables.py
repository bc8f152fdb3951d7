"""An audit as tables: on the terminal, as CSV, as JSON. One list of rows serves all of them."""

from __future__ import annotations

import csv
from io import StringIO
from typing import Any, NamedTuple

from woundfhir.audit.count import PARTS, Audit, Count, data
from woundfhir.r4 import jsonio
from woundfhir.record.guarded import cells
from woundfhir.report.text import COLUMNS

Json = Any
#: So many rows of a part are shown on the terminal; CSV, HTML and JSON have all.
MOST = 20
_OF_NOTES = ("name", "notes", "complete", "share", "safety", "answered", "add", "look")
_OF_RULES = ("name", "found", "notes", "title")


class Table(NamedTuple):
    """One part of an audit: its key, title, columns and rows."""

    key: str
    title: str
    columns: tuple[str, ...]
    rows: list[tuple[str, ...]]


def tables(audit: Audit) -> list[Table]:
    """Return the parts of an audit, rules by how often they spoke, weeks in order, the rest by number of notes."""
    words = data()
    rules = sorted(audit.rules.items(), key=lambda one: (one[1].severity != "caution", -one[1].found, one[0]))
    found = [
        Table(
            "rule",
            words["parts"]["rule"],
            _OF_RULES,
            [(code, str(r.found), str(r.notes), r.title) for code, r in rules],
        )
    ]
    for part in PARTS:
        counts = audit.parts[part]
        order = sorted(counts) if part == "week" else sorted(counts, key=lambda name: (-counts[name].notes, name))
        found.append(Table(part, words["parts"][part], _OF_NOTES, [_row(name, counts[name]) for name in order]))
    return found


def _row(name: str, count: Count) -> tuple[str, ...]:
    numbers = (count.safety, count.answered, count.add, count.look)
    return (name, str(count.notes), str(count.complete), per_cent(count.share), *map(str, numbers))


def per_cent(share: float | None) -> str:
    """Return a share in whole per cent; never 100 where something is missing, never 0 where something is there.

    Examples
    --------
    >>> per_cent(0.999), per_cent(1.0), per_cent(0.001), per_cent(None)
    ('99 %', '100 %', '1 %', '')
    """
    if share is None:
        return ""
    if share in (0, 1):
        return f"{int(share) * 100} %"
    return f"{min(99, max(1, round(share * 100)))} %"


def headline(audit: Audit) -> list[str]:
    """Return the opening lines: how many notes, how many complete, safety prompts."""
    texts, total = data()["texts"], audit.total
    if not total.notes:
        lines = [texts["nothing"]]
    else:
        share = per_cent(total.share)
        counted = {"records": audit.records, "notes": total.notes, "drafts": audit.drafts, "complete": total.complete}
        lines = [
            texts["summary"].format(share=share, **counted),
            texts["safety"].format(standing=total.safety, answered=total.answered),
        ]
    return [*lines, *([texts["unread"].format(count=audit.unread)] if audit.unread else [])]


def as_text(audit: Audit) -> str:
    """Return the audit for a terminal."""
    columns = data()["columns"]
    lines = headline(audit)
    for table in tables(audit):
        if not table.rows:
            continue
        rows = [tuple(columns[key] for key in table.columns), *table.rows[:MOST]]
        widths = [max(len(row[index]) for row in rows) for index in range(len(table.columns))]
        lines += ["", table.title]
        for row in rows:
            cells = [
                cell.ljust(width) if key in ("name", "title") else cell.rjust(width)
                for key, cell, width in zip(table.columns, row, widths, strict=True)
            ]
            line = ("  " + "  ".join(cells)).rstrip()
            lines.append(line if len(line) <= COLUMNS else f"{line[: COLUMNS - 2].rstrip()} …")
        if len(table.rows) > MOST:
            lines.append("  " + data()["texts"]["more"].format(count=len(table.rows) - MOST))
    return "".join(f"{line}\n" for line in [*lines, "", data()["texts"]["caution"]])


def as_csv(audit: Audit) -> bytes:
    """Return one table for a spreadsheet: part, name, then a column for each number; empty where it has none."""
    out = StringIO()
    keys = ("found", *_OF_NOTES[1:])
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("part", "name", *keys, "title"))
    total = ("all", _row("", audit.total))
    rows = [(total[0], dict(zip(_OF_NOTES, total[1], strict=True)))]
    rows += [(table.key, dict(zip(table.columns, row, strict=True))) for table in tables(audit) for row in table.rows]
    for part, row in rows:
        numbers = (row.get(key, "").removesuffix(" %") for key in keys)
        writer.writerow(cells((part, row.get("name", ""), *numbers, row.get("title", ""))))
    return out.getvalue().encode()


def as_json(audit: Audit) -> bytes:
    """Return the audit for a program."""
    made: Json = {
        "version": 1,
        "records": audit.records,
        "drafts": audit.drafts,
        "unread": audit.unread,
        "answered_with_who_and_when": audit.total.answered,
        "all": _plain(audit.total),
        "rules": {code: vars(one) for code, one in sorted(audit.rules.items())},
        **{part: {name: _plain(one) for name, one in sorted(audit.parts[part].items())} for part in PARTS},
    }
    return jsonio.encode_readable(made)


def _plain(count: Count) -> Json:
    return {**vars(count), "share": None if count.share is None else round(count.share, 4)}
