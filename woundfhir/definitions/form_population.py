"""What a program may fill in before the nurse does (HL7 SDC, ``$populate``): who, which wound, and what stays the same.

An answer of the last note is carried only where a new note carries it (``newnote``, ``[carried]``): how it was measured
and who changes the dressing. Signs, counts, pain, size and everything else that must be seen anew is never filled in.
"""

from __future__ import annotations

from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.definitions.form_questions import SDC, VARIABLE
from woundfhir.fhir import form_items as items
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.terms import Terms

Json = Any
#: What the program that opens the form knows: name -> type of resource. ``wound`` is a name of this form.
CONTEXTS = {"patient": "Patient", "encounter": "Encounter", "user": "Practitioner", "wound": "Condition"}
_LAST = "status=final,amended&_sort=-date&_count=1"
_NAME = "%user.name.first()"


def launch(terms: Terms) -> list[Json]:
    """Return the extensions of the Questionnaire: what is known at the start, what is looked up of the last note."""
    made: list[Json] = [
        {
            "url": f"{SDC}launchContext",
            "extension": [{"url": "name", "valueCoding": _context(terms, name)}, {"url": "type", "valueCode": kind}],
        }
        for name, kind in CONTEXTS.items()
    ]
    made += [
        {
            "url": VARIABLE,
            "valueExpression": {"name": name, "language": "application/x-fhir-query", "expression": query},
        }
        for name, query in _queries(terms).items()
    ]
    return made


def _context(terms: Terms, name: str) -> dict[str, str]:
    if name == "wound":
        return terms.coding("launch_wound").fhir()
    return {"system": "http://hl7.org/fhir/uv/sdc/CodeSystem/launchContext", "code": name, "display": name.title()}


def _queries(terms: Terms) -> dict[str, str]:
    """The last Observations and the last plan of this wound, and of no other."""
    exudate = _concept(terms, "assessment.exudate_amount").codings[0]
    sizes = terms.coding("size")
    focus = "Observation?focus=Condition/{{%wound.id}}"
    return {
        "lastSize": f"{focus}&code={sizes.system}|{sizes.code}&{_LAST}",
        "lastExudate": f"{focus}&code={exudate.system}|{exudate.code}&{_LAST}",
        "lastPlan": "CarePlan?condition=Condition/{{%wound.id}}&status=active&_sort=-_lastUpdated&_count=1",
    }


def expressions(terms: Terms) -> dict[str, str]:
    """Return the FHIRPath expression of each item that may be filled in, by linkId."""
    wound, visit = terms.groups["wound"], terms.groups["visit"]
    method, axis = _concept(terms, "assessment.measure_method"), _concept(terms, "assessment.measure_axis")
    scale = _concept(terms, "assessment.exudate_scale")
    side = "%wound.bodySite.extension.where(url = '{}').value".format(terms.ext("body-side"))
    setting = "%encounter.extension.where(url = '{}').value".format(visit["setting"].url)
    change = terms.coding(str(_concept(terms, "plan.change_by").activity)).code
    activity = f"%lastPlan.entry.resource.activity.detail.where(code.coding.where(code = '{change}').exists())"
    return {
        "visit:id": "%encounter.identifier.first().value",
        "visit:at": "%encounter.period.start.toString()",
        f"{items.BY}.name": f"iif({_NAME}.text.exists(), {_NAME}.text, {_NAME}.given.join(' ') & ' ' & {_NAME}.family)",
        "wound:id": "%wound.identifier.first().value",
        "wound:status": "%wound.clinicalStatus.coding.where(code = 'active' or code = 'resolved').first()",
        "wound:more": "%wound.onset.where(toString().length() != 10).exists()",
        "wound.kind": _word(wound["kind"].concept, "%wound.code", terms),
        "wound.site": _word(wound["site"].concept, "%wound.bodySite", terms),
        "wound.side": _word(wound["side"].concept, side, terms),
        "wound.onset": "%wound.onset.where(toString().length() = 10)",
        f"wound.onset{items.WORDS}": "%wound.onset.where(toString().length() != 10).toString()",
        "visit.setting": _word(visit["setting"].concept, setting, terms),
        "assessment.measure_method": _component(method, "lastSize", terms),
        "assessment.measure_axis": _component(axis, "lastSize", terms),
        "assessment.exudate_scale": _component(scale, "lastExudate", terms),
        "plan.change_by": f"{activity}.performer.display.first()",
    }


def _concept(terms: Terms, path: str) -> Concept:
    group, _, key = path.partition(".")
    return terms.groups[group][key].concept


def _word(concept: Concept, at: str, terms: Terms) -> str:
    """The option that a CodeableConcept names, else its words."""
    answers = fhir_shape(concept).offered(concept, terms.catalogue)
    codes = dict.fromkeys(word.codings[0].code for word in (answers.words if answers else ()))
    options = " | ".join(f"'{code}'" for code in codes)
    return f"{at}.coding.where(code in ({options})).combine({at}.text).first()"


def _component(concept: Concept, variable: str, terms: Terms) -> str:
    code = concept.codings[0].code
    return _word(
        concept, f"%{variable}.entry.resource.component.where(code.coding.where(code = '{code}').exists()).value", terms
    )


def populate(terms: Terms, made: list[Json]) -> None:
    """Put the expressions on their items, in place."""
    known = expressions(terms)
    waiting = list(made)
    while waiting:
        item = waiting.pop()
        waiting.extend(item.get("item", ()))
        if expression := known.pop(item["linkId"], None):
            value = {"language": "text/fhirpath", "expression": expression}
            item["extension"] = [
                *item.get("extension", ()),
                {"url": f"{SDC}initialExpression", "valueExpression": value},
            ]
    if known:
        raise ValueError(f"no such items in the form: {sorted(known)}")
