"""Profiles of Procedure, SupplyDelivery, CarePlan and Goal: what was done, what was used, what is planned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from woundfhir.definitions.definition import profile
from woundfhir.definitions.differential import PATIENT, Differential, pattern
from woundfhir.fhir.term import Term, slug
from woundfhir.fhir.terms import Terms

Json = Any


def profiles(terms: Terms) -> Iterator[dict[str, Json]]:
    """Yield the profiles of care in the order of a visit."""
    yield _change(terms)
    for term in terms.groups["care"].values():
        if term.shape.spread == "step":
            yield _step(terms, term)
    yield _supply(terms)
    yield _plan(terms)
    yield _goal(terms)


def of_site(terms: Terms, base: str) -> Iterator[dict[str, Json]]:
    """Yield the profiles of a site's own steps."""
    for term in terms.groups["care"].values():
        if term.shape.spread == "step" and term.concept.base == base:
            yield _step(terms, term)


def _procedure(codings: Json, fields: Iterable[Term] = ()) -> Differential:
    made = Differential("Procedure")
    for field in fields:
        most = "*" if field.shape.spread == "each" else "1"
        name = field.url.rpartition("/")[2]
        made.extension(name, most=most, short=field.concept.label, base=field.concept.base)
    made.element("identifier", min=1)
    made.element("code", min=1, patternCodeableConcept=pattern(codings))
    made.element("subject", type=PATIENT)
    made.reference("encounter", "visit", min=1)
    made.element("performed[x]", type=[{"code": "dateTime"}])
    made.reference("reasonReference", "wound", min=1, max="1")
    return made


def _change(terms: Terms) -> dict[str, Json]:
    made = _procedure([terms.coding("dressing_change")])
    made.element("partOf", max="0")
    made.element("usedCode", **made.bound(_answers(terms, "supply", "item")))
    return profile(
        "dressing-change",
        "Dressing change",
        "One change of the dressing of one wound. What was done is in Procedures that are part of it.",
        made,
        terms,
    )


def _answers(terms: Terms, group: str, native: str) -> Json:
    found = next((t for t in terms.groups[group].values() if t.concept.native == native), None)
    return found.concept.answers if found else None


def _step(terms: Terms, term: Term) -> dict[str, Json]:
    concept = term.concept
    extended = [field for field in term.fields.values() if field.concept.native != "used"]
    made = _procedure(concept.codings, extended)
    made.reference("partOf", "dressing-change", min=1, max="1")
    used = [field.concept for field in term.fields.values() if field.concept.native == "used"]
    if used:
        made.element("usedCode", max=str(len(used)), **(made.bound(used[0].answers) if len(used) == 1 else {}))
    return profile(
        f"step-{slug(concept.key)}",
        concept.label,
        f"{concept.label}, as one step of a dressing change. Status not-done with a reason says that it was left out.",
        made,
        terms,
    )


def _supply(terms: Terms) -> dict[str, Json]:
    made = Differential("SupplyDelivery")
    for term in terms.groups["supply"].values():
        if term.concept.native is None:
            made.extension(f"supply-{slug(term.concept.key)}", short=term.concept.label)
    made.extension("supply-visit", least=1)
    made.extension("supply-wound")
    made.extension("supply-procedure")
    made.element("identifier", min=1)
    made.element("patient", min=1, type=PATIENT)
    made.element("type", min=1, patternCodeableConcept=pattern([terms.coding("supply_device")]))
    made.element(
        "suppliedItem.item[x]", type=[{"code": "CodeableConcept"}], **made.bound(_answers(terms, "supply", "item"))
    )
    made.element("occurrence[x]", type=[{"code": "dateTime"}])
    return profile(
        "supply",
        "Supply",
        "What was used at a dressing change or left with the client: how many, of which size and lot.",
        made,
        terms,
    )


def _plan(terms: Terms) -> dict[str, Json]:
    made = Differential("CarePlan")
    made.element("identifier", min=1)
    made.element("intent", patternCode="plan")
    made.category(terms.coding("plan_category"))
    made.element("subject", type=PATIENT)
    made.reference("encounter", "visit", min=1)
    made.reference("addresses", "wound", min=1, max="1")
    made.reference("goal", "goal")
    made.element("activity.reference", max="0")
    made.element("activity.detail", min=1)
    made.element("activity.detail.code", min=1)
    return profile(
        "plan",
        "Wound care plan",
        "How often to change, when next, who does it, and when to assess in full.",
        made,
        terms,
    )


def _goal(terms: Terms) -> dict[str, Json]:
    made = Differential("Goal")
    made.element("identifier", min=1)
    made.category(terms.coding("goal_nursing"))
    made.element("subject", type=PATIENT)
    made.reference("addresses", "wound", min=1, max="1")
    return profile(
        "goal", "Goal of wound care", "What the care of this wound is for, in the words of the note.", made, terms
    )
