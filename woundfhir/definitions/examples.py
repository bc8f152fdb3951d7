"""Examples of what we write: an answer to each concept, its FHIR, and a resource for each profile.

An answer is that of the invented story where it has one, else one made of the examples of its shape, so that every
concept has one and none can go stale.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any, Literal, NamedTuple

from woundfhir.catalogue import BASE, Concept, catalogue, per_catalogue
from woundfhir.demo import story
from woundfhir.fhir import to_fhir
from woundfhir.handover import bundle
from woundfhir.record import History
from woundfhir.record.files import read_yaml
from woundfhir.record.shapes import shape_of

Json = Any
#: Where the answers of a group stand: in the wound, in the visit, in its client, or in a visit's entry for the wound.
_BUNDLES: tuple[Literal["document", "collection", "transaction"], ...] = ("document", "collection", "transaction")
_LISTS = {"supply": "supplies", "photo": "photos"}


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
    told = _told().get(concept.path)
    return _made(concept) if told is None else told


def record(concept: Concept, value: Json) -> Json:
    """Return the smallest record that holds one answer, as it is written by hand."""
    wound: Json = {"id": "W1"}
    entry: Json = {"wound": "W1"}
    visit: Json = {"id": "V1", "at": "2026-03-02T10:05-05:00", "status": "final", "wounds": [entry]}
    if concept.group in _LISTS:
        entry[_LISTS[concept.group]] = [{concept.key: value}]
    elif concept.group == "client":
        visit["client"] = {concept.key: value}
    elif concept.group in ("wound", "visit"):
        (wound if concept.group == "wound" else visit)[concept.key] = value
    else:
        entry[concept.group] = {concept.key: value}
    client = {"identifiers": [{"system": "urn:example:clinic", "value": "C-0417"}]}
    return {"woundfhir": 1, "patient": client, "wounds": [wound], "visits": [visit]}


def made(concept: Concept) -> Made:
    """Return the example of a concept in FHIR.

    Examples
    --------
    >>> [new["resourceType"] for new, old in made(catalogue().concept("wound.kind")).resources]
    ['Condition']
    """
    raw = record(concept, answer(concept))
    empty = record(concept, None)
    before = {_key(one): one for one in _plain(History.of(empty))}
    after = _plain(History.of(raw))
    changed = [(one, before.get(_key(one))) for one in after if before.get(_key(one)) != one]
    return Made(raw, changed)


@per_catalogue()
def by_profile() -> dict[str, Json]:
    """Return an example by the address of each profile and extension: resources whole, of a Bundle the first entries.

    What the invented story does not hold comes from the examples of the concepts.

    Examples
    --------
    >>> by_profile()[catalogue().bases[0] + "/StructureDefinition/visit"]["resourceType"]
    'Encounter'
    """
    out: dict[str, Json] = {}
    history = History.of(read_yaml(story().decode(), "story.yaml"), "story.yaml")
    document, collection, transaction = (_as_data(bundle(history, one)) for one in _BUNDLES)
    _take(out, [one["resource"] for one in document["entry"]])
    _take(out, _plain(history))
    _take(out, [{**one, "entry": one["entry"][:2]} for one in (document, collection)])
    out[f"{BASE}/StructureDefinition/bundle-transaction"] = {**transaction, "entry": transaction["entry"][:2]}
    _take(out, [one["resource"] for one in transaction["entry"]])
    for concept in catalogue().concepts():
        _take(out, [one for one, _ in made(concept).resources])
        for one in (_made(concept), _unlisted(concept)):
            _take(out, _plain(History.of(record(concept, one))))
    for odd in (_amended(), _other_words()):
        _take(out, _plain(History.of(odd)))
    _take(out, _as_data(to_fhir(History.of(_other_words()), dialect="us-core")))
    return out


def _unlisted(concept: Concept) -> Json:
    """An answer in words that no list has."""
    if concept.fields:
        item = {key: _unlisted(field) for key, field in concept.fields.items()}
        return [item] if concept.many else item
    return "other words"


def _amended() -> Json:
    """A note in the place of an earlier one, an answer that is missing, and something that was not understood."""
    out = record(catalogue().concept("assessment.odour"), {"absent": "not assessed"})
    first = out["visits"][0]
    again = {**first, "id": "V2", "status": "amended", "replaces": "V1", "replaces_reason": "the wrong wound"}
    extra = [{"place": "V1", "came": "Observation", "value": '{"resourceType": "Observation"}'}]
    return {**out, "visits": [first, again], "extra": extra}


def _other_words() -> Json:
    """Answers that their elements cannot say: each stands beside its element as it was written."""
    out = record(catalogue().concept("assessment.length"), "4.1 cm")
    entry = out["visits"][0]["wounds"][0]
    entry["assessment"]["width"] = "3.0 cm"
    unknown = {"absent": "unknown"}
    entry["photos"] = [{**dict.fromkeys(catalogue().groups["photo"], unknown), "taken": "yesterday"}]
    return {**out, "patient": {**out["patient"], "born": "about 1948"}}


def _take(out: dict[str, Json], resources: Iterable[Json]) -> None:
    for one in resources:
        for url in one.get("meta", {}).get("profile", ()):
            out.setdefault(url, one)
        for extension in _extensions(one):
            out.setdefault(extension["url"], extension)


def _extensions(value: Json) -> Iterator[Json]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key in ("extension", "modifierExtension"):
                yield from inner
            if key not in ("contained", "resource"):
                yield from _extensions(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _extensions(inner)


def _key(resource: Json) -> tuple[str, str]:
    return resource["resourceType"], resource["id"]


def _plain(history: History) -> list[Json]:
    """Resources with plain numbers, to look at and to compare."""
    found: list[Json] = _as_data(to_fhir(history))
    return found


def _as_data(value: Json) -> Json:
    return json.loads(json.dumps(value, default=float))


@per_catalogue()
def _told() -> dict[str, Json]:
    """Path of a concept -> its first answer in the invented story."""
    out: dict[str, Json] = {}
    data = read_yaml(story().decode(), "story.yaml")
    for wound in data["wounds"]:
        _note(out, "wound", wound)
    for visit in data["visits"]:
        _note(out, "visit", visit)
        _note(out, "client", visit.get("client", {}))
        for entry in visit["wounds"]:
            for group in ("assessment", "care", "plan"):
                _note(out, group, entry.get(group, {}))
            for group, name in _LISTS.items():
                for one in entry.get(name, ()):
                    _note(out, group, one)
    return out


def _note(out: dict[str, Json], group: str, answers: Json) -> None:
    for key, value in answers.items():
        if key in catalogue().groups[group] and "absent" not in str(value):
            out.setdefault(f"{group}.{key}", value)


def _made(concept: Concept) -> Json:
    if concept.fields:
        item = {key: _made(field) for key, field in concept.fields.items()}
        return [item] if concept.many else item
    found = shape_of(concept).examples(concept)
    return found[0] if found else "words of the nurse"
