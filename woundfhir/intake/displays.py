"""A code that names one thing, and a display or a second code beside it another: they contradict each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Any

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.catalogue.spelling import same_form
from woundfhir.fhir.came import Reason
from woundfhir.maps import Table, Target

Json = Any
Resource = dict[str, Json]
WHY = Reason("conflict", "a display that names another entry than its code")
TWO_CODES = Reason("conflict", "two codes that name different entries")
_READ = ("Observation", "Condition", "Procedure")
#: Elements that can be left aside while the rest is read.
_APART = ("bodySite", "stage")


def contradicted(
    resource: Resource, came: Resource, table: Table
) -> tuple[Resource, Reason | None, list[tuple[str, Reason]]]:
    """Return a resource without the parts that contradict themselves, why it is none at all, and the parts.

    ``came`` is the resource with its codes as they came, before maps were applied.

    Examples
    --------
    >>> from woundfhir.maps import shipped
    >>> width = {"system": "http://loinc.org", "code": "39126-8", "display": "Width of Wound"}
    >>> came = {"resourceType": "Observation", "code": {"coding": [width]}}
    >>> contradicted(came, came, shipped())[1].why
    'a display that names another entry than its code'
    """
    if resource.get("resourceType") not in _READ:
        return resource, None, []
    if any(_contradicts(resource.get(key), table) for key in ("code", "valueCodeableConcept")):
        return resource, WHY, []
    if any(names_two(came.get(key), table) for key in ("code", "valueCodeableConcept")):
        return resource, TWO_CODES, []
    made, left = resource, []
    parts = resource.get("component")
    for number, part in enumerate(parts if isinstance(parts, list) else ()):
        if isinstance(part, dict) and (why := _part(part, came["component"][number], table)) is not None:
            items = list(made["component"])
            items[number] = {"code": {}}
            made = {**made, "component": items}
            left.append((f"component[{number}]", why))
    for key in _APART:
        found = made.get(key)
        if any(_contradicts(one, table) for one in _concepts(found)):
            made = {name: value for name, value in made.items() if name != key}
            left.append((key, WHY))
    return made, None, left


def _part(part: Resource, came: Json, table: Table) -> Reason | None:
    """Why a component contradicts itself, if it does."""
    if any(_contradicts(part.get(key), table) for key in ("code", "valueCodeableConcept")):
        return WHY
    two = isinstance(came, Mapping) and any(names_two(came.get(key), table) for key in ("code", "valueCodeableConcept"))
    return TWO_CODES if two else None


def names_two(concept: Json, table: Table) -> bool:
    """Whether two codes of one concept mean exactly two data elements of ours, or two answers of one list.

    Examples
    --------
    >>> from woundfhir.maps import shipped
    >>> both = [{"system": "http://loinc.org", "code": code} for code in ("39126-8", "39125-0")]
    >>> names_two({"coding": both}, shipped()), names_two({"coding": both[:1]}, shipped())
    (True, False)
    """
    codings = concept.get("coding") if isinstance(concept, Mapping) else None
    if not isinstance(codings, list) or len(codings) < 2:
        return False
    keys = [(one.get("system"), one.get("code")) for one in codings if isinstance(one, Mapping)]
    named: dict[str, list[set[str]]] = {}
    for system, code in keys:
        meant: dict[str, set[str]] = {}
        for slot, name in _means(table, str(system), str(code)):
            meant.setdefault(slot, set()).add(name)
        for slot, names in meant.items():
            named.setdefault(slot, []).append(names)
    return any(one.isdisjoint(other) for some in named.values() for one, other in combinations(some, 2))


@per_catalogue(maxsize=4096)
def _means(table: Table, system: str, code: str) -> frozenset[tuple[str, str]]:
    """What a code means exactly: a data element (a field under the name of its group), or an answer of a list."""
    exact = [one.target for one in table.meaning(system, code) if one.read and one.loss is None]
    found = (one for one in exact if one is not None and one.kind != "code")
    return frozenset(
        (one.slot, one.name if one.kind == "answer" else ".".join(one.name.split(".")[:2])) for one in found
    )


def _concepts(found: Json) -> Iterator[Json]:
    for one in found if isinstance(found, list) else [found]:
        if isinstance(one, Mapping):
            yield one.get("summary", one)


def _contradicts(concept: Json, table: Table) -> bool:
    codings = concept.get("coding") if isinstance(concept, Mapping) else None
    for coding in codings if isinstance(codings, list) else ():
        if not isinstance(coding, Mapping):
            continue
        system, code, display = (coding.get(key) for key in ("system", "code", "display"))
        said = isinstance(system, str) and isinstance(code, str) and isinstance(display, str) and display.strip()
        if said and _other(table, str(system), str(code), str(display)):
            return True
    return False


@per_catalogue(maxsize=4096)
def _other(table: Table, system: str, code: str, display: str) -> bool:
    """Whether a display is the name of another concept, or of another answer of a list in which the code has one."""
    mine = {one.target for one in table.meaning(system, code) if one.target is not None}
    named = _named().get(same_form(display), frozenset())
    if not mine or not named or mine & named:
        return False
    slots = {one.slot for one in mine}
    return all(one.slot in slots for one in named)


@per_catalogue()
def _named() -> Mapping[str, frozenset[Target]]:
    """What each name of the catalogue names: displays of codes, and the words of lists with their synonyms."""
    known = catalogue()
    found: dict[str, set[Target]] = {}
    for concept in known.concepts(fields=True):
        for coding in concept.codings:
            if coding.display:
                found.setdefault(same_form(coding.display), set()).add(Target("concept", concept.path))
    for name, coding in known.codes.items():
        if coding.display:
            found.setdefault(same_form(coding.display), set()).add(Target("code", name))
    for answers in known.answers.values():
        for word in answers.words:
            displays = [coding.display for coding in word.codings if coding.display]
            for text in (word.word, *word.also, *displays):
                found.setdefault(same_form(text), set()).add(Target("answer", word.key))
    return {name: frozenset(some) for name, some in found.items()}
