"""Observation of others whose text is the size of a wound: "Wound size: 4.2 x 3 cm"."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import values_in
from woundfhir.fhir.read_context import ReadContext, RecordPlace, spelt
from woundfhir.record.size import worded_size

Json = Any


def size_in_words(source: ReadContext, resource: Mapping[str, Json]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return the measures that an Observation of others says in one text, by key, and the path of that text.

    Its code is text alone, or that of a panel: another code may say that it is something else than a size.
    """
    code = resource.get("code")
    code = code if isinstance(code, dict) else {}
    name = code.get("text") if isinstance(code.get("text"), str) else ""
    keys = source.terms.code_key("panel"), *map(source.terms.code_key, source.terms.panels)
    codings = [(one.get("system"), one.get("code")) for one in code.get("coding") or () if isinstance(one, dict)]
    if not all(key in keys for key in codings) or "component" in resource or "dataAbsentReason" in resource:
        return {}, ()
    values = values_in(resource)
    if not values:
        return worded_size(str(name), None), ("code", "text")
    concept = resource.get("valueCodeableConcept")
    text, path = resource.get("valueString"), tuple[str, ...]()
    if isinstance(concept, dict) and set(concept) == {"text"}:
        text, path = concept["text"], ("text",)
    if len(values) > 1 or not isinstance(text, str):
        return {}, ()
    return worded_size(str(name) or ("size" if codings else ""), text), (values[0], *path)


def read_worded_size(source: ReadContext, resource: dict[str, Json], spot: RecordPlace) -> bool:
    """Put the measures that one text says into the record; False where it says none."""
    found, path = size_in_words(source, resource)
    answers = spot.answers("assessment") if found else None
    if answers is None:
        return False
    parts: list[Json] = []
    for key, said in found.items():
        term = source.terms.groups["assessment"][key]
        answer = spelt(term.concept, said)
        if source.put(answers, key, answer, resource, ".".join(path)):
            answer = answers[key]
        source.stands(resource, spot, term.concept, answer)
        parts.append({"code": term.fhir, **dict([term.codec.write(answer)])})
    source.placed(resource, None)
    source.mark(resource, path, ("code", "text"))
    source.show(resource, ("component", parts))
    return True
