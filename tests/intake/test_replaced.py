"""What others that came take back: each way in which R4 lets a resource say that another no longer holds.

R4: CarePlan.replaces, DocumentReference.relatesTo, Composition.relatesTo, the extension observation-replaces,
Patient.link; Provenance.activity (HL7 v3 DataOperation), AuditEvent.action and outcome; Meta.versionId and lastUpdated.
That of a circle none holds is a promise of ours: nothing says which does.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.foreign.test_laws import encode
from tests.intake.two_clients import ref
from woundfhir.fhir.came import Came
from woundfhir.fhir.reasons import CIRCLE, DELETED, LOGGED, NULLIFIED, REPLACED, SUPERSEDED, Reason
from woundfhir.intake.replaced import mark_replaced

Json = Any
URL = "http://hl7.org/fhir/StructureDefinition/observation-replaces"
OPERATION = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"
AT = "2026-03-05T10:00:00Z"


def plan(name: str, *older: str, **more: Json) -> Json:
    replaces = {"replaces": [ref(f"CarePlan/{one}") for one in older]} if older else {}
    return {"resourceType": "CarePlan", "id": name, "status": "active", "intent": "plan", **replaces, **more}


def paper(name: str, kind: str = "DocumentReference", **more: Json) -> Json:
    status = "final" if kind == "Composition" else "current"
    return {"resourceType": kind, "id": name, "status": status, **({"relatesTo": [more]} if more else {})}


def seen(name: str, url: str | None = None, to: Json = None, **more: Json) -> Json:
    extension = {"extension": [{"url": url, "valueReference": to or ref("Observation/old")}]} if url else {}
    return {"resourceType": "Observation", "id": name, "status": "final", **extension, **more}


def said(to: str, code: str = "DELETE", system: str = OPERATION, name: str = "said") -> Json:
    activity = {"coding": [5, {"system": system, "code": code}]}
    return {"resourceType": "Provenance", "id": name, "recorded": AT, "target": [ref(to)], "activity": activity}


def logged(action: str = "D", **more: Json) -> Json:
    entity = [{"detail": []}, {"what": 5}, {"what": ref("Observation/old")}]
    return {"resourceType": "AuditEvent", "id": "log", "recorded": AT, "action": action, "entity": entity, **more}


def updated(at: str) -> Json:
    return seen("old", meta={"lastUpdated": at})


OLD_PAPER, OLD = {**paper("old"), "identifier": [{"system": "urn:x", "value": "1"}]}, ref("DocumentReference/old")
OF_ONE = {"targetIdentifier": {"system": "urn:x", "value": "1"}}
VOID = {"status": "entered-in-error"}
#: Case -> what came, and by its id why it no longer holds.
CASES: dict[str, tuple[list[Json], dict[str, Reason]]] = {
    "a plan": ([plan("new", "old"), plan("old")], {"old": REPLACED}),
    "two plans": ([plan("new", "old", "b"), plan("old"), plan("b")], {"old": REPLACED, "b": REPLACED}),
    "a plan of another shape": ([plan("new", replaces=ref("CarePlan/old")), plan("old")], {}),
    "a plan in words": ([plan("new", replaces=["CarePlan/old", 5]), plan("old")], {}),
    "a plan that did not come": ([plan("new", "z"), plan("old")], {}),
    "itself": ([plan("new", "new")], {}),
    "what is of another type": ([plan("new", replaces=[ref("Observation/old")]), seen("old")], {}),
    "by what was withdrawn": ([plan("new", "old", status="entered-in-error"), plan("old")], {}),
    "one after the other": ([plan("c", "b"), plan("b", "a"), plan("a")], {"a": REPLACED, "b": REPLACED}),
    "each other": ([plan("a", "b"), plan("b", "a")], {"a": CIRCLE, "b": CIRCLE}),
    "three in a circle": ([plan("a", "b"), plan("b", "c"), plan("c", "a")], dict.fromkeys("abc", CIRCLE)),
    "one of a circle, and by one": (
        [plan("n", "a"), plan("a", "b"), plan("b", "a", "z"), plan("z")],
        {"a": CIRCLE, "b": CIRCLE, "z": REPLACED},
    ),
    "a document": ([paper("new", code="replaces", target=OLD), OLD_PAPER], {"old": REPLACED}),
    "a document of which it says more": ([paper("new", code="signs", target=OLD), OLD_PAPER], {}),
    "a document to which it adds": ([paper("new", code="appends", target=OLD), OLD_PAPER], {}),
    "a document by its number": ([paper("new", code="replaces", **OF_ONE), OLD_PAPER], {"old": REPLACED}),
    "a document by its number, signed": ([paper("new", code="signs", **OF_ONE), OLD_PAPER], {}),
    "a document by its number, added to": ([paper("new", code="appends", **OF_ONE), OLD_PAPER], {}),
    "a composition": (
        [paper("new", "Composition", code="replaces", targetReference=ref("Composition/old")),
         paper("old", "Composition")],
        {"old": REPLACED},
    ),
    "a finding": ([seen("new", URL), seen("old")], {"old": REPLACED}),
    "a finding, in an extension before it": ([seen("new", URL[:-1]), seen("old"), plan("x", "y")], {}),
    "a finding, in an extension behind it": ([seen("new", URL + "x"), seen("old")], {}),
    "a finding in words": ([seen("new", URL, "Observation/old"), seen("old")], {}),
    "a client": (
        [{"resourceType": "Patient", "id": "a", "link": [{"type": "replaces", "other": ref("Patient/b")}]},
         {"resourceType": "Patient", "id": "b"}],
        {},
    ),
    "deleted": ([said("Observation/old"), seen("old")], {"old": DELETED}),
    "made void": ([said("Observation/old", "NULLIFY"), seen("old")], {"old": NULLIFIED}),
    "deleted and made void": (
        [said("Observation/old"), said("Observation/old", "NULLIFY", name="b"), seen("old")],
        {"old": DELETED},
    ),
    "changed": ([said("Observation/old", "UPDATE"), said("Observation/z")], {}),
    "a code of another list": ([said("Observation/old", system="urn:x"), seen("old")], {}),
    "a code of a list behind it": ([said("Observation/old", system="zzz"), seen("old")], {}),
    "an activity in words": ([{**said("Observation/old"), "activity": "DELETE"}, seen("old")], {}),
    "deleted itself": ([said("Provenance/said")], {}),
    "what says so was deleted itself": (
        [said("Provenance/b", name="a"), said("Observation/old", name="b"), seen("old")],
        {"b": DELETED},
    ),
    "what replaces it was deleted": ([said("CarePlan/new"), plan("new", "old"), plan("old")], {"new": DELETED}),
    "its version": (
        [said("Observation/old/_history/2"), seen("old", meta={"versionId": "2"})],
        {"old": DELETED},
    ),
    "a version before it": ([said("Observation/old/_history/1"), seen("old", meta={"versionId": "2"})], {}),
    "a version behind it": ([said("Observation/old/_history/3"), seen("old", meta={"versionId": "2"})], {}),
    "a version, and it says none": ([said("Observation/old/_history/1"), seen("old")], {"old": DELETED}),
    "changed before": ([said("Observation/old"), updated("2026-03-05T09:59:59Z")], {"old": DELETED}),
    "changed then": ([said("Observation/old"), updated("2026-03-05T05:00:00-05:00")], {"old": DELETED}),
    "changed since": ([said("Observation/old"), updated("2026-03-05T10:00:01Z")], {}),
    "changed at no certain time": ([said("Observation/old"), updated("2026-03-06")], {"old": DELETED}),
    "said at no certain time": (
        [{**said("Observation/old"), "recorded": "2026-03-05"}, updated("2026-03-06T10:00:00Z")],
        {"old": DELETED},
    ),
    "logged": ([logged(), seen("old")], {"old": LOGGED}),
    "logged as done": ([logged(outcome="0"), seen("old")], {"old": LOGGED}),
    "logged as failed": ([logged(outcome="4"), seen("old")], {}),
    "logged as made": ([logged("C", x="DELETE"), seen("old")], {}),
    "logged as run": ([logged("E", x="DELETE"), seen("old")], {}),
}  # fmt: skip


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("name", CASES)
def test_what_no_longer_holds_gets_its_reason(name: str, turned: bool) -> None:
    came, expected = CASES[name]
    if name in ("deleted and made void", "what says so was deleted itself"):
        turned = False  # the first of two that came says why
    some = [Came(one, one) for one in (came[::-1] if turned else came)]
    mark_replaced(some, encode(came) + b'"DELETE"')
    assert {one.original["id"]: one.reason for one in some if one.reason is not None} == expected


def test_what_does_not_hold_itself_takes_nothing_back() -> None:
    some = [Came(one, one, reason=why) for one, why in ((plan("new", "old"), SUPERSEDED), (plan("old"), None))]
    some += [Came(one, one, reason=why) for one, why in ((said("Observation/l"), SUPERSEDED), (seen("l"), None))]
    mark_replaced(some, encode([one.original for one in some]))
    assert [one.reason for one in some] == [SUPERSEDED, None, SUPERSEDED, None]


def test_a_reason_that_stands_is_kept() -> None:
    some = [Came(plan("new", "old"), plan("new", "old")), Came(plan("old"), plan("old"), reason=SUPERSEDED)]
    mark_replaced(some, encode([one.original for one in some]))
    assert some[1].reason is SUPERSEDED
