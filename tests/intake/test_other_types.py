"""A type that no record meets says nothing of what came beside it, whatever elements it has and whatever these name.

R4 gives each element to certain types: one of the same name on another type is none of it. The two types here are the
first and the last of R4 by their names.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.facts import aside, read
from tests.intake.foreign.inputs import LOINC, P, client, cm, coded, length, obs, visit, wound
from tests.intake.two_clients import ref
from woundfhir.r4.definitions import resource_types

Json = Any
OURS = "https://w3id.org/woundfhir/StructureDefinition/"
W, X = wound("w", bodySite=[{"text": "left heel"}]), wound("x", bodySite=[{"text": "right shin"}])
SEEN = length("l", 4, focus=[ref("Condition/x")], encounter=ref("Encounter/e"))
#: It names no wound and no visit: whoever says which would be believed.
LOOSE = {key: value for key, value in obs("n", "39125-0", valueQuantity=cm(3)).items() if key != "effectiveDateTime"}
BASE = [client(), W, X, visit(), SEEN, LOOSE]
N, L = ref("Observation/n"), ref("Observation/l")
UNDONE = {"coding": [{"system": "http://terminology.hl7.org/CodeSystem/v3-DataOperation", "code": "DELETE"}]}
#: Elements of other types, each of which would say something there.
ELEMENTS: dict[str, Json] = {
    "a wound, and its members": {"focus": [ref("Condition/w")], "hasMember": [N], "encounter": ref("Encounter/e")},
    "a wound, and its evidence": {"focus": [ref("Condition/w")], "evidence": [{"detail": [N]}]},
    "a wound in an extension": {"extension": [{"url": f"{OURS}x", "valueReference": N}], "focus": [ref("Condition/w")]},
    "a supply": {"extension": [{"url": f"{OURS}supply-wound", "valueReference": ref("Condition/w")}]},
    "a whole": {"partOf": [L], "effectiveDateTime": "2026-03-02"},
    "a result": {"result": [N], "encounter": ref("Encounter/e")},
    "an amendment": {"target": [L], "activity": UNDONE, "recorded": "2026-03-09T10:00:00Z"},
    "a log": {"action": "D", "outcome": "0", "entity": [{"what": L}]},
    "what it replaces": {"replaces": [L], "relatesTo": [{"code": "replaces", "target": L}]},
    "links of a client": {"link": [{"type": "replaced-by", "other": P}, {"type": "odd"}], "active": False},
    "who answered": {"subject": None, "source": ref("Patient/another")},
    "entries": {"type": "searchset", "entry": [{"resource": length("m", 9)}]},
    "parameters": {"parameter": [{"name": "return", "resource": length("m", 9)}]},
    "a finding": {"code": coded("39126-8", system=LOINC), "valueQuantity": cm(9), "focus": [ref("Condition/w")]},
    "parts of a finding": {"component": [{"code": coded("39126-8", system=LOINC), "valueQuantity": cm(9)}]},
    "a wound of its own": {"code": coded("402863005"), "bodySite": [{"text": "sacrum"}]},
    "a status of another": {"docStatus": "entered-in-error", "clinicalStatus": coded("odd"), "status": "registered"},
    "words that deny": {"code": {"text": "No wounds"}, "valueQuantity": cm(4), "valueString": "4"},
    "a plan": {"activity": [{"detail": {"status": "cancelled"}}], "category": [coded("38717003")]},
    "a form": {"item": [{"linkId": "assessment.length", "answer": [{"valueQuantity": cm(9)}]}]},
}
FIRST, LAST = min(resource_types()), max(resource_types())


@pytest.mark.parametrize("kind", [FIRST, LAST])
@pytest.mark.parametrize("name", ELEMENTS)
def test_elements_of_another_type_say_nothing(name: str, kind: str) -> None:
    made = {"resourceType": kind, "id": "z", "subject": P, **ELEMENTS[name]}
    other = {key: value for key, value in made.items() if value is not None}
    assert read(*BASE, other) == read(*BASE)
    assert aside(*BASE, other) - aside(*BASE) == {f"kept {kind}/z: no place in the record"}


@pytest.mark.parametrize("kind", [FIRST, LAST])
def test_what_another_type_takes_back_of_itself_is_not_let_in_again(kind: str) -> None:
    """A reply to our form in error is a note of the record; what only looks like one is none."""
    named = {"identifier": {"system": "urn:uuid:0b8f8e54-0000-4000-8000-000000000001", "value": "e/w"}}
    other = {"resourceType": kind, "id": "z", "subject": P, "status": "entered-in-error", **named}
    assert aside(*BASE, other) - aside(*BASE) == {f"withdrawn {kind}/z: withdrawn: status: entered in error"}
