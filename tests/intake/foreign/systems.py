"""What systems send around their resources: histories, batches, messages, logs, forms answered by others.

Written from HL7 FHIR R4 (the section stands beside each case) before anything read it; clients and values are invented.
"""

from __future__ import annotations

from typing import Any

from tests.intake.foreign.inputs import AT, LOINC, P, bundle, client, coded, length, obs, visit, wound

Json = Any
OF_W = {"focus": [{"reference": "Condition/w"}]}
W, L = wound("w"), length("l", 4, **OF_W)
WIDTH = obs("b", "39125-0", valueQuantity={"value": 3, "unit": "cm"}, **OF_W)
ALL = (client(), W, L, WIDTH)
DATA_OPERATION = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"
DAY = "2026-03-02 final w"
BOTH = [f"{DAY} length 4 cm", f"{DAY} width 3 cm"]
HIS = "http://one.example.org/fhir"


def version(resource: Json, method: str = "PUT", when: str | None = None, *, name: str | None = None) -> Json:
    """An entry of a history: a version of a resource, or that it was deleted (``resource`` None, ``name`` given)."""
    of = name or f"{resource['resourceType']}/{resource['id']}"
    made: Json = {"fullUrl": f"{HIS}/{of}", "request": {"method": method, "url": of}}
    made |= {"resource": resource} if resource is not None else {}
    return {**made, "response": {"status": "200", **({"lastModified": when} if when else {})}}


def history(*entries: Json) -> Json:
    return {"resourceType": "Bundle", "type": "history", "entry": list(entries)}


def gone(name: str, when: str | None = None) -> Json:
    return version(None, "DELETE", when, name=name)


def said_by(kind: str, code: str, of: str, recorded: str = "2026-03-05T10:00:00Z") -> Json:
    """A Provenance or an AuditEvent that says that a resource was taken away."""
    if kind == "Provenance":
        made = {"target": [{"reference": of}], "activity": coded(code, system=DATA_OPERATION)}
    else:
        made = {"action": code, "outcome": "0", "entity": [{"what": {"reference": of}}]}
        made |= {"type": {"system": "http://terminology.hl7.org/CodeSystem/audit-event-type", "code": "rest"}}
        made |= {"source": {"observer": {"display": "chart"}}}
    return {"resourceType": kind, "id": "said", "recorded": recorded, "agent": [{"who": {"display": "Bea"}}], **made}


def form(**more: Json) -> Json:
    """A form of somebody else's, answered for the client."""
    made = {"resourceType": "QuestionnaireResponse", "id": "q", "status": "completed", "authored": AT}
    item = {"linkId": "1", "text": "How is the wound today?", "answer": [{"valueString": "better"}]}
    return {**made, "questionnaire": "http://example.org/Questionnaire/at-home", "item": [item], **more}


L5 = length("l", 5, **OF_W)
_TEXT = obs("t", "39126-8", valueString="4,2 cm", **OF_W)
_PAGE = bundle("searchset", client(), W, L)
_FAILED = {"response": {"status": "404 Not Found"}}
_CAREGIVER = {"reference": "Patient/caregiver"}
_GOAL = {"resourceType": "Goal", "id": "g", "lifecycleStatus": "active", "description": {"text": "Closed by May"}}
_PLAN = {
    **{"resourceType": "CarePlan", "id": "p", "status": "active", "intent": "plan", "subject": P},
    **{"contained": [{**_GOAL, "subject": P}], "goal": [{"reference": "#g"}], "period": {"start": "2026-03-02"}},
    "addresses": OF_W["focus"],
}
PICTURE = {
    **{
        "resourceType": "DocumentReference",
        "id": "d",
        "status": "current",
        "subject": P,
        "date": "2026-03-02T15:10:00Z",
    },
    **{"type": coded("72170-4", system=LOINC), "context": {"related": OF_W["focus"]}},
    "content": [{"attachment": {"contentType": "image/png", "url": "Binary/b"}}],
}
PLACE = {"resourceType": "BodyStructure", "id": "s", "active": False, "patient": P, "location": {"text": "heel"}}
AT_PLACE = {
    "url": "http://hl7.org/fhir/StructureDefinition/bodySite",
    "valueReference": {"reference": "BodyStructure/s"},
}
LIMB = wound("w", bodySite=[{"text": "Structure of left lower limb"}])
REPORT = {
    **{"resourceType": "DiagnosticReport", "id": "r", "status": "final", "code": coded("39135-9", system=LOINC)},
    **{"subject": P, "encounter": {"reference": "Encounter/e"}, "result": [{"reference": "Observation/l"}]},
}


