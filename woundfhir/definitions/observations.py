"""Profiles of Observation: the panel, what is measured in components, one for each other finding."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.definitions.definition import profile
from woundfhir.definitions.differential import PATIENT, Differential, pattern
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.term import Term, slug
from woundfhir.fhir.terms import Terms

Json = Any

_GROUPS = ("client", "assessment", "care", "plan")


def value(terms: Terms, made: Differential, concept: Concept) -> dict[str, Json]:
    """Return what a profile says of ``value[x]`` for a leaf concept: its types, and the list of its words."""
    shape = fhir_shape(concept)
    types = [{"code": code} for code in shape.types]
    return {"type": types, **made.bound(shape.options(concept, terms.catalogue))}


def unit_rule(concept: Concept, path: str) -> dict[str, Json]:
    """Return the invariant (a warning) that a quantity with a unit is in one of the concept's units."""
    if not concept.units:
        return {}
    units = " or ".join(f"$this = '{unit}'" for unit in concept.units)
    return {
        "constraint": [
            {
                "key": f"wound-unit-{slug(concept.key)}",
                "severity": "warning",
                "human": f"{concept.label} is expected in {' or '.join(concept.units)}",
                "expression": f"{path}.ofType(Quantity).code.all({units})",
            }
        ]
    }


def profiles(terms: Terms) -> Iterator[dict[str, Json]]:
    """Yield every Observation profile, in catalogue order."""
    yield _panel(terms)
    for name, members in terms.panels.items():
        yield _measured(terms, name, members)
    for group in _GROUPS:
        for term in terms.groups[group].values():
            concept = term.concept
            if term.shape.spread != "step" and concept.native is None and concept.resource != "component":
                yield _finding(terms, term)
    yield _computed(terms)


def of_site(terms: Terms, base: str) -> Iterator[dict[str, Json]]:
    """Yield the Observation profiles of a site's own data elements."""
    for group in _GROUPS:
        for term in terms.groups[group].values():
            if term.concept.base == base and term.shape.spread != "step":
                yield _finding(terms, term)


def _computed(terms: Terms) -> dict[str, Json]:
    """A computed value: a view of the record that names its inputs; readers recompute it and never trust it."""
    made = Differential("Observation")
    made.element("identifier", min=1)
    made.category(terms.coding("category_exam"))
    made.element("subject", min=1, type=PATIENT)
    made.reference("focus", "wound", min=1, max="1")
    made.reference("encounter", "visit", min=1)
    made.element("value[x]", min=1, type=[{"code": "Quantity"}])
    made.reference("derivedFrom", "observation-size", min=1)
    return profile(
        "computed",
        "Computed value",
        "Arithmetic on measurements, with its inputs in derivedFrom. It is recomputed when it comes in, never trusted.",
        made,
        terms,
    )


def _common(terms: Terms, codings: Json, group: str) -> Differential:
    made = Differential("Observation")
    made.element("identifier", min=1)
    made.category(terms.coding("category_exam"))
    made.element("code", patternCodeableConcept=pattern(codings))
    made.element("subject", min=1, type=PATIENT)
    if group == "client":
        made.element("focus", max="0")
    else:
        made.reference("focus", "wound", min=1, max="1")
    made.reference("encounter", "visit", min=1)
    made.element("effective[x]", type=[{"code": "dateTime"}])
    return made


def _panel(terms: Terms) -> dict[str, Json]:
    made = _common(terms, [terms.coding("panel")], "assessment")
    made.element("value[x]", max="0")
    made.element("component", max="0")
    return profile(
        "assessment-panel",
        "Wound assessment",
        "One assessment of one wound at one visit. Its members are the findings; each also points at the wound.",
        made,
        terms,
    )


def _components(terms: Terms, made: Differential, members: list[Term]) -> None:
    if not members:
        return
    made.slicing("component", "pattern", "code")
    for term in members:
        concept, name = term.concept, f"component:{slug(term.concept.key)}"
        most = "*" if term.shape.spread == "each" else "1"
        made.element(name, short=concept.label, min=0, max=most, **unit_rule(concept, "value"))
        made.element(f"{name}.code", patternCodeableConcept=pattern(concept.codings))
        made.element(f"{name}.value[x]", **value(terms, made, concept))


def _measured(terms: Terms, name: str, members: list[Term]) -> dict[str, Json]:
    made = _common(terms, [terms.coding(name)], "assessment")
    made.element("value[x]", max="0")
    made.element("component", min=1)
    _components(terms, made, members)
    label = terms.coding(name).display or name
    return profile(
        f"observation-{slug(name)}",
        label,
        f"{label}: each measurement is a component with its own code; a measurement that was not made says why.",
        made,
        terms,
    )


def _finding(terms: Terms, term: Term) -> dict[str, Json]:
    concept = term.concept
    made = _common(terms, concept.codings, concept.group)
    if concept.group == "care":
        made.reference("partOf", "dressing-change", min=1, max="1")
    if term.shape.spread == "group":
        types = [*term.main.shape.types] if term.main else []
        made.element("value[x]", type=[{"code": code} for code in dict.fromkeys([*types, "CodeableConcept"])])
        _components(terms, made, [field for field in term.fields.values() if field is not term.main])
    else:
        made.element("value[x]", **value(terms, made, concept))
    if term.shape.spread == "shares":
        _components(terms, made, [terms.share_part])
    _components(terms, made, [*term.inner.values()])
    rule = unit_rule(term.main.concept if term.main else concept, "value")
    if rule:
        made.elements[0].update(rule)
    return profile(f"observation-{slug(concept.key)}", concept.label, _about(concept), made, terms)


def _about(concept: Concept) -> str:
    """One sentence about a concept, from its question."""
    return f"{concept.label}. Question: {concept.question}"
