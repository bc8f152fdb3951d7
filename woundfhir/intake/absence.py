"""Answers that say that there is none: coded "unknown" and "not asked", negations, and words of the past.

What says why a value is missing becomes R4's ``dataAbsentReason`` before any reader sees it; what denies, what is
history and what is only a risk is no fact of today.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.fhir.elements import ABSENT_URL, find_extension, objects, texts_of, values_in
from woundfhir.fhir.reasons import Reason
from woundfhir.fhir.terms import terms
from woundfhir.intake.words import words as known_words
from woundfhir.r4.nullflavor import ABSENT, NULL_FLAVOR, REASONS
from woundfhir.record.clients import is_placeholder

Json = Any
Resource = dict[str, Json]

IPS_ABSENT = "http://hl7.org/fhir/uv/ips/CodeSystem/absent-unknown-uv-ips"
#: Codes of one system that the record has a word for; the others of it deny only a part (IPS; from memory).
_NONE_KNOWN = {"no-known-allergies": "no_known_allergies", "no-known-problems": "no_known_conditions"}
#: Type of a resource -> the list of the client that it may say is empty.
_LISTS = {"AllergyIntolerance": "allergies", "Condition": "conditions"}
#: FHIR R4, QuantityComparator; R5 has "ad" too, which is no bound.
_COMPARATORS = (None, "", "<", "<=", ">=", ">")
_STATED = ("Condition", "AllergyIntolerance")


def unaccented(words: str) -> str:
    """Return words with plain apostrophes and without accents, as the patterns of this package are written.

    Examples
    --------
    >>> unaccented("Antécédent d\u2019ulcère")
    "Antecedent d'ulcere"
    """
    apart = unicodedata.normalize("NFKD", words.replace("\u2019", "'"))
    return "".join(one for one in apart if not unicodedata.combining(one))


def denied(words: str) -> bool:
    """Whether words deny what they name, or say only that nothing is known of it.

    Examples
    --------
    >>> [denied(text) for text in ("No wounds", "Pressure ulcer: absent", "Ulcer (pain: none)", "Not healing ulcer")]
    [True, True, False, False]
    """
    plain = unaccented(words.strip())
    if known_words().denied.match(plain) or is_placeholder(plain) or terms().reasons.answers.find(words) is not None:
        return True
    return known_words().denied_behind.fullmatch(plain) is not None and known_words().of_a_wound.search(plain) is None


def with_reason(resource: Resource) -> Resource:
    """Return a resource in which a value that only says why it is missing stands as ``dataAbsentReason``.

    Examples
    --------
    >>> unknown = {"coding": [{"system": NULL_FLAVOR, "code": "NASK"}]}
    >>> came = {"resourceType": "Observation", "valueCodeableConcept": unknown}
    >>> with_reason(came)["dataAbsentReason"]["coding"][0]["code"]
    'not-asked'
    """
    if resource.get("resourceType") == "Observation":
        made = _holder(resource)
        parts = resource.get("component")
        if isinstance(parts, list):
            views = [_holder(part) if isinstance(part, dict) else part for part in parts]
            if any(view is not part for view, part in zip(views, parts, strict=True)):
                made = {**made, "component": views}
        return made
    if resource.get("resourceType") in _STATED and "code" in resource and (key := _none_known(resource)):
        return {**resource, "code": dict(terms().cc[key])}
    return resource


def reason(resource: Resource) -> Reason | None:
    """Return why a resource that counts says no fact of today, or None.

    Examples
    --------
    >>> reason({"resourceType": "Condition", "code": {"text": "History of pressure ulcer"}}).why
    'its words say that it was in the past'
    """
    kind = resource.get("resourceType")
    if kind == "Observation":
        return _contradiction(resource) or _before_its_result(resource)
    if kind not in _STATED or terms().is_ours(resource):  # a nurse's own words stay what they are
        return None
    code = resource.get("code")
    for system, flavor in _codes(code):
        if system in (ABSENT, NULL_FLAVOR) and flavor != "OTH":
            return Reason("not understood", "its code says only that it is not known")
        if system == IPS_ABSENT and flavor not in _NONE_KNOWN:
            return Reason("negated", "its code says that there is none, or that nothing is known, of one kind")
    if find_extension(code if isinstance(code, dict) else None, ABSENT_URL):
        return Reason("not understood", "its code says only that it is not known")
    return _worded(kind, code)


def parts(resource: Resource) -> tuple[Resource, list[tuple[str, Reason]]]:
    """Return an Observation in which the components that contradict themselves say nothing, and which they are.

    Examples
    --------
    >>> said = {"value": 4, "unit": "cm2", "system": "http://unitsofmeasure.org", "code": "%"}
    >>> parts({"component": [{"code": {}, "valueQuantity": said}]})[1][0][0]
    'component[0]'
    """
    found = resource.get("component")
    whys = (
        [_contradiction(one) if isinstance(one, Mapping) else None for one in found] if isinstance(found, list) else []
    )
    if not any(whys):
        return resource, []
    kept = [one if why is None else {"code": {}} for one, why in zip(found or (), whys, strict=True)]
    left = [(f"component[{number}]", why) for number, why in enumerate(whys) if why is not None]
    return {**resource, "component": kept}, left


def _contradiction(holder: Mapping[str, Json]) -> Reason | None:
    values = values_in(holder)
    if not values:
        return None
    if holder.get("dataAbsentReason") is not None:
        return Reason("conflict", "a value, and beside it a reason why there is none")
    if len(values) > 1:
        return Reason("conflict", "two values, where FHIR R4 has one")
    quantity = holder.get("valueQuantity")
    if isinstance(quantity, dict) and quantity.get("comparator") not in _COMPARATORS:
        return Reason("not understood", "valueQuantity.comparator: a code that is not known")
    if _two_units(quantity):
        return Reason("conflict", "a unit in words, and another in its code")
    return None


def _before_its_result(resource: Mapping[str, Json]) -> Reason | None:
    """R4, ObservationStatus: a registered observation has no result yet."""
    if resource.get("status") == "registered" and any(map(values_in, (resource, *objects(resource, "component")))):
        return Reason("conflict", "a value, and beside it a status that says that there is none yet (registered)")
    return None


def _two_units(found: Json) -> bool:
    """Whether a quantity's unit in words is one that we know, and its UCUM code is another that we know."""
    if not isinstance(found, dict) or found.get("system") != terms().catalogue.systems["ucum"]:
        return False
    known = terms().catalogue.units
    mine, code = known.get(found.get("unit", "")), found.get("code")
    return mine is not None and code in known.values() and mine != code


