"""What a program may fill in before the nurse does (HL7 SDC, ``$populate``): who, which wound, and what stays the same.

An answer of the last note is carried only where a new note carries it (``newnote``, ``[carried]``): how it was measured
and who changes the dressing. Signs, counts, pain, size and everything else that must be seen anew is never filled in.
"""

from __future__ import annotations

from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.definitions.form_options import SDC
from woundfhir.fhir import form_items as items
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.terms import Terms

Json = Any
#: What the program that opens the form knows: name -> type of resource, and the code of a name of this form. The last
#: resources are given and not queried: where the wound is not known, a query would find those of another.
CONTEXTS = {
    "patient": ("Patient", ""),
    "encounter": ("Encounter", ""),
    "user": ("Practitioner", ""),
    "wound": ("Condition", "launch_wound"),
    "lastSize": ("Observation", "launch_size"),
    "lastExudate": ("Observation", "launch_exudate"),
    "lastPlan": ("CarePlan", "launch_plan"),
}
_NAME = "%user.name.first()"


def launch(terms: Terms) -> list[Json]:
    """Return the extensions of the Questionnaire that say what is known at the start."""
    return [
        {
            "url": f"{SDC}launchContext",
            "extension": [
                {"url": "name", "valueCoding": terms.coding(own).fhir() if own else _standard(name)},
                {"url": "type", "valueCode": kind},
            ],
        }
        for name, (kind, own) in CONTEXTS.items()
    ]


def _standard(name: str) -> dict[str, str]:
    return {"system": "http://hl7.org/fhir/uv/sdc/CodeSystem/launchContext", "code": name, "display": name.title()}


def expressions(terms: Terms) -> dict[str, str]:
    """Return the FHIRPath expression of each item that may be filled in, by linkId."""
    wound, visit = terms.groups["wound"], terms.groups["visit"]
    method, axis = _concept(terms, "assessment.measure_method"), _concept(terms, "assessment.measure_axis")
    scale = _concept(terms, "assessment.exudate_scale")
    side = "%wound.bodySite.extension.where(url = '{}').value".format(terms.ext("body-side"))
    setting = "%encounter.extension.where(url = '{}').value".format(visit["setting"].url)
    change = terms.coding(str(_concept(terms, "plan.change_by").activity)).code
    activity = f"%lastPlan.activity.detail.where(code.coding.where(code = '{change}').exists())"
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
    return _word(concept, f"%{variable}.component.where(code.coding.where(code = '{code}').exists()).value", terms)


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
