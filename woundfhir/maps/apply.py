"""Codes of others beside the entry of the catalogue that they are read as: the view of a resource that readers see."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from woundfhir.maps.model import Mapping
from woundfhir.maps.table import Table

Json = Any
Path = tuple[Any, ...]
_CODE = re.compile(rb'"code":"([^"\\]*)"')


class Applied(NamedTuple):
    """One code that a map decided: where it stands, and by which line."""

    path: Path
    mapping: Mapping


def codes_in(text: bytes, table: Table) -> tuple[bytes, ...]:
    """Return the codes in an input, as JSON without blanks, that a map may decide, each in its quotes.

    Most of ours have none, and a resource without any of them need not be looked through.

    Examples
    --------
    >>> from woundfhir.maps.table import shipped
    >>> codes_in(b'{"code":"399912005"}', shipped()), codes_in(b'{"code":"1163215007"}', shipped())
    ((b'"399912005"',), ())
    """
    found = dict.fromkeys(_CODE.findall(text))
    return tuple(b'"%b"' % code for code in found if code.decode("utf-8", "replace") in table.codes)


def applied(value: Json, table: Table) -> tuple[Json, list[Applied]]:
    """Return a value in which each mapped code has, beside it, what it is read as; and which codes those were.

    Codes stay at their places, so that a path leads to the same code in both; what the catalogue has and a site's
    map reads otherwise loses its system, so that the site's word stands.

    Examples
    --------
    >>> from woundfhir.maps.table import shipped
    >>> came = {"code": {"coding": [{"system": "http://snomed.info/sct", "code": "399912005"}]}}
    >>> made, found = applied(came, shipped())
    >>> made["code"]["coding"][1]["code"], found[0].path
    ('wound_kind/pressure injury', ('code', 'coding', 0))
    """
    found: list[Applied] = []
    return _value(value, (), table, found), found


def _value(value: Json, path: Path, table: Table, found: list[Applied]) -> Json:
    if isinstance(value, dict):
        made = value
        for key, item in value.items():
            if not isinstance(item, dict | list):
                continue
            new = _coding(item, (*path, key), table, found) if key == "coding" else item
            new = _value(new, (*path, key), table, found) if new is item else new
            if new is not item:
                made = {**made, key: new}
        return made
    if isinstance(value, list):
        items = [_value(item, (*path, number), table, found) for number, item in enumerate(value)]
        return items if any(new is not old for new, old in zip(items, value, strict=True)) else value
    return value


def _coding(codings: Json, path: Path, table: Table, found: list[Applied]) -> Json:
    if not isinstance(codings, list):
        return codings
    made, added = list(codings), []
    present = {(one.get("system"), one.get("code")) for one in codings if isinstance(one, dict)}
    for number, coding in enumerate(codings):
        if not isinstance(coding, dict):
            continue
        key = (coding.get("system"), coding.get("code"))
        if not isinstance(key[0], str) or not isinstance(key[1], str) or key not in table.by_code:
            continue
        if key not in table.overruled and not present.isdisjoint(table.beside.get(key, ())):
            continue  # written beside a code that says more exactly what is meant
        for mapping in table.by_code[key]:
            if mapping.read and mapping.target is not None:
                added.append(mapping.target.coding.fhir())
                found.append(Applied((*path, number), mapping))
        if key in table.overruled:
            made[number] = {name: item for name, item in coding.items() if name != "system"}
    return [*made, *added] if added or made != codings else codings