def _worded(kind: str, code: Json) -> Reason | None:
    own = {terms().code_key(f"no_known_{key}") for key in ("allergies", "conditions")}
    if own & set(_codes(code)):
        return None
    for words in _words(code):
        plain = unaccented(words)
        if terms().reasons.answers.find(words) is not None:
            return Reason("not understood", "its words say only that it is not known")
        if denied(words):
            return Reason("negated", "its words deny it")
        if kind == "Condition" and past(plain):
            return Reason("not understood", "its words say that it was in the past")
        if kind == "Condition" and known_words().risk.match(plain):
            return Reason("not understood", "its words say a risk, not a finding")
        if kind == "Condition" and known_words().others.match(plain):
            return Reason("not understood", "its words name another person")
    return None


def past(plain: str) -> bool:
    """Whether words, without accents, name what was in the past, and no wound of today before it.

    Examples
    --------
    >>> [past(text) for text in ("history of ulcer", "ulcer, history of dvt", "ulcer (history)")]
    [True, False, True]
    """
    known = known_words()
    if not known.past.match(plain):
        return False
    first, *rest = re.split(r"[,;:(]|\s-+\s", plain)
    if not known.wound.search(first) or known.past.match(first):
        return True
    ends = ((clause, known.past.match(clause.strip())) for clause in rest)
    return any(found and _of_wound(clause.strip()[found.end() :]) for clause, found in ends)


def _of_wound(what: str) -> bool:
    """Whether what is over, by these words, is the wound that was named before."""
    words = re.sub(r"^\s*of\b", "", what)
    return known_words().itself.match(words) is not None or known_words().wound.search(words) is not None


def _none_known(resource: Resource) -> str | None:
    kind = str(resource["resourceType"])
    key, words = f"no_known_{_LISTS[kind]}", known_words().none_known[_LISTS[kind]]
    code = resource["code"]
    if any(system == IPS_ABSENT and _NONE_KNOWN.get(str(code)) == key for system, code in _codes(code)):
        return key
    return (
        key
        if not list(_codes(code)) and any(words.fullmatch(unaccented(text.strip())) for text in _words(code))
        else None
    )


def _codes(concept: Json) -> Iterator[tuple[Json, Json]]:
    for coding in objects(concept, "coding") if isinstance(concept, Mapping) else ():
        yield coding.get("system"), coding.get("code")


def _words(concept: Json) -> Iterator[str]:
    return (words.strip() for words in texts_of(concept))


def _holder(holder: Resource) -> Resource:
    """A value coded in a system of reasons, or with HL7's absent extension, as the reason that it is."""
    concept = holder.get("valueCodeableConcept")
    found = _reason_of(concept) if isinstance(concept, dict) else None
    if found is not None:
        made = {key: value for key, value in holder.items() if key != "valueCodeableConcept"}
        return {**made, "dataAbsentReason": found}
    for key, value in holder.items():
        bare = key.removeprefix("_")
        if not bare.startswith("value") or not isinstance(value, dict) or value.keys() - {"extension"}:
            continue
        if (why := find_extension(value, ABSENT_URL)) and bare not in holder.keys() - {key}:
            made = {k: v for k, v in holder.items() if k != key}
            return {**made, "dataAbsentReason": {"coding": [{"system": ABSENT, "code": why.get("valueCode")}]}}
    return holder


def _reason_of(concept: Resource) -> Json:
    for system, code in _codes(concept):
        if system == ABSENT:
            return {"coding": [{"system": ABSENT, "code": code}]}
        if system == NULL_FLAVOR and code != "OTH":
            known = REASONS.get(str(code))
            return (
                {"coding": [{"system": ABSENT, "code": known}]}
                if known
                else {"text": concept.get("text") or "no information"}
            )
    return None
