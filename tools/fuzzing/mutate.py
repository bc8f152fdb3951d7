"""Hostile variants of a good input: of a tree (JSON, YAML), of a table, of XML, of bytes."""

from __future__ import annotations

import contextlib
import copy
import csv
import io
import json
import re

MARK = "Zqx7mark"
HOSTILE = [
    None,
    True,
    False,
    0,
    -1,
    1e308,
    10**40,
    -(10**40),
    0.1,
    "",
    " ",
    "\0",
    "\u0000x",
    "\ufeff",
    "\ud800",
    "é",
    "e\u0301",
    "4.10 cm",
    "1e999 cm",
    "NaN",
    "Infinity",
    "-0 cm",
    "٤ cm",
    "1e9 cm",
    "99999999999999999999 cm",
    "1/0",
    "²",
    "①",
    "2026-02-30",
    "0000-00-00",
    "9999-12-31T23:59:60Z",
    "10000-01-01",
    "2026-03-02T10:05",
    "2026-03-02T24:00:00+14:00",
    "2026-03-02T10:05:00+99:99",
    "../../etc/passwd",
    "=cmd|' /C calc'!A0",
    "<script>alert(1)</script>",
    '<div xmlns="http://www.w3.org/1999/xhtml"><script/></div>',
    "http://[::1",
    "urn:uuid:",
    "#",
    "#x",
    "Patient/",
    [],
    {},
    [None],
    [[]],
    [{}],
    {"": ""},
    {"absent": "not assessed"},
    {"absent": []},
    {"resourceType": "Patient"},
    "a" * 5000,
    MARK,
    MARK + " 4 cm",
    "\u202eabc",
    "\\",
    "a.b",
    "a\\.b",
    "1",
    "0",
    "-",
    "*",
    "{}",
    "W1",
    "V1",
    "none",
]
KEYS = [
    "id",
    "_id",
    "",
    "resourceType",
    "extension",
    "modifierExtension",
    "value",
    "_value",
    "status",
    "text",
    "contained",
    "wounds",
    "visits",
    "patient",
    "extra",
    "absent",
    "zone",
    "replaces",
    "at",
    "assessment",
    "care",
    "unit",
    "code",
    "a.b",
    "reference",
    "entry",
    "meta",
    "div",
    "1",
    "0",
    "-1",
    "é",
    MARK,
    "fullUrl",
    "note",
    "subject",
    "focus",
    "component",
]


def nodes(value, path=()):
    """Yield the path of every value in a tree."""
    yield path
    if isinstance(value, dict):
        for key in value:
            yield from nodes(value[key], (*path, key))
    elif isinstance(value, list):
        for n in range(len(value)):
            yield from nodes(value[n], (*path, n))


def at(value, path):
    """Return the value at a path."""
    for step in path:
        value = value[step]
    return value


def mutate_tree(rng, tree, times, other=None):
    """Return a copy of a tree of dicts and lists with so many changes; a part of another tree may come into it."""
    tree = copy.deepcopy(tree)
    for _ in range(times):
        paths = [p for p in nodes(tree) if p]
        if not paths:
            return tree
        path = rng.choice(paths)
        box, key = at(tree, path[:-1]), path[-1]
        kind = rng.randrange(13)
        if kind == 12 and other is not None:
            box[key] = copy.deepcopy(at(other, rng.choice(list(nodes(other)))))
        elif kind < 4:
            box[key] = copy.deepcopy(rng.choice(HOSTILE))
        elif kind == 4:
            del box[key]
        elif kind == 5:
            box[key] = [box[key]]
        elif kind == 6:
            box[key] = {rng.choice(KEYS): box[key]}
        elif kind == 7 and isinstance(box, list):
            box.append(copy.deepcopy(box[key]))
        elif kind == 8 and isinstance(box, dict):
            box[rng.choice(KEYS)] = copy.deepcopy(rng.choice(HOSTILE))
        elif kind == 9 and isinstance(box, dict):
            box[rng.choice(KEYS)] = box.pop(key)
        elif kind == 10:
            other = rng.choice(paths)
            with contextlib.suppress(KeyError, IndexError, TypeError):
                box[key] = copy.deepcopy(at(tree, other))
        elif isinstance(box[key], str):
            text = box[key]
            spot = rng.randrange(len(text) + 1)
            box[key] = (
                text[:spot]
                + rng.choice(["\0", "\n", " ", "é", "9", "-", ".", "\u2028", MARK, "\x1b[31m", "\r"])
                + text[spot + rng.randrange(2) :]
            )
    return tree


