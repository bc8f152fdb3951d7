"""What is carried word for word: a Basic of ours, both directions, and what goes into it that a format cannot say."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from woundfhir.fhir.elements import extension
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.write_context import Resource, WriteContext
from woundfhir.record import History
from woundfhir.record.canonical import as_json, from_json, sort_extra

Json = Any
Item = Mapping[str, str]
#: An item of ``extra`` that is carried as it stands there, and is that item again when it is read.
WHOLE, _UNSAYABLE = "extra", "this format cannot say it"


def carry(out: WriteContext, items: list[Item]) -> Resource:
    """Return a Basic resource that carries what no FHIR element of ours says, word for word."""
    made = out.head("Basic", "extra", out.terms.meta("kept"))
    made["extension"] = [extension(out.terms.ext("kept-item"), "valueString", as_json(item)) for item in items]
    made["identifier"] = out.identifier("extra")
    made["code"] = out.terms.cc["kept_items"]
    made["subject"] = out.patient
    return made


def carried(source: ReadContext, resource: Resource) -> list[dict[str, str]] | None:
    """Turn the carrier back; None for anybody else's Basic."""
    if source.place(resource) != "extra":
        return None
    url = source.terms.ext("kept-item")
    found = [from_json(e["valueString"]) for e in resource.get("extension", ()) if e.get("url") == url]
    return [from_json(item["came"]) if item.get("from") == WHOLE else item for item in found]


def carried_apart(source: ReadContext, resource: Resource) -> tuple[Resource, list[tuple[str, dict[str, str]]]]:
    """Return the carrier without what it holds, and each thing that it holds: as text, and read."""
    url = source.terms.ext("kept-item")
    form, held = [], []
    for one in resource.get("extension", ()):
        if one.get("url") == url:
            held.append((one["valueString"], from_json(one["valueString"])))
            one = {key: value for key, value in one.items() if key != "valueString"}
        form.append(one)
    return {**resource, "extension": form}, held


# -- what a format cannot say ----------------------------------------------------------------------


def made_sayable(history: History, says: Callable[[Resource, bool], bool]) -> History:
    """Return a history in which what came as FHIR, and a format cannot say, is carried word for word.

    Parameters
    ----------
    says
        Whether the format can say a resource, and whether that was read as a fact: XML cannot say one whose structure
        is broken. One that was no fact must go out whole or not at all: what made it none may be the part left out.
    """

    def sayable(item: Item) -> bool:
        if "element" in item:
            return says({"resourceType": item["from"].split("/")[0], item["element"]: from_json(item["came"])}, True)
        if item.get("from") == "record" or "value" not in item:
            return True
        return says(from_json(item["value"]), "place" in item or "ours" in item)

    return _held(
        history,
        _with_those_that_name_them(history.extra, {n for n, one in enumerate(history.extra) if not sayable(one)}),
    )


def all_carried(history: History) -> History:
    """Return a history of which everything goes out in our own form: all that came is carried word for word."""
    return _held(history, {n for n, one in enumerate(history.extra) if one.get("from") not in ("record", "server")})


def _held(history: History, numbers: set[int]) -> History:
    kept = [
        {"from": WHOLE, "why": _UNSAYABLE, "came": as_json(item)} if n in numbers else item
        for n, item in enumerate(history.extra)
    ]
    return History({**history.data, "extra": sort_extra(kept)}, history.source)


def with_those_that_hang(items: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return what is kept of an input: what hangs on a wound that is carried, as none, is carried with it."""
    wounds = {n for n, one in enumerate(items) if one.get("came", "").startswith(_WOUNDS)}
    if not wounds:
        return items
    hanging = _with_those_that_name_them(items, wounds) - wounds
    return [
        {("came" if key == "value" else key): value for key, value in one.items()}
        if n in hanging and not {"place", "ours"} & one.keys()
        else one
        for n, one in enumerate(items)
    ]


#: How the JSON begins of what may be a wound.
_WOUNDS = tuple(f'{{"resourceType":"{kind}"' for kind in ("Condition", "BodyStructure"))


def _with_those_that_name_them(items: Sequence[Item], held: set[int]) -> set[int]:
    """Add what refers to a resource that is carried and has no place of ours: alone it would name somebody unknown.

    A size of a wound that does not count would found that wound anew.
    """
    found, todo = set(held), list(held)
    while todo:
        item = items[todo.pop()]
        whole = item.get("value") or (item.get("came") if item.get("from") != WHOLE else None) or ""
        came = from_json(whole) if "place" not in item and whole.startswith('{"resourceType"') else {}
        name = f"{came.get('resourceType')}/{came.get('id')}"
        named = (f'"reference":"{name}"', f'"reference":"{name}/') if isinstance(came.get("id"), str) else ()
        for n, other in enumerate(items):
            said = other.get("value") or other.get("came") or ""
            if n not in found and other.get("from") != "record" and any(one in said for one in named):
                found.add(n)
                todo.append(n)
    return found
