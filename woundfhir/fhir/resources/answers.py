"""The answer in a resource or one of its components, and the fields of a group as components; both directions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.read_context import ReadContext, spelt
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import code_keys
from woundfhir.record.quantity import may_be_thousands, with_point

Json = Any
#: Shapes of which the answer is one number, with a unit or without.
_NUMBERS = frozenset(("quantity", "interval", "share", "score", "count"))


def components(term: Term, item: Mapping[str, Json], without: Term | None = None) -> list[Json]:
    """Return the fields of one item as components; ``without`` is written elsewhere."""
    parts: list[Json] = []
    for key, value in item.items():
        field = term.fields.get(key)
        if field is None or field is without:
            continue
        if field.shape.spread == "each" and isinstance(value, list):
            parts.extend(map(field.component, value))
        else:
            parts.append(field.component(value))
    return parts


def read_components(source: ReadContext, term: Term, resource: dict[str, Json]) -> dict[str, Json]:
    """Return the fields that the components of an Observation say, in catalogue order."""
    found: dict[str, Json] = {}
    others = source.place(resource) is None
    for number, part in enumerate(resource.get("component", ())):
        field = _field(term, part.get("code"))
        if field is None or "modifierExtension" in part:
            continue
        answer = field.codec.read(part)
        if answer is None:
            continue
        if others and (said := pointed(field, answer)) != answer:
            source.mark(resource, ("component", number, "valueString"))
            answer = said
        key = field.concept.key
        if field.shape.spread == "each" and isinstance(answer, str):
            if isinstance(found.setdefault(key, []), list):
                found[key].append(answer)
        else:
            found.setdefault(key, answer)
    return {key: found[key] for key in term.fields if key in found}


def _field(term: Term, code: Json) -> Term | None:
    """Return the field that a component's code names; the code that a field alone has comes first."""
    known = [(key, term.by_code[key]) for key in code_keys(code) if key in term.by_code]
    own = (field for key, field in known if field.concept.codings and field.concept.codings[0].key == key)
    return next(own, known[0][1] if known else None)


def read_value(source: ReadContext, term: Term, holder: dict[str, Json], resource: dict[str, Json]) -> Json:
    """Return the answer that a resource or a component of it says.

    A coded value of others whose words only say why there is none ("unknown", "not asked") is such a reason. What
    others wrote is spelt as the record spells it ("4.2cm" is "4.2 cm", and so is "4,2 cm"), so that it is the same as
    what we made of it.
    """
    answer = term.codec.read(holder)
    if answer is None or source.place(resource) is not None:
        return answer
    if isinstance(answer, str) and "valueCodeableConcept" in holder:
        listed = term.concept.answers
        if (listed is None or listed.find(answer) is None) and source.terms.reasons.answers.find(answer) is not None:
            return {"absent": answer}
    if term.spread != "one" or not isinstance(answer, str):
        return answer
    if (said := spelt(term.concept, pointed(term, answer))) != answer and "valueString" in holder:
        inside = (("component", n) for n, one in enumerate(resource.get("component", ())) if one is holder)
        source.mark(resource, (*next(inside, ()), "valueString"))
    return said


def pointed(term: Term, answer: Json) -> Json:
    """Return a number that others wrote with a decimal comma with a point, unless the comma may part thousands."""
    number = isinstance(answer, str) and term.concept.shape in _NUMBERS and not may_be_thousands(answer)
    return with_point(answer) if number else answer
