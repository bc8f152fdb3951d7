"""What does not count, and has a word in the record all the same: it is let in again."""

from __future__ import annotations

from woundfhir.fhir import form
from woundfhir.fhir.came import Resource
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.reasons import EARLIER, SUPERSEDED
from woundfhir.fhir.terms import Terms, code_keys


def readmit(source: ReadContext) -> None:
    """Let in what the record has a word for, though it does not count.

    A note or a wound of ours that was entered in error comes back as that, with all that stands in it; a step
    of care that was not done is an answer.
    """
    reasons = source.reasons
    errors = {
        place
        for one in source.of("Encounter")
        if source.states(one) == {"error"} and (place := source.place(one)) is not None
    }
    for resource in source.resources:
        why = reasons.get(id(resource))
        if why is None or why in (EARLIER, SUPERSEDED) or why.kind not in ("withdrawn", "negated"):
            continue
        if why.why.startswith("Bundle."):
            continue
        kind, states = resource.get("resourceType"), source.states(resource)
        if states == {"error"} and (place := source.place(resource)) is not None:
            if kind in ("Encounter", "Condition") or place.split("/")[0] in errors:
                del reasons[id(resource)]
        elif (states == {"error"} and kind == "QuestionnaireResponse" and form.place(resource)[0] is not None) or (
            kind == "Procedure" and "negated" in states and _is_step(source.terms, resource)
        ):
            del reasons[id(resource)]


def _is_step(terms: Terms, resource: Resource) -> bool:
    keys = code_keys(resource.get("code"))
    return any(key in terms.steps for key in keys) and terms.code_key("dressing_change") not in keys
