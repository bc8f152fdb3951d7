"""Examples of what we write: an answer to each concept, its FHIR, and resources for every profile and extension.

An answer is that of the invented story where it has one, else one made of the examples of its shape, so that every
concept has one and none can go stale. The package carries the resources of a few small invented records: two visits of
the story, one record that holds every field, and what is seldom written.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal, NamedTuple

from woundfhir.catalogue import BASE, ENTRY_GROUPS, ENTRY_LISTS, Concept, catalogue, per_catalogue
from woundfhir.demo import story
from woundfhir.fhir import to_fhir
from woundfhir.handover import bundle
from woundfhir.record import History
from woundfhir.record.files import read_yaml
from woundfhir.record.shapes import shape_of

Json = Any
_BUNDLES: tuple[Literal["document", "collection", "transaction"], ...] = ("document", "collection", "transaction")


class Made(NamedTuple):
    """One answer in FHIR: the resources that it makes or changes, each with what it was without the answer."""

    record: Json
    resources: list[tuple[Json, Json | None]]


def answer(concept: Concept) -> Json:
    """Return an answer to a concept: of the invented story, else made of the examples of its shape.

    Examples
    --------
    >>> answer(catalogue().concept("assessment.length"))
    '5.2 cm'
    """
    charted = _from_story().get(concept.path)
    return _made(concept) if charted is None else charted


def record(concept: Concept, value: Json) -> Json:
    """Return the smallest record that holds one answer, as it is written by hand."""
    return _record("C-0417", {concept.group: {concept.key: value}})


def made(concept: Concept) -> Made:
    """Return the example of a concept in FHIR.

    Examples
    --------
    >>> [new["resourceType"] for new, old in made(catalogue().concept("wound.kind")).resources]
    ['Condition']
    """
    raw = record(concept, answer(concept))
    before = {_key(one): one for one in to_fhir(History.of(record(concept, None)))}
    after = to_fhir(History.of(raw))
    return Made(raw, [(one, before.get(_key(one))) for one in after if before.get(_key(one)) != one])


@per_catalogue()
def resources() -> list[Json]:
    """Return examples of every profile and extension; each reference among them leads to another of them.

    What only a document holds (its Composition, computed values) stands in the Bundle alone.

    Examples
    --------
    >>> {one["resourceType"] for one in resources()} >= {"Patient", "Condition", "Observation", "Procedure", "Bundle"}
    True
    """
    story_, every = History.of(_two_visits()), History.of(_every_field())
    seldom, odd = History.of(_seldom()), History.of(_other_words())
    found = [one for history in (story_, every, seldom) for one in to_fhir(history)]
    return [
        *found,
        *map(_without_tag, to_fhir(odd, dialect="components")),
        *(bundle(seldom, kind) for kind in _BUNDLES),
    ]


def _without_tag(resource: Json) -> Json:
    """A resource of a dialect without the tag that names it: a receiver's terminology does not know that."""
    return {**resource, "meta": {key: value for key, value in resource["meta"].items() if key != "tag"}}


@per_catalogue()
def by_profile() -> dict[str, Json]:
    """Return an example by the address of each profile (a resource) and of each extension (its element).

    Examples
    --------
    >>> by_profile()[f"{BASE}/StructureDefinition/visit"]["resourceType"]
    'Encounter'
    """
    out: dict[str, Json] = {}
    inner = (entry["resource"] for one in resources() for entry in one.get("entry", ()))
    for one in (*resources(), *inner):
        for url in claimed(one):
            out.setdefault(url, one)
        for extension in _extensions(one):
            out.setdefault(extension["url"], extension)
    return out


def claimed(resource: Json) -> list[str]:
    """Return the profiles that an example follows; a transaction claims none, and follows ours."""
    if resource.get("type") == "transaction":
        return [f"{BASE}/StructureDefinition/bundle-transaction"]
    return list(resource.get("meta", {}).get("profile", ()))


# -- the records ---------------------------------------------------------------------------------------


