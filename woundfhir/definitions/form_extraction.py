"""What a program makes of a filled form (HL7 SDC, template-based extraction): Procedures, supplies, the plan.

Observations are made by observation-based extraction (``form_options.EXTRACT``). A template holds what an element of
R4 has a place for; what stands in extensions of ours is read from the response itself (``fhir/form_reading.py``).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.definitions.form_options import SDC
from woundfhir.fhir import form_items as items
from woundfhir.fhir.term import Term, slug
from woundfhir.fhir.terms import Terms

Json = Any


def templates(terms: Terms) -> dict[str, dict[str, Json]]:
    """Return the template of each item that a resource is made of, by linkId."""
    found = {term.concept.path: _procedure(term) for term in terms.groups["care"].values() if term.spread == "step"}
    return {**found, "supply": _supply(terms), "plan": _plan(terms)}


def extract(terms: Terms, form: dict[str, Json]) -> None:
    """Put the templates into the Questionnaire, and the name of each on its item, in place."""
    known = templates(terms)
    form["contained"].extend(known.values())
    waiting = list(form["item"])
    while waiting:
        item = waiting.pop()
        waiting.extend(item.get("item", ()))
        if template := known.get(item["linkId"]):
            named = [{"url": "template", "valueReference": {"reference": f"#{template['id']}"}}]
            item["extension"] = [*item.get("extension", ()), {"url": f"{SDC}templateExtract", "extension": named}]


def _head(kind: str, key: str) -> dict[str, Json]:
    return {"resourceType": kind, "id": f"extract-{slug(key)}"}


def _filled(expression: str) -> dict[str, Json]:
    """The extension by which an element is filled in from the response."""
    return {"extension": [{"url": f"{SDC}templateExtractValue", "valueString": expression}]}


def _each(expression: str) -> dict[str, Json]:
    """The extension by which an element is made once for each result, and left out where there is none."""
    return {"extension": [{"url": f"{SDC}templateExtractContext", "valueString": expression}]}


def _answer(path: str, kind: str) -> str:
    return f"item.where(linkId = '{path}').answer.value.ofType({kind})"


def _to(element: str) -> dict[str, Json]:
    """A Reference of the response itself."""
    return {**_each(f"%resource.{element}"), "_reference": _filled("reference")}


def _procedure(term: Term) -> dict[str, Json]:
    path = term.concept.path
    made = {
        **_head("Procedure", term.concept.key),
        "status": "completed",
        "code": {"coding": [coding.fhir() for coding in term.concept.codings], "text": term.concept.label},
        "subject": _to("subject"),
        "encounter": _to("encounter"),
        "_performedDateTime": _filled("%resource.authored"),
    }
    if used := list(_words(field.concept.path for field in term.used)):
        made["usedCode"] = used
    if "note" not in term.fields:
        made["note"] = [{**_each(_answer(path + items.NOTE, "string")), "_text": _filled("$this")}]
    return made


def _words(paths: Any) -> Iterator[dict[str, Json]]:
    """CodeableConcepts of answers, by an option or in words."""
    for path in paths:
        coding = {key: _filled(key[1:]) for key in ("_system", "_code", "_display")}
        yield {**_each(_answer(path, "Coding")), "coding": [coding]}
        yield {**_each(_answer(path, "string")), "_text": _filled("$this")}


def _supply(terms: Terms) -> dict[str, Json]:
    native = terms.native["supply"]
    item, number = native["item"].concept.path, native["quantity"].concept.path
    concept, _ = _words([item])
    return {
        **_head("SupplyDelivery", "supply"),
        "status": "completed",
        "patient": _to("subject"),
        "type": terms.catalogue.cc("supply_device"),
        "suppliedItem": {
            "quantity": {**_each(_answer(number, "decimal")), "_value": _filled("$this")},
            "itemCodeableConcept": concept,
        },
        "_occurrenceDateTime": _filled("%resource.authored"),
    }


def _plan(terms: Terms) -> dict[str, Json]:
    natives = terms.natives["plan"]
    rhythm = natives["repeat"][0].concept
    every, by = rhythm.path, natives["performer"][0].concept.path
    when = next(term.concept.path for term in natives["event"] if term.concept.activity == rhythm.activity)
    repeat = {
        **_each(_answer(every, "Quantity")),
        "frequency": 1,
        "period": 1,  # filled in, as its unit is; R4 asks for both of any Timing that repeats
        "_period": _filled("value"),
        "periodUnit": "d",
        "_periodUnit": _filled("code"),
    }
    return {
        **_head("CarePlan", "plan"),
        "status": "active",
        "intent": "plan",
        "category": [terms.catalogue.cc("plan_category")],
        "subject": _to("subject"),
        "encounter": _to("encounter"),
        "_created": _filled("%resource.authored"),
        "activity": [
            {
                "detail": {
                    "code": terms.catalogue.cc(str(rhythm.activity)),
                    "status": "scheduled",
                    "scheduledTiming": {"_event": [_filled(_answer(when, "date"))], "repeat": repeat},
                    "performer": [{**_each(_answer(by, "string")), "_display": _filled("$this")}],
                }
            }
        ],
        "note": [{**_each(_answer(f"plan{items.NOTE}", "string")), "_text": _filled("$this")}],
    }
