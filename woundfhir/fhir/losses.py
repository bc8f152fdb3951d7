"""Nothing is lost: what came in and is not said by the record is kept verbatim, listed, and put back on the way out.

After reading, the record is written again and each resource that came is held against the one we write for
the same place. What differs is kept element by element, with what ours said at the time. On the way out an
element is put back only where ours still says the same: an edited answer is never overwritten by an old one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import msgspec

from woundfhir.catalogue import BASE
from woundfhir.fhir.elements import extension
from woundfhir.fhir.read_context import ReadContext, rename
from woundfhir.fhir.write_context import Resource, WriteContext
from woundfhir.r4.xmltree import Unknown
from woundfhir.record import History
from woundfhir.record.canonical import as_json

Json = Any
_decode = msgspec.json.Decoder(float_hook=Decimal).decode
_VIEWS = frozenset(("document", "computed"))
_WHOLE = "no place in the record"
_SHAPED = "in the record, in another shape"
_ELEMENT = "no place in the record"
_SENDER = "names things in the sender's system"
_WORDED = "said by the record, here in the sender's own form"
UNDEFINED = "no element of FHIR R4"
_SENDERS = frozenset(("id", "meta", "identifier"))


@dataclass(frozen=True, slots=True)
class Loss:
    """One thing that the record does not say: where it was and why it has no place. Never its value."""

    path: str
    source: str
    why: str

    @property
    def line(self) -> str:
        """The loss in one line; a path that is all that is known of it stands once."""
        where = self.source if self.source == self.path else f"{self.source}: {self.path}"
        return f"{where}: {self.why}"


@dataclass(frozen=True, slots=True)
class Losses:
    """What was not understood, and what had to be inferred."""

    items: tuple[Loss, ...] = ()
    inferred: tuple[str, ...] = field(default=())
    #: Computed values of ours: a view of the record, to be recomputed and never trusted.
    computed: tuple[Mapping[str, Json], ...] = ()

    def __len__(self) -> int:
        return len(self.items)

    def lines(self) -> list[str]:
        """Return one line for each."""
        return [item.line for item in self.items] + [f"inferred: {line}" for line in self.inferred]


def report(history: History, inferred: list[str], computed: list[Resource]) -> Losses:
    """Return the losses that a history carries."""
    items = [
        Loss(
            f"{item['from'].split('/')[0]}.{item['element']}" if "element" in item else item["from"].split("/")[0],
            item["from"],
            item.get("why", ""),
        )
        for item in history.extra
        if "from" in item and item["from"] != "record"
    ]
    return Losses(tuple(items), tuple(dict.fromkeys(inferred)), tuple(computed))


def _name(resource: Mapping[str, Json], number: int) -> str:
    return f"{resource.get('resourceType', 'resource')}/{resource.get('id', f'no-id-{number}')}"


# -- in --------------------------------------------------------------------------------------------


def collect(
    source: ReadContext,
    history: History,
    inferred: list[str],
    build: Callable[[History], tuple[list[Resource], WriteContext]],
) -> None:
    """Put everything that the record does not say into its ``extra``."""
    ours, out = build(history)
    by_id = {r["id"]: r for r in ours}
    pairs: list[tuple[Mapping[str, Json], Resource, str]] = []
    extra: list[dict[str, str]] = []
    carried = False
    for number, resource in enumerate(source.resources):
        placed = id(resource) in source.places and id(resource) not in source.reasons
        if placed and by_id.get(str(resource.get("id"))) == resource:  # ours to the letter, and so all of it is said
            continue
        if _own_view(source, resource):
            continue
        kind = resource.get("resourceType")
        if kind == "Basic" and (back := _carried(source, resource)) is not None:
            extra.extend(back)
            carried = True
            continue
        place = source.places.get(id(resource))
        mine = by_id.get(out.id(str(kind), place)) if place is not None else None
        if placed:
            if mine is None:
                extra.append({"from": _name(resource, number), "why": _SHAPED, "value": as_json(resource)})
            else:  # an equal one was passed over above
                pairs.append((resource, mine, str(place)))
        else:
            why = source.reasons.get(id(resource), _WHOLE)
            extra.append({"from": _name(resource, number), "why": why, "value": as_json(resource)})
    extra.extend(_elements(pairs))
    if extra or carried:
        history.keep(extra)


def _own_view(source: ReadContext, resource: Mapping[str, Json]) -> bool:
    """Our own Composition and computed values are views of the record and say nothing that it does not."""
    names = [str(name) for name in (resource.get("meta") or {}).get("profile", ())]
    return any(name.startswith(BASE) and name.rsplit("/", 1)[-1] in _VIEWS for name in names)


def _elements(pairs: list[tuple[Mapping[str, Json], Resource, str]]) -> list[dict[str, str]]:
    """Return one item for each element that ours does not say the same way."""
    renamed = {
        f"{mine['resourceType']}/{mine['id']}": f"{came['resourceType']}/{came['id']}"
        for came, mine, _ in pairs
        if "id" in came and came["id"] != mine["id"]
    }
    out = []
    for came, mine, place in pairs:
        said = rename(mine, renamed) if renamed else mine
        for key, value in came.items():
            if key not in said or not covers(said[key], value):
                why = _SENDER if key in _SENDERS else _WORDED if key in said else _ELEMENT
                item = {
                    "from": f"{came['resourceType']}/{came.get('id', '')}",
                    "place": place,
                    "element": key,
                    "why": why,
                }
                item["came"] = as_json(value)
                if key in mine:
                    item["ours"] = as_json(mine[key])
                out.append(item)
    return out


def keep_undefined(history: History, found: Sequence[Unknown]) -> list[str]:
    """Keep what R4 does not define and XML cannot say, word for word, and return a line for each.

    It has no element to be put back into: on the way out it is carried along with the rest.
    """
    if found:
        history.keep({"from": one.path, "why": UNDEFINED, "came": one.text} for one in found)
    return [f"{one.path}: {UNDEFINED}" for one in found]


def covers(ours: Json, came: Json) -> bool:
    """Whether ours says all that came says: every member and, in order, every item of it.

    Examples
    --------
    >>> covers({"text": "left", "coding": [{"code": "7771000"}]}, {"coding": [{"code": "7771000"}]})
    True
    """
    if isinstance(ours, dict) and isinstance(came, dict):
        return all(key in ours and covers(ours[key], value) for key, value in came.items())
    if isinstance(ours, list) and isinstance(came, list):
        rest = iter(ours)
        return all(any(covers(one, item) for one in rest) for item in came)
    return bool(ours == came)


# -- out -------------------------------------------------------------------------------------------


def put_back(resources: list[Resource], history: History, out: WriteContext) -> list[Resource]:
    """Return the resources with everything put back that came and still fits; the rest is carried along."""
    index = {r["id"]: n for n, r in enumerate(resources)}
    made = list(resources)
    rest: list[dict[str, str]] = []
    names: dict[str, str] = {}
    whole: list[Resource] = []
    for item in history.extra:
        if "element" in item:
            kind = item["from"].split("/")[0]
            at = index.get(out.id(kind, item.get("place", "")))
            if at is None or not _fits(resources[at], item):
                rest.append(item)
                continue
            if item["element"] == "id":
                names[f"{kind}/{resources[at]['id']}"] = f"{kind}/{_decode(item['came'])}"
            came = _decode(item["came"])
            names.update(_renamed(resources[at].get(item["element"]), came))
            made[at] = {**made[at], item["element"]: came}
        elif item.get("from") == "record" or item.get("why") == _SHAPED or "value" not in item:
            rest.append(item)
        else:
            whole.append(_decode(item["value"]))
    if rest:
        made.append(_carry(out, rest))
    if names:
        made = [rename(resource, names) for resource in made]
    return made + whole


def _renamed(ours: Json, came: Json) -> dict[str, str]:
    """A reference of theirs to what we name otherwise: all of ours to it take their name."""
    if isinstance(ours, dict) and isinstance(came, dict) and "reference" in ours and "reference" in came:
        return {ours["reference"]: came["reference"]}
    return {}


def _fits(resource: Resource, item: Mapping[str, str]) -> bool:
    """Whether ours still says what it said when the element came."""
    key = item["element"]
    return as_json(resource[key]) == item.get("ours") if key in resource else "ours" not in item


def _carry(out: WriteContext, items: list[dict[str, str]]) -> Resource:
    """A Basic resource that carries what no FHIR element of ours says, word for word."""
    made = out.head("Basic", "extra", out.terms.meta("kept"))
    made["extension"] = [extension(out.terms.ext("kept-item"), "valueString", as_json(item)) for item in items]
    made["identifier"] = out.identifier("extra")
    made["code"] = out.terms.cc["kept_items"]
    made["subject"] = out.patient
    return made


def _carried(source: ReadContext, resource: dict[str, Json]) -> list[dict[str, str]] | None:
    """Turn ``_carry`` back; None for anybody else's Basic."""
    if source.place(resource) != "extra":
        return None
    url = source.terms.ext("kept-item")
    return [_decode(e["valueString"]) for e in resource.get("extension", ()) if e.get("url") == url]
