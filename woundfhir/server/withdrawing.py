"""What left the record and is still at a server: marked there as entered in error, as R4 has a status for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from woundfhir.fhir.elements import objects
from woundfhir.fhir.keys import key_of
from woundfhir.fhir.tags import LEFT_THE_RECORD, SENT
from woundfhir.fhir.transactions import CREATE_ONLY
from woundfhir.server.connection import Connection
from woundfhir.server.planning import Step
from woundfhir.server.receipt import Receipt

Json = Any
Resource = dict[str, Json]
#: The mark by which ``fetch`` knows that something was withdrawn because it left the record, and no note said so.
TAG = {"system": SENT, "code": LEFT_THE_RECORD}
_VERIFICATION = "http://terminology.hl7.org/CodeSystem/"


def _status(name: str) -> Callable[[Resource], Resource]:
    return lambda resource: {**resource, name: "entered-in-error"}


def _verification(code_system: str) -> Callable[[Resource], Resource]:
    """R4 (con-5, ait-2): what was entered in error has no clinical status."""
    coding = {"system": _VERIFICATION + code_system, "code": "entered-in-error", "display": "Entered in Error"}

    def mark(resource: Resource) -> Resource:
        made = {key: value for key, value in resource.items() if key != "clinicalStatus"}
        return {**made, "verificationStatus": {"coding": [coding]}}

    return mark


#: How a resource of each type says that it was entered in error (R4, the required bindings of these elements).
MARKS: dict[str, Callable[[Resource], Resource]] = {
    **dict.fromkeys(
        (
            *("Observation", "Procedure", "CarePlan", "CareTeam", "Encounter", "SupplyDelivery", "DocumentReference"),
            *("QuestionnaireResponse", "ServiceRequest", "Media", "DeviceUseStatement", "MedicationStatement", "Flag"),
        ),
        _status("status"),
    ),
    "Goal": _status("lifecycleStatus"),
    "Condition": _verification("condition-ver-status"),
    "AllergyIntolerance": _verification("allergyintolerance-verification"),
    "BodyStructure": lambda resource: {**resource, "active": False},
}


def is_withdrawn(resource: Resource) -> bool:
    """Whether a resource was marked by us because it left the record."""
    mark = MARKS.get(str(resource.get("resourceType")))
    meta = resource.get("meta")
    tags = objects(meta, "tag") if isinstance(meta, dict) else []
    tagged = any(tag.get("system") == TAG["system"] and tag.get("code") == TAG["code"] for tag in tags)
    return tagged and mark is not None and mark(resource) == resource


def withdrawals(
    server: Connection, receipt: Receipt, current: Sequence[Step], system: str, *, whole: bool
) -> tuple[list[Step], list[str]]:
    """Return the steps that mark what left the record, and what a person is asked first.

    A visit or a wound that is missing as a whole is marked only with ``whole``: the record may be a part of one.
    """
    # What stands there under another key by now is the same thing: it is brought up to date, and not gone.
    here = {step.place for step in current}
    tops = {step.key.value.split("/")[0] for step in current if step.key.system == system}
    steps, missing = [], set()
    for words, place, _ in receipt.gone({step.key.words for step in current}):
        if place in here:
            continue
        top = words.partition(f"?identifier={system}|")[2].split("/")[0]
        if top and top not in (*tops, "allergies", "conditions", "contact", "extra", "author") and not whole:
            missing.add(top)
            continue
        step = _step(server, words, place, system, receipt)
        if step is not None:
            steps.append(step)
    notices = []
    if missing:
        notices.append(
            f"{len(missing)} visits or wounds that were sent before are not in this record: they stand there as they "
            "were. If they are to be marked as entered in error, add --withdraw"
        )
    return steps, notices


def _step(server: Connection, words: str, place: str, system: str, receipt: Receipt) -> Step | None:
    kind = place.split("/")[0]
    if kind in CREATE_ONLY or kind not in MARKS:
        return None
    answer = server.get(place)
    if answer.status in (404, 410):
        receipt.forget(words)
        return None
    there = answer.resource(f"the server's {kind}")
    key = key_of(there)
    if key is None or key.words != words or key.system != system:
        return None
    meta = there.get("meta") or {}
    if is_withdrawn(there):
        receipt.forget(words)
        return None
    tags = [*(meta.get("tag") or ()), TAG]
    kept = {name: value for name, value in meta.items() if name not in ("versionId", "lastUpdated")}
    marked = MARKS[kind]({**there, "meta": {**kept, "tag": tags}})
    return Step(key, marked, "withdraw", place, meta.get("versionId"))
