"""A code that names one thing, and a display, a text or a second code beside it another: they contradict each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Any

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.catalogue.model import Word
from woundfhir.catalogue.spelling import same_form
from woundfhir.chart.sides import sides_named
from woundfhir.fhir.elements import objects, texts_of
from woundfhir.fhir.reasons import Reason
from woundfhir.fhir.terms import code_keys, terms
from woundfhir.maps import Table, Target

Json = Any
Resource = dict[str, Json]
WHY = Reason("conflict", "a display that names another entry than its code")
TEXT = Reason("conflict", "a text that names another answer than its code")
TWO_CODES = Reason("conflict", "two codes that name different entries")
SIDES = Reason("conflict", "the left and the right side of the body are both named")
_READ = ("Observation", "Condition", "Procedure")
#: Elements that can be left aside while the rest is read, and whether two codes of one must mean one thing: a second
#: code of a place is often a wider or a closer one.
_APART = {"bodySite": False, "stage": True}
#: Tags by which the words of a list are degrees of one thing.
_DEGREES = ("level:", "stage:")


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
    if (whole := _why(resource, came, table)) is not None:
        return resource, whole, []
    made, left = resource, []
    parts = resource.get("component")
    for number, part in enumerate(parts if isinstance(parts, list) else ()):
        if isinstance(part, dict) and (why := _why(part, came["component"][number], table)) is not None:
            items = list(made["component"])
            items[number] = {"code": {}}
            made = {**made, "component": items}
            left.append((f"component[{number}]", why))
    for key, one_code in _APART.items():
        apart = _why_part(made.get(key), came.get(key), table, one_code=one_code)
        apart = apart or (SIDES if key == "bodySite" and names_both_sides(made) else None)
        if apart is not None:
            made = {name: value for name, value in made.items() if name != key}
            left.append((key, apart))
    return made, None, left


def _why(holder: Resource, came: Json, table: Table) -> Reason | None:
    """Why a resource or a component contradicts itself in its code or its answer, if it does."""
    keys = ("code", "valueCodeableConcept")
    before = came if isinstance(came, Mapping) else {}
    reasons = (_why_concept(holder.get(key), before.get(key), table) for key in keys)
    return next(filter(None, reasons), None)


def _why_concept(concept: Json, came: Json, table: Table, *, one_code: bool = True) -> Reason | None:
    if _contradicts(concept, table):
        return WHY
    if one_code and names_two(came, table):
        return TWO_CODES
    return TEXT if says_another(came, table) else None


def _why_part(found: Json, came: Json, table: Table, *, one_code: bool) -> Reason | None:
    pairs = zip(_concepts(found), _concepts(came), strict=False)
    reasons = (_why_concept(one, other, table, one_code=one_code) for one, other in pairs)
    return next(filter(None, reasons), None)


def names_both_sides(resource: Mapping[str, Json]) -> bool:
    """Whether a resource of others names the left and the right for one place of the body, in codes or in words.

    What a nurse wrote in a record of ours comes back as it stands; ``check`` asks about it (SE56).

    Examples
    --------
    >>> site = {"coding": [{"system": "http://snomed.info/sct", "code": "7771000"}], "text": "right hip"}
    >>> [names_both_sides({"resourceType": "Observation", "bodySite": one}) for one in (site, {"text": "right hip"})]
    [True, False]

    A wound is at one place, so all its places count, and its own words; a dressing may be changed on both legs.

    >>> both = {"bodySite": [{"text": "left heel"}, {"text": "right heel"}]}
    >>> [names_both_sides({"resourceType": kind, **both}) for kind in ("Condition", "Procedure")]
    [True, False]
    >>> left = {"url": "urn:side", "valueCodeableConcept": {"coding": site["coding"]}}
    >>> names_both_sides({"resourceType": "Condition", "bodySite": [{"text": "right heel"}], "extension": [left]})
    True
    """
    if terms().is_ours(resource) or "bodySite" not in resource:
        return False
    named = [_sides(concept) | _beside(concept) for concept in _concepts(resource["bodySite"])]
    if resource.get("resourceType") == "Condition":
        named = [frozenset().union(_beside(resource), *named, *map(_sides, _concepts(resource.get("code"))))]
    return any(len(sides) > 1 for sides in named)


def _sides(concept: Mapping[str, Json]) -> frozenset[str]:
    """Which of left and right the codes and the words of a concept name."""
    return _coded_sides(concept).union(*map(sides_named, texts_of(concept)))


def _beside(holder: Mapping[str, Json]) -> frozenset[str]:
    """Which of left and right the codes of the extensions of an element name, whatever their address."""
    concepts = (one.get("valueCodeableConcept") for one in objects(holder, "extension"))
    return frozenset().union(*(_coded_sides(one) for one in concepts if isinstance(one, Mapping)))


def _coded_sides(concept: Mapping[str, Json]) -> frozenset[str]:
    listed = catalogue().concept("wound.side").answers
    coded = [listed.by_code.get(key) for key in code_keys(concept)] if listed is not None else []
    return frozenset({word.word for word in coded if word is not None} & {"left", "right"})


def says_another(concept: Json, table: Table) -> bool:
    """Whether the text of a concept is another answer of the list than its codes mean.

    R4, CodeableConcept.text: what the user saw, chose or typed. It often says more than its code ("heavy" beside
    Large), so only what cannot both be so is another: two degrees, two stages, none beside something.

    Examples
    --------
    >>> from woundfhir.maps import shipped
    >>> moderate = {"system": "http://snomed.info/sct", "code": "6736007"}
    >>> [says_another({"coding": [moderate], "text": text}, shipped()) for text in ("copious", "moderate", "soaked it")]
    [True, False, False]
    """
    if not isinstance(concept, Mapping) or not isinstance(text := concept.get("text"), str):
        return False
    meant: dict[str, set[str]] = {}
    for system, code in code_keys(concept):
        for one in table.meaning(str(system), str(code)):
            if one.read and one.target is not None and one.target.kind == "answer":
                meant.setdefault(one.target.slot, set()).add(one.target.name)
    known = catalogue()
    said = {slot: word for slot in meant if (word := known.answers[slot].find(text)) is not None}
    if any(word.key in meant[slot] for slot, word in said.items()):
        return False
    return any(all(_excludes(word, known.word(one)) for one in meant[slot]) for slot, word in said.items())


def _excludes(one: Word, other: Word) -> bool:
    """Whether two different words of a list cannot both be so."""
    degrees = [{tag for tag in word.tags if tag.startswith(_DEGREES)} for word in (one, other)]
    return "none" in (one.word, other.word) or (all(degrees) and degrees[0] != degrees[1])


def names_two(concept: Json, table: Table) -> bool:
    """Whether two codes of one concept mean exactly two data elements of ours, or two answers of one list.

    Examples
    --------
    >>> from woundfhir.maps import shipped
    >>> both = [{"system": "http://loinc.org", "code": code} for code in ("39126-8", "39125-0")]
    >>> names_two({"coding": both}, shipped()), names_two({"coding": both[:1]}, shipped())
    (True, False)
    """
    if len(keys := code_keys(concept)) < 2:
        return False
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
    for coding in objects(concept, "coding") if isinstance(concept, Mapping) else ():
        display = coding.get("display")
        if isinstance(display, str) and _other(table, str(coding.get("system")), str(coding.get("code")), display):
            return True
    return False


@per_catalogue(maxsize=4096)
def _other(table: Table, system: str, code: str, display: str) -> bool:
    """Whether a display is the name of another concept, or of another answer of a list in which the code has one."""
    mine = {one.target for one in table.meaning(system, code) if one.target is not None}
    named = _named().get(same_form(display), frozenset())
    if not named or mine & named:
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