def timed(timing: Json) -> Json:
    return {**{key: value for key, value in L.items() if key != "effectiveDateTime"}, "effectiveTiming": timing}


GONE = "withdrawn Observation: withdrawn: Bundle.entry.request.method: deleted"
GONE_L = "withdrawn Observation/l: withdrawn: Bundle.entry.request.method: deleted"
EARLIER = "withdrawn Observation/l: withdrawn: an earlier version, in the history that it came in"
CONFLICT = "conflict: another value came for the same place; neither was chosen"
NO_TYPE = "not understood: a type of resource that FHIR R4 does not have"

#: Case -> what came, the facts in it, and the resources that are no facts (see ``tests.intake.facts``).
SYSTEMS: dict[str, tuple[list[Json], list[str], set[str]]] = {
    # -- R4, http, history: the oldest versions last; a DELETE has no resource
    "a history of one version each": ([history(*map(version, ALL))], BOTH, set()),
    "the newest of two versions stands first": (
        [history(version(L5), *map(version, ALL))],
        [f"{DAY} length 5 cm", BOTH[1]],
        {EARLIER},
    ),
    "the server's times against the order": (
        [
            history(
                *map(version, (client(), W)),
                version(L, "POST", "2026-03-02T16:00:00Z"),
                version(L5, "PUT", "2026-03-02T17:00:00Z"),
            )
        ],
        [f"{DAY} length 5 cm"],
        {EARLIER},
    ),
    "what nobody names was deleted": ([history(gone("Observation/z"), *map(version, ALL))], BOTH, {GONE}),
    "what came was deleted since": ([history(gone("Observation/l"), *map(version, ALL))], BOTH[1:], {GONE_L, GONE}),
    "what was deleted was written again": (
        [history(version(L5), gone("Observation/l"), version(L), *map(version, (client(), W, WIDTH)))],
        [f"{DAY} length 5 cm", BOTH[1]],
        {EARLIER},
    ),
    "the wound of findings was deleted": (
        [history(gone("Condition/w"), *map(version, ALL))],
        [],
        {
            "kept Observation/b: its wound does not count",
            "kept Observation/l: its wound does not count",
            "withdrawn Condition/w: withdrawn: Bundle.entry.request.method: deleted",
            "withdrawn Condition: withdrawn: Bundle.entry.request.method: deleted",
        },
    ),
    # -- R4, http, batch: the answer to a search in a batch is a Bundle
    "a batch of searches": (
        [{"resourceType": "Bundle", "type": "batch-response", "entry": [{"resource": _PAGE}, _FAILED]}],
        BOTH[:1],
        set(),
    ),
    "a Bundle in a collection": ([bundle("collection", {**bundle("collection", *ALL), "id": "b"})], BOTH, set()),
    # -- R4, AuditEvent.action and outcome, Provenance.activity: what was taken away is no fact
    "a log of a deletion": (
        [bundle("collection", *ALL, said_by("AuditEvent", "D", "Observation/l"))],
        BOTH[1:],
        {
            "withdrawn Observation/l: withdrawn: an AuditEvent says that it was deleted",
            "kept AuditEvent/said: other content (who did what, and when): carried as it came",
        },
    ),
    "a log of a deletion that failed": (
        [bundle("collection", *ALL, {**said_by("AuditEvent", "D", "Observation/l"), "outcome": "8"})],
        BOTH,
        {"kept AuditEvent/said: other content (who did what, and when): carried as it came"},
    ),
    "a log of a reading": (
        [bundle("collection", *ALL, said_by("AuditEvent", "R", "Observation/l"))],
        BOTH,
        {"kept AuditEvent/said: other content (who did what, and when): carried as it came"},
    ),
    "a log of a deletion before the last change": (
        [
            bundle(
                "collection",
                *(client(), W, {**L, "meta": {"lastUpdated": "2026-03-06T10:00:00Z"}}, WIDTH),
                said_by("AuditEvent", "D", "Observation/l"),
            )
        ],
        BOTH,
        {"kept AuditEvent/said: other content (who did what, and when): carried as it came"},
    ),
    "a wound that was made void": (
        [bundle("collection", *ALL, said_by("Provenance", "NULLIFY", "Condition/w"))],
        [],
        {
            "kept Observation/b: its wound does not count",
            "kept Observation/l: its wound does not count",
            "withdrawn Condition/w: withdrawn: a Provenance says that it was made void",
            "kept Provenance/said: other content (who did what, and when): carried as it came",
        },
    ),
    # -- R4, QuestionnaireResponse.source: who answered; subject: of whom
    "a caregiver answered": (
        [bundle("collection", *ALL, form(subject=P, source=_CAREGIVER))],
        BOTH,
        {"kept QuestionnaireResponse/q: no place in the record"},
    ),
    "the client answered": (
        [bundle("collection", *ALL, form(source=P))],
        BOTH,
        {"kept QuestionnaireResponse/q: no place in the record"},
    ),
    # -- R4, Observation.focus: the value is of all that is in focus
    "one wound in focus did not come": (
        [bundle("collection", *ALL[:2], length("l", 4, focus=[*OF_W["focus"], {"reference": "Condition/other"}]))],
        [],
        {"kept Observation/l: names more than one wound, and is read as a fact of none"},
    ),
    # -- R4, Observation.value[x]: a text where a number is meant; common practice in French, no source
    "a decimal comma": ([bundle("collection", client(), W, _TEXT)], [f"{DAY} length 4.2 cm"], set()),
    "a decimal comma in a part": (
        [
            bundle(
                "collection",
                *(client(), W),
                obs(
                    "t",
                    "39135-9",
                    component=[{"code": coded("39126-8", system=LOINC), "valueString": "4,25cm"}],
                    **OF_W,
                ),
            )
        ],
        [f"{DAY} length 4.25 cm"],
        set(),
    ),
    "a comma that may part thousands": (
        [bundle("collection", client(), W, {**_TEXT, "valueString": "1,250 mm"})],
        [f"{DAY} length 1,250 mm"],
        set(),
    ),
    # -- R4, Resource: what does not say what it is, or is of a later version of FHIR
    "a type of a later FHIR": (
        [bundle("collection", *ALL, {"resourceType": "DeviceUsage", "id": "d", "status": "active", "patient": P})],
        BOTH,
        {f"not-understood DeviceUsage/d: {NO_TYPE}"},
    ),
    "no type among others": ([*ALL, {"id": "x", "note": "4 cm"}], BOTH, {f"not-understood resource/x: {NO_TYPE}"}),
    # -- R4, Timing.event and DiagnosticReport.encounter: when, and at which visit
    "the one event of a Timing": (
        [bundle("collection", client(), W, timed({"event": ["2026-03-02T09:00:00-05:00"]}))],
        [f"{DAY} length 4 cm"],
        set(),
    ),
    "two events of a Timing": (
        [bundle("collection", client(), W, timed({"event": ["2026-03-02", "2026-03-03"]}))],
        ["no time final w length 4 cm"],
        set(),
    ),
    "a report at a visit": (
        [bundle("collection", client(), W, visit(), REPORT, L)],
        [f"{DAY} length 4 cm"],
        {"kept DiagnosticReport/r: other content (a result): carried as it came"},
    ),
    "a report of another day": (
        [bundle("collection", client(), W, visit(), REPORT, {**L, "effectiveDateTime": "2026-03-05"})],
        ["2026-03-02 final", "2026-03-05 final w length 4 cm"],
        {"kept DiagnosticReport/r: other content (a result): carried as it came"},
    ),
    # -- R4, Observation.bodySite: the side in the words of a SNOMED CT display
    "the other side in the display": (
        [
            bundle(
                "collection", client(), LIMB, length("l", 4, **OF_W, bodySite={"text": "Structure of right lower limb"})
            )
        ],
        [],
        {"conflict Observation/l: conflict: names a wound, and a place on the other side of the body"},
    ),
    "the same side in the display": (
        [
            bundle(
                "collection", client(), LIMB, length("l", 4, **OF_W, bodySite={"text": "Structure of left lower limb"})
            )
        ],
        [f"{DAY} length 4 cm"],
        set(),
    ),
    # -- R4, DocumentReference.docStatus and BodyStructure.active: what is withdrawn with them
    "a picture of a void document": (
        [bundle("collection", *ALL, {**PICTURE, "docStatus": "entered-in-error"})],
        BOTH,
        {"withdrawn DocumentReference/d: withdrawn: docStatus: entered in error"},
    ),
    "a place that is not in use any more": (
        [bundle("collection", client(), PLACE, length("l", 4, extension=[AT_PLACE]))],
        [],
        {
            "withdrawn BodyStructure/s: withdrawn: active: not in use any more",
            "kept Observation/l: its wound does not count",
        },
    ),
    # -- one value a place: a second that agrees, and a third that does not
    "two agree and one does not": (
        [bundle("collection", *ALL, {**L, "id": "m"}, {**L5, "id": "n"})],
        [f"{DAY} length {{'absent': 'two different values came'}}", BOTH[1]],
        {f"conflict Observation/{name}: {CONFLICT}" for name in "lmn"},
    ),
    # -- R4, CarePlan.goal: a Goal that is contained
    "a plan with its goal inside": ([bundle("collection", client(), W, _PLAN)], [f"{DAY} goal Closed by May"], set()),
}