def _record(client: str, answers: Json) -> Json:
    """A record with one wound and one visit, which holds answers by their groups."""
    wound: Json = {"id": "W1", **answers.get("wound", {})}
    entry: Json = {"wound": "W1", **{name: answers[name] for name in ENTRY_GROUPS if name in answers}}
    entry |= {name: [answers[group]] for name, group in ENTRY_LISTS.items() if group in answers}
    visit: Json = {"id": "V1", "at": "2026-03-02T10:05-05:00", "status": "final", **answers.get("visit", {})}
    visit |= {"client": answers["client"]} if "client" in answers else {}
    identifiers = [{"system": "urn:example:clinic", "value": client}]
    visit["wounds"] = [entry]
    return {"woundfhir": 1, "patient": {"identifiers": identifiers}, "wounds": [wound], "visits": [visit]}


def _two_visits() -> Json:
    """The first and the last visit of the invented story."""
    whole = read_yaml(story().decode(), "story.yaml")
    return {**whole, "visits": [whole["visits"][0], whole["visits"][-1]]}


def _every_field() -> Json:
    """Every field of every concept: no note of anybody, but each element once."""
    groups = catalogue().groups.items()
    return _record("C-9001", {name: {key: _made(one) for key, one in some.items()} for name, some in groups})


def _seldom() -> Json:
    """A note in the place of an earlier one, an answer that is missing, answers that stand alone."""
    groups = catalogue().groups
    alone = {
        name: {key: _made(one) for key, one in groups[name].items() if one.within} for name in ("assessment", "client")
    }
    score = next(key for key, one in groups["assessment"].items() if one.shape == "score")
    assessment = {"length": "4.1 cm", "width": "3.0 cm", **alone["assessment"], score: {"absent": "not assessed"}}
    care = {"packing": [{"material": "packing strip"}, {"material": "gauze"}]}
    out = _record("C-9002", {"assessment": assessment, "client": alone["client"], "care": care})
    first = out["visits"][0]
    again = {**first, "id": "V2", "status": "amended", "replaces": "V1", "replaces_reason": "the wrong wound"}
    extra = [{"place": "V1", "came": "Observation", "value": '{"resourceType": "Observation"}'}]
    return {**out, "visits": [first, again], "extra": extra}


def _other_words() -> Json:
    """Answers that their elements cannot say: each stands beside its element as it was written."""
    unknown = {"absent": "unknown"}
    photo = {**dict.fromkeys(catalogue().groups["photo"], unknown), "taken": "yesterday"}
    care = {"debridement": [{"kind": "other words"}]}
    size = {"length": "4.1 cm", "width": "3.0 cm"}
    out = _record("C-9003", {"assessment": size, "care": care, "photo": photo})
    return {**out, "patient": {**out["patient"], "born": "about 1948"}}


def _extensions(value: Json) -> Iterator[Json]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key in ("extension", "modifierExtension"):
                yield from inner
            yield from _extensions(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _extensions(inner)


def _key(resource: Json) -> tuple[str, str]:
    return resource["resourceType"], resource["id"]


# -- answers -------------------------------------------------------------------------------------------


@per_catalogue()
def _from_story() -> dict[str, Json]:
    """Path of a concept -> its first answer in the invented story; a set of fields rather than one word."""
    out: dict[str, Json] = {}
    data = read_yaml(story().decode(), "story.yaml")
    for wound in data["wounds"]:
        _note(out, "wound", wound)
    for visit in data["visits"]:
        _note(out, "visit", visit)
        _note(out, "client", visit.get("client", {}))
        for entry in visit["wounds"]:
            for group in ENTRY_GROUPS:
                _note(out, group, entry.get(group, {}))
            for name, group in ENTRY_LISTS.items():
                for one in entry.get(name, ()):
                    _note(out, group, one)
    return out


def _note(out: dict[str, Json], group: str, answers: Json) -> None:
    for key, value in answers.items():
        path = f"{group}.{key}"
        if key in catalogue().groups[group] and "absent" not in str(value):
            out.setdefault(path, value)
            if isinstance(out[path], str) and not isinstance(value, str):
                out[path] = value


def _made(concept: Concept) -> Json:
    if concept.fields:
        item = {key: _made(field) for key, field in concept.fields.items()}
        return [item] if concept.many else item
    found = shape_of(concept).examples(concept)
    return found[0] if found else "words of the nurse"
