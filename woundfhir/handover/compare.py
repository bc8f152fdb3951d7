"""What differs clinically between two records, in words: by wound, by visit, by the labels of the catalogue.

Two ways of writing the same answer (4.1 cm and 4.10 cm; a word and its synonym; one moment in two offsets) are
kept apart from two answers: nothing is hidden, and nothing is called a difference that is none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from operator import itemgetter
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS, ENTRY_LISTS, Concept, catalogue
from woundfhir.chart.time import Clock
from woundfhir.collector import resting
from woundfhir.fhir.losses import BOOKKEEPING
from woundfhir.handover.difference import Difference, Kind
from woundfhir.handover.signed import SIGNED
from woundfhir.handover.texts import say
from woundfhir.r4.definitions import resource_types
from woundfhir.record import History, dates, quantity
from woundfhir.record.canonical import as_json
from woundfhir.record.labels import Labels
from woundfhir.record.shapes import in_sentence
from woundfhir.texts import tables

Json = Any


@resting()
def compare(a: History, b: History) -> list[Difference]:
    """Return what differs between two records of one client.

    Parameters
    ----------
    a, b
        The two records; wounds and visits are matched by their ids.

    Returns
    -------
    list of Difference
        The client first, then the wounds in the order of A and those of B alone, then the visits in time order.

    Examples
    --------
    >>> base = {"woundfhir": 1, "patient": {"born": "1948-03"}, "wounds": [{"id": "W1", "site": "sacrum"}]}
    >>> other = {**base, "wounds": [{"id": "W1", "site": "heel"}], "visits": [{"id": "V8"}]}
    >>> [one.line(show_values=True) for one in compare(History.of(base), History.of(other))]
    ['W1: site sacrum in A, heel in B', 'only in B: visit V8']
    """
    found = list(client(a.patient, b.patient))
    names = Labels(a, b, "B")
    found += _leaf(say("difference.record"), say("key.zone"), "zone", a.data.get("zone"), b.data.get("zone"))
    for mine, other, wound_id in _pairs(a.wounds, b.wounds, "id"):
        place = names.wound(wound_id)
        found += _whole(place, f"wounds[{wound_id}]", mine, other) or wound(place, mine, other)
    for mine, other, visit_id in _in_time(a, b):
        found += _whole(names.visit(visit_id), f"visits[{visit_id}]", mine, other) or visit(names, mine, other)
    found += _kept(a, b)
    return found


def same(a: Json, b: Json, concept: Concept | None = None) -> bool:
    """Whether two answers say the same, though perhaps in another form.

    Examples
    --------
    >>> same("4.1 cm", "4.10 cm"), same("4.1 cm", "41 mm"), same("2026-03-02T10:00:00-05:00", "2026-03-02T15:00:00Z")
    (True, False, True)
    """
    if a == b:
        return True
    if not isinstance(a, str) or not isinstance(b, str):
        return False
    one, other = quantity.parse(a), quantity.parse(b)
    if one and other:
        return (one.comparator, one.value, one.unit) == (other.comparator, other.value, other.unit)
    if concept is not None and concept.answers is not None:
        word = concept.answers.find(a)
        return word is not None and word is concept.answers.find(b)
    first, second = dates.moment(a), dates.moment(b)
    return bool(first and second and first.tzinfo and second.tzinfo and first == second)


# -- the parts of a record -------------------------------------------------------------------------


def client(a: Mapping[str, Json], b: Mapping[str, Json]) -> Iterator[Difference]:
    """Yield what differs about the client."""
    for key in dict.fromkeys((*a, *b)):
        yield from _answer(say("difference.client"), None, key, f"patient.{key}", a.get(key), b.get(key))


def wound(place: str, a: Mapping[str, Json], b: Mapping[str, Json]) -> Iterator[Difference]:
    """Yield what differs about one wound as such; ``place`` is what it is called."""
    yield from _fields(place, catalogue().groups["wound"], f"wounds[{a['id']}]", a, b, skip=("id",))


def visit(names: Labels, a: Mapping[str, Json], b: Mapping[str, Json]) -> Iterator[Difference]:
    """Yield what differs between two versions of one visit: its head, then the client, then wound by wound."""
    path = f"visits[{a['id']}]"
    called = names.visit(a["id"])
    yield from head_and_client(called, a, b)
    for mine, other, wound_id in _pairs(a.get("wounds", ()), b.get("wounds", ()), "wound"):
        place, inner = f"{names.wound(wound_id)}, {called}", f"{path}.wounds[{wound_id}]"
        yield from _whole(place, inner, mine, other) or entry(place, inner, mine, other)


def head_and_client(place: str, a: Mapping[str, Json], b: Mapping[str, Json]) -> Iterator[Difference]:
    """Yield what differs between two versions of one visit apart from the wounds; ``place`` is what it is called."""
    path, groups = f"visits[{a['id']}]", catalogue().groups
    yield from _fields(place, groups["visit"], path, a, b, skip=("id", "client", "wounds"))
    yield from _fields(place, groups["client"], f"{path}.client", a.get("client", {}), b.get("client", {}))


def entry(place: str, path: str, a: Mapping[str, Json], b: Mapping[str, Json]) -> Iterator[Difference]:
    """Yield what differs between two entries for one wound at one visit."""
    groups = catalogue().groups
    for key in ENTRY_GROUPS:
        yield from _fields(place, groups[key], f"{path}.{key}", a.get(key, {}), b.get(key, {}))
    for key, group in ENTRY_LISTS.items():
        yield from _items(place, key, groups[group], f"{path}.{key}", a.get(key), b.get(key))
    yield from _answer(place, None, "note", f"{path}.note", a.get("note"), b.get("note"))


# -- answers ---------------------------------------------------------------------------------------


def _fields(
    place: str,
    concepts: Mapping[str, Concept],
    path: str,
    a: Mapping[str, Json],
    b: Mapping[str, Json],
    *,
    under: str = "",
    skip: tuple[str, ...] = (),
) -> Iterator[Difference]:
    for key in dict.fromkeys((*a, *b)):
        if key not in skip:
            yield from _answer(place, concepts.get(key), key, f"{path}.{key}", a.get(key), b.get(key), under)


def _answer(
    place: str, concept: Concept | None, key: str, path: str, a: Json, b: Json, under: str = ""
) -> Iterator[Difference]:
    label = under + (in_sentence(concept.label) if concept else _label(key))
    fields = concept.fields if concept else {}
    if concept is not None and concept.is_group and isinstance(a, dict) and isinstance(b, dict) and not _absent(a, b):
        yield from _fields(place, fields, path, a, b, under=f"{label}, ")
    elif concept is not None and concept.is_group and isinstance(a, list) and isinstance(b, list):
        yield from _items(place, key, fields, path, a, b, label)
    else:
        yield from _leaf(place, label, path, a, b, concept)


def _label(key: str) -> str:
    """A key that no concept names, in words."""
    return str(tables("woundfhir.handover")["key"].get(key, key.replace("_", " ")))


def _items(
    place: str, key: str, concepts: Mapping[str, Concept], path: str, a: Json, b: Json, label: str | None = None
) -> Iterator[Difference]:
    """Lists of things: what is the same on both sides is set aside, the rest is held against each other in order."""
    mine, other = list(a or ()), list(b or ())
    left, right = _unmatched(mine, other), _unmatched(other, mine)
    name = label or key
    for (_, one), (n, two) in zip(left, right, strict=False):
        yield from _fields(place, concepts, f"{path}[{n}]", one, two, under=f"{_item(name, n)}, ")
    for n, one in left[len(right) :]:
        yield Difference(place, _item(name, n), f"{path}[{n}]", "only in A", words(one))
    for n, one in right[len(left) :]:
        yield Difference(place, _item(name, n), f"{path}[{n}]", "only in B", None, words(one))
    if not left and not right and mine != other:
        yield Difference(place, name, path, "written differently", words(mine), words(other))


def _item(name: str, number: int) -> str:
    return say("difference.item", name=name, number=number + 1)


def _unmatched(items: list[Json], others: list[Json]) -> list[tuple[int, Json]]:
    """Return the items (with their places) that have no partner, each partner taken once."""
    free, out = list(others), []
    for number, item in enumerate(items):
        if item in free:
            free.remove(item)
        else:
            out.append((number, item))
    return out


def _leaf(place: str, label: str, path: str, a: Json, b: Json, concept: Concept | None = None) -> Iterator[Difference]:
    if a == b:
        return
    if a is None or b is None:
        yield Difference(place, label, path, "only in B" if a is None else "only in A", words(a), words(b))
    else:
        kind: Kind = "written differently" if same(a, b, concept) else "differs"
        yield Difference(place, label, path, kind, words(a), words(b))


def words(answer: Json) -> str | None:
    """Return any answer in words.

    Examples
    --------
    >>> words({"absent": "declined"}), words({"granulation": "60 %", "slough": "40 %"}), words(["dry", "macerated"])
    ('not recorded (declined)', 'granulation 60 %, slough 40 %', 'dry, macerated')
    """
    if answer is None or isinstance(answer, str):
        return answer
    if isinstance(answer, dict):
        if answer.keys() == {"absent"}:
            return say("difference.absent", reason=words(answer["absent"]))
        if answer == {"none": "known"}:
            return say("difference.none_known")
        return ", ".join(f"{str(key).replace('_', ' ')} {words(item)}" for key, item in answer.items())
    return (", " if all(isinstance(item, str) for item in answer) else "; ").join(str(words(item)) for item in answer)


def _absent(a: Mapping[str, Json], b: Mapping[str, Json]) -> bool:
    return {"absent"} in (a.keys(), b.keys())


def _pairs(a: Json, b: Json, key: str) -> Iterator[tuple[Json, Json, str]]:
    mine, other = {item[key]: item for item in a}, {item[key]: item for item in b}
    for name in dict.fromkeys((*mine, *other)):
        yield mine.get(name), other.get(name), name


def _in_time(a: History, b: History) -> list[tuple[Json, Json, str]]:
    """The visits of both, in the order of time that the chart gives them."""
    pairs = list(_pairs(a.visits, b.visits, "id"))
    notes = [mine or other for mine, other, _ in pairs]
    clock = Clock(a.data.get("zone") or b.data.get("zone"), (note.get("at") for note in notes))
    order = [clock.when(note.get("at"), note.get("written")).order for note in notes]
    return [pair for _, pair in sorted(zip(order, pairs, strict=True), key=itemgetter(0))]


def _whole(place: str, path: str, a: Json, b: Json) -> list[Difference]:
    if a is not None and b is not None:
        return []
    return [Difference(place, "", path, "only in B" if a is None else "only in A")]


def _kept(a: History, b: History) -> Iterator[Difference]:
    """What was kept as received on one side and is not on the other: it may be clinical, nobody has understood it."""
    mine, other = ({as_json(item): (number, item) for number, item in enumerate(side.extra)} for side in (a, b))
    for kind, here, there in (("only in A", mine, other), ("only in B", other, mine)):
        for text, (number, item) in here.items():
            if text not in there and item.get("why") not in (SIGNED, BOOKKEEPING):
                of = item.get("from", "").partition("/")[0]
                path = f"extra[{number}]"
                where = say("difference.extra", place=path, type=of) if of in resource_types() else path
                yield Difference(say("difference.kept"), where, f"extra[{number}]", kind)  # type: ignore[arg-type]
