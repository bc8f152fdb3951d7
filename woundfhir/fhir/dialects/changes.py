"""What a dialect adds to one resource: elements, categories, parts of a name, profiles, standard codings first."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.fhir.dialects.model import Change, Claim

Json = Any
Resource = dict[str, Json]
_LOINC_FIRST = "http://loinc.org"
#: Two words of letters: a given name and a family name. Anything else is not parted: nobody guesses.
_TWO_WORDS = re.compile(r"([^\W\d_][\w'\u2019.-]*) ([^\W\d_][\w'\u2019-]*)")
_COMMA = re.compile(r"([^\W\d_][\w'\u2019 -]*), ([^\W\d_][\w'\u2019. -]*)")
#: Elements whose code names what was asked: LOINC stands first there.
_QUESTIONS = frozenset(("Observation", "component"))


def concept_of(place: str) -> str:
    """Return the data element that our place of an Observation names: ``client.smoking``, ``assessment.tissue``.

    Examples
    --------
    >>> concept_of("V1/smoking"), concept_of("V1/W1/tissue/225541009"), concept_of("contact")
    ('client.smoking', 'assessment.tissue', '')
    """
    parts = place.split("/")
    if len(parts) < 2:
        return ""
    return f"client.{parts[1]}" if len(parts) == 2 else f"assessment.{parts[2]}"


def changed(resource: Resource, change: Change, concept: str) -> Resource:
    """Return a resource with what one change adds; as it is, where the change is not for it."""
    if change.type != resource["resourceType"] or (change.concepts and concept not in change.concepts):
        return resource
    if not change.each:
        return _with(resource, change)
    items = resource.get(change.each)
    if not isinstance(items, list):
        return resource
    return {**resource, change.each: [_with(one, change) if isinstance(one, dict) else one for one in items]}


def _with(holder: Resource, change: Change) -> Resource:
    if not meets(holder, change.where):
        return holder
    if any(key in holder for key in change.lacks) or not all(key in holder for key in change.has):
        return holder
    made = dict(holder)
    if change.split:
        made.update({key: value for key, value in _parts(holder.get(change.split)).items() if key not in holder})
    for key, value in change.put.items():
        if key not in made and key.removeprefix("_") not in made:
            made[key] = value
    for key, items in change.add.items():
        had = made.get(key, [])
        made[key] = [*had, *(one for one in items if one not in had)]
    return made


def _parts(name: Json) -> dict[str, Json]:
    """The parts of a whole name, where they are certain enough: "Given Family", or "Family, Given Names".

    Examples
    --------
    >>> _parts("Ada Okafor"), _parts("Okafor, Ada B."), _parts("Nurse One (invented)")
    ({'family': 'Okafor', 'given': ['Ada']}, {'family': 'Okafor', 'given': ['Ada', 'B.']}, {})
    """
    if not isinstance(name, str):
        return {}
    if (found := _TWO_WORDS.fullmatch(name)) is not None:
        return {"family": found[2], "given": [found[1]]}
    if (found := _COMMA.fullmatch(name)) is not None and not found[2].isupper():  # "Okafor, RN" names an occupation
        return {"family": found[1], "given": found[2].split()}
    return {}


def claimed(resource: Resource, claims: list[Claim], concept: str) -> str | None:
    """Return the profile that a resource claims, or None."""
    for claim in claims:
        if _is_for(resource, claim, concept):
            return None if wanting(resource, claim) else claim.profile
    return None


def _is_for(resource: Resource, claim: Claim, concept: str) -> bool:
    right = claim.type == resource["resourceType"] and (not claim.concepts or concept in claim.concepts)
    return right and meets(resource, claim.where)


def lacking(resource: Resource, claims: list[Claim], concept: str) -> list[str]:
    """Return the elements for want of which a resource claims no profile."""
    claim = next((one for one in claims if _is_for(resource, one, concept)), None)
    return [] if claim is None else wanting(resource, claim)


def wanting(resource: Resource, claim: Claim) -> list[str]:
    """Return the paths that a claim needs and that are not there."""
    missing = [path for path in claim.needs if not any(_there(resource, one) for one in path.split("|"))]
    return missing + [key for key in claim.day if f"_{key}" in resource or 0 < len(resource.get(key, "")) < 10]


def _there(resource: Resource, path: str) -> bool:
    if path.endswith("[x]"):
        return any(key.startswith(path.removesuffix("[x]")) for key in resource)
    return all_there(resource, path.split("."))


def meets(holder: Mapping[str, Json], where: Mapping[str, list[str]]) -> bool:
    """Whether each of these paths has one of its values somewhere."""
    return all(any(one in words for one in at(holder, path.split("."))) for path, words in where.items())


def at(value: Json, path: list[str]) -> Iterator[Json]:
    """Yield everything at a path, through lists."""
    if isinstance(value, list):
        for item in value:
            yield from at(item, path)
    elif not path:
        yield value
    elif isinstance(value, Mapping) and path[0] in value:
        yield from at(value[path[0]], path[1:])


def all_there(value: Json, path: list[str]) -> bool:
    """Whether a path leads to something in every item of the lists on it.

    Examples
    --------
    >>> all_there({"identifier": [{"system": "a"}, {}]}, ["identifier", "system"])
    False
    """
    if isinstance(value, list):
        return bool(value) and all(all_there(item, path) for item in value)
    return not path or (isinstance(value, Mapping) and path[0] in value and all_there(value[path[0]], path[1:]))


def standard_first(value: Json, name: str = "") -> Json:
    """Return a copy in which codes of published systems stand before ours: LOINC first where it says what was asked."""
    if isinstance(value, list):
        return [standard_first(item, name) for item in value]
    if not isinstance(value, dict):
        return value
    made = {}
    for key, item in value.items():
        if key == "coding" and isinstance(item, list):
            made[key] = sorted(item, key=lambda one: _rank(one, name))
        else:
            inner = "question" if key == "code" and name in _QUESTIONS else key
            made[key] = standard_first(item, inner) if isinstance(item, dict | list) else item
    return made


def _rank(coding: Json, name: str) -> int:
    system = coding.get("system") if isinstance(coding, dict) else None
    if system in catalogue().own_systems:
        return 2
    return int(name == "question" and system != _LOINC_FIRST)
