"""What came with a history as FHIR and is not understood: its own words, its day, and where it belongs if it says so.

A record keeps such resources whole under ``extra``. What was withdrawn or denied is not among them: it is no fact.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from woundfhir.fhir.elements import PERIODS
from woundfhir.fhir.fates import KEPT, kind_of
from woundfhir.record import History, dates

Json = Any

#: Types that carry no finding, act or plan of their own.
_AROUND = frozenset(
    (
        "Binary",
        "Bundle",
        "Composition",
        "Device",
        "Encounter",
        "Group",
        "Location",
        "Organization",
        "Patient",
        "Practitioner",
        "PractitionerRole",
        "Provenance",
        "Questionnaire",
        "RelatedPerson",
        "Specimen",
    )
)
_TIMES = (
    "effectiveDateTime",
    "performedDateTime",
    "occurrenceDateTime",
    "authoredOn",
    "issued",
    "recordedDate",
    "date",
)
_WOUNDS = ("focus", "reasonReference", "basedOn", "partOf", "addresses", "condition")


class Unread(NamedTuple):
    """One resource that is not understood.

    Attributes
    ----------
    place
        Where the record keeps it: ``extra[3]``.
    words, value
        What it is about and what it says, in its sender's words; ``value`` is empty where none is known, and where
        something in it that is not understood may change its meaning.
    at
        Its date, as written.
    visit, wound
        The ids of the visit and wound that it names, or the visit of its day.
    """

    place: str
    words: str
    value: str
    at: str | None
    visit: str | None
    wound: str | None


def unread(history: History) -> list[Unread]:
    """Return what a record keeps that came as FHIR and is not understood, oldest first.

    Examples
    --------
    >>> came = {"resourceType": "Observation", "code": {"text": "Smell"}, "valueString": "foul"}
    >>> kept = {"from": "Observation/1", "why": KEPT, "value": json.dumps(came)}
    >>> history = History.of({"woundfhir": 1, "patient": {}, "extra": [kept]})
    >>> [(one.place, one.words, one.value) for one in unread(history)]
    [('extra[0]', 'Smell', 'foul')]
    """
    places = {item["from"]: item["place"] for item in history.extra if item.get("place") and item.get("from")}
    found = []
    for number, item in enumerate(history.extra):
        why = item.get("why", "")
        resource = _resource(item.get("value", "")) if why == KEPT or kind_of(why) == "not-understood" else None
        if resource is not None:
            found.append(_unread(history, f"extra[{number}]", resource, places, certain=why == KEPT))
    return sorted(found, key=lambda one: one.at or "")


def _resource(value: str) -> Mapping[str, Json] | None:
    try:
        found = json.loads(value, parse_float=Decimal)
    except (ValueError, RecursionError):
        return None
    kind = found.get("resourceType") if isinstance(found, dict) else None
    return found if isinstance(kind, str) and kind not in _AROUND else None


def _unread(
    history: History, place: str, resource: Mapping[str, Json], places: Mapping[str, str], *, certain: bool
) -> Unread:
    at = next((str(resource[key]) for key in _TIMES if isinstance(resource.get(key), str)), None) or _start(resource)
    wounds = {wound["id"] for wound in history.wounds}
    named = (places.get(ref) for key in _WOUNDS for ref in _references(resource.get(key)))
    wound = next((one for one in named if one in wounds), None)
    visits = [visit["id"] for visit in history.visits]
    visit = next((places.get(ref) for ref in _references(resource.get("encounter"))), None)
    if visit not in visits:
        same = [one["id"] for one in history.visits if at and dates.day(one.get("at")) == dates.day(at) is not None]
        visit = same[0] if len(same) == 1 else None
    words = _words(resource) or str(resource["resourceType"])
    return Unread(place, words, _value(resource) if certain else "", at, visit, wound)


def _start(resource: Mapping[str, Json]) -> str | None:
    for key in PERIODS:
        period = resource.get(key)
        if isinstance(period, dict) and isinstance(start := period.get("start"), str):
            return start
    return None


def _references(value: Json) -> Iterator[str]:
    for one in _listed(value):
        if isinstance(one, dict) and isinstance(one.get("reference"), str):
            yield one["reference"]


def _listed(value: Json) -> list[Json]:
    return value if isinstance(value, list) else [value]


def _concept(value: Json) -> str:
    """The words of a CodeableConcept, else its first code."""
    if not isinstance(value, dict):
        return ""
    codings = [one for one in _listed(value.get("coding")) if isinstance(one, dict)]
    words = [value.get("text"), *(one.get(key) for key in ("display", "code") for one in codings)]
    return next((one for one in words if isinstance(one, str) and one), "")


def _words(resource: Mapping[str, Json]) -> str:
    for key in ("code", "type", "medicationCodeableConcept", "itemCodeableConcept", "category"):
        for one in _listed(resource.get(key)):
            if words := _concept(one):
                return words
    return next((found for key in ("title", "description") if isinstance(found := resource.get(key), str)), "")


def _value(resource: Mapping[str, Json]) -> str:
    """What an Observation says, its components too; what others say in free words."""
    parts = [_one(resource)]
    for part in _listed(resource.get("component")):
        if isinstance(part, dict):
            words, said = _concept(part.get("code")), _one(part)
            parts.append(f"{words}: {said}" if words and said else words or said)
    parts += [str(note["text"]) for note in _listed(resource.get("note")) if isinstance(note, dict) and "text" in note]
    return "; ".join(part for part in parts if part)


def _one(holder: Mapping[str, Json]) -> str:
    for key, value in holder.items():
        if key.startswith("value") and key[5:6].isupper():
            if isinstance(value, (dict, list)) or value is None:
                return _structured(value) if isinstance(value, dict) else ""
            return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
    return ""


def _structured(value: Mapping[str, Json]) -> str:
    if "value" in value:
        unit = value.get("unit") or value.get("code") or ""
        return f"{value.get('comparator', '')}{value['value']} {unit}".strip()
    if "low" in value or "high" in value:
        ends = [_structured(value[key]) for key in ("low", "high") if isinstance(value.get(key), dict)]
        return " - ".join(ends)
    return _concept(value) or str(value.get("display") or value.get("start") or "")