def mutate_bytes(rng, data, times):
    """Return bytes with so many changes."""
    data = bytearray(data)
    for _ in range(times):
        if not data:
            break
        spot = rng.randrange(len(data))
        kind = rng.randrange(7)
        if kind == 0:
            data[spot] = rng.randrange(256)
        elif kind == 1:
            del data[spot : spot + rng.randrange(1, 40)]
        elif kind == 2:
            data[spot:spot] = rng.choice(
                [
                    b"\0",
                    b"\xff",
                    b"\xef\xbb\xbf",
                    b"\r",
                    b"\n",
                    b"&x;",
                    b"<!--",
                    b"]]>",
                    b"<?x?>",
                    b'"',
                    b"{",
                    b"[",
                    b"NaN",
                    b"1e999",
                    b"1e999999999",
                    b"\\ud800",
                    b"&a",
                    b"*a",
                    b"!!python/object:os.system ",
                    b"---\n",
                    b"%YAML 9\n",
                    b"\t",
                    b"<a>",
                    b"\xc0\x80",
                    b"\xed\xa0\x80",
                ]
            )
        elif kind == 3:
            end = min(len(data), spot + rng.randrange(1, 300))
            data[spot:spot] = data[spot:end]
        elif kind == 4:
            data = data[:spot]
        elif kind == 5:
            data[spot] ^= 1 << rng.randrange(8)
        else:
            other = rng.randrange(len(data))
            data[spot:spot] = data[other : other + 60]
    return bytes(data)


def mutate_csv(rng, data, times):
    """Return a table as CSV with so many changes of cells, rows and headers."""
    try:
        rows = list(csv.reader(io.StringIO(data.decode("utf-8", "replace"), newline="")))
    except csv.Error:
        return mutate_bytes(rng, data, times)
    for _ in range(times):
        if not rows:
            break
        row = rng.randrange(len(rows))
        if not rows[row]:
            continue
        cell = rng.randrange(len(rows[row]))
        kind = rng.randrange(6)
        if kind < 2:
            rows[row][cell] = str(rng.choice(HOSTILE))
        elif kind == 2:
            rows[row].insert(cell, str(rng.choice(KEYS)))
        elif kind == 3:
            del rows[row][cell]
        elif kind == 4:
            rows.insert(row, list(rows[row]))
        else:
            rows[0] = rows[0] or [""]
            rows[0][min(cell, len(rows[0]) - 1)] = rng.choice(
                [
                    "patient",
                    "patient.1",
                    "wound.id.x",
                    "assessment..x",
                    "visit.id.1",
                    "a\\.b",
                    "extra.1.x",
                    "assessment.length.1",
                    "patient.0",
                    "care.1.2.3",
                    "wound.1",
                    MARK,
                ]
            )
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue().encode("utf-8", "surrogatepass")


XML_BITS = [
    b'<extension url="x"><valueString value="y"/></extension>',
    b'<modifierExtension url="x"><valueBoolean value="true"/></modifierExtension>',
    b"<contained><Patient/></contained>",
    b'<id value="' + b"a" * 100 + b'"/>',
    b'<x:y xmlns:x="urn:x"/>',
    b"<![CDATA[x]]>",
    b"<value/>",
    b'<value value="1e999999999"/>',
    b'<status value="entered-in-error"/>',
    b"text",
    b'<div xmlns="http://www.w3.org/1999/xhtml"><script>x</script></div>',
]
_TAG = re.compile(rb"<[^>]+>")


def mutate_xml(rng, data, times):
    """Return XML with so many tags added, taken out, doubled or given other values."""
    for _ in range(times):
        tags = [m.span() for m in _TAG.finditer(data)]
        if not tags:
            return data
        start, end = rng.choice(tags)
        kind = rng.randrange(5)
        if kind == 0:
            data = data[:end] + rng.choice(XML_BITS) + data[end:]
        elif kind == 1:
            data = data[:start] + data[end:]
        elif kind == 2:
            data = data[:end] + data[start:end] + data[end:]
        elif kind == 3:
            value = (
                str(rng.choice(HOSTILE))
                .replace("&", "&amp;")
                .replace('"', "&quot;")
                .replace("<", "&lt;")
                .encode("utf-8", "replace")
            )
            data = (
                data[:start]
                + re.sub(rb'value="[^"]*"', b'value="' + value.replace(b"\\", rb"\\\\") + b'"', data[start:end])
                + data[end:]
            )
        else:
            other = rng.choice(tags)
            data = data[:start] + data[other[0] : other[1]] + data[end:]
    return data


def dump(tree):
    """Return a tree as JSON, lone surrogates and all."""
    return json.dumps(tree, ensure_ascii=False).encode("utf-8", "surrogatepass")
