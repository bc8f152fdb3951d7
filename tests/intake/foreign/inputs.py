"""Small invented inputs, each in a shape that is public: none was made from our own output.

Shapes: the HL7 skin and wound guide, Denmark (components under 72287-6), the Netherlands (zib wound: hasMember and
evidence.detail), Australia (stage.summary), C-CDA on FHIR, synthetic patients, and servers' answers (the standards
notes, sections 1 and 4; FHIR R4, http and bundle). Codes are those of the tables in ``tests/data``.
"""

from __future__ import annotations

from typing import Any

Json = Any
LOINC, SCT, UCUM = "http://loinc.org", "http://snomed.info/sct", "http://unitsofmeasure.org"
CLINICAL = "http://terminology.hl7.org/CodeSystem/condition-clinical"
VERIFICATION = "http://terminology.hl7.org/CodeSystem/condition-ver-status"
ALLERGY = "http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical"
ALLERGY_VERIFICATION = "http://terminology.hl7.org/CodeSystem/allergyintolerance-verification"
AT = "2026-03-02T10:05:00-05:00"
P = {"reference": "Patient/p"}


def coded(code: str, display: str | None = None, system: str = SCT, text: str | None = None) -> Json:
    made: Json = {"coding": [{"system": system, "code": code, **({"display": display} if display else {})}]}
    return {**made, "text": text} if text else made


def cm(value: Json, unit: str = "cm") -> Json:
    return {"value": value, "unit": unit, "system": UCUM, "code": unit}


def obs(name: str, code: str, *, of: Json = P, **more: Json) -> Json:
    made = {"resourceType": "Observation", "id": name, "status": "final", "code": coded(code, system=LOINC)}
    return {**made, **({"subject": of} if of else {}), "effectiveDateTime": AT, **more}


def length(name: str, value: Json, **more: Json) -> Json:
    return obs(name, "39126-8", valueQuantity=cm(value), **more)


def wound(name: str, *, of: Json = P, code: Json = None, state: str = "active", **more: Json) -> Json:
    made = {"resourceType": "Condition", "id": name, "clinicalStatus": coded(state, system=CLINICAL)}
    made["code"] = code or coded("402863005", "Venous stasis ulcer of leg")
    return {**made, "subject": of, **more}


def client(key: str = "p", **more: Json) -> Json:
    return {"resourceType": "Patient", "id": key, "birthDate": "1948-03", "gender": "female", **more}


def visit(name: str = "e", **more: Json) -> Json:
    made = {"resourceType": "Encounter", "id": name, "status": "finished", "subject": P, "period": {"start": AT}}
    return {**made, "class": {"system": "http://terminology.hl7.org/CodeSystem/v3-ActCode", "code": "HH"}, **more}


def bundle(kind: str, *resources: Json, base: str = "http://one.example.org/fhir", **more: Json) -> Json:
    entries = [{"fullUrl": f"{base}/{r['resourceType']}/{r['id']}", "resource": r} for r in resources]
    return {"resourceType": "Bundle", "type": kind, "entry": entries, **more}


def posted(*pairs: tuple[str, Json], method: str = "POST") -> Json:
    entries = [
        {"fullUrl": url, "resource": r, "request": {"method": method, "url": r["resourceType"]}} for url, r in pairs
    ]
    return {"resourceType": "Bundle", "type": "transaction", "entry": entries}


U = [f"urn:uuid:0b8f8e54-0000-4000-8000-00000000000{n}" for n in range(10)]
SIZE = [
    {"code": coded(code, system=LOINC), "valueQuantity": cm(value)}
    for code, value in (("39126-8", 4), ("39125-0", 3), ("39127-6", 1))
]
SIDE = {"url": "http://example.org/side", "valueCodeableConcept": coded("7771000", "Left")}
ROUTINE = [
    obs("t", "8310-5", valueQuantity=cm(37, "Cel")),
    obs("pain", "72514-3", valueQuantity={"value": 3, "unit": "{score}", "system": UCUM, "code": "{score}"}),
    obs("weight", "29463-7", valueQuantity=cm(70, "kg")),
]

#: Name -> (resources, how many wounds there are, how many findings were read).
_OF_W = {"focus": [{"reference": "Condition/w"}]}
_HEEL, _FOOT = (wound("w", bodySite=[{"text": f"{side} heel"}]) for side in ("left", "right"))
_AT_E = {"encounter": {"reference": "Encounter/e"}, **_OF_W}
_LATER = {"effectiveDateTime": "2026-03-09T10:05:00-05:00"}
_CHANGE = {
    **{"resourceType": "Procedure", "id": "ch", "status": "completed", "subject": P, "performedDateTime": AT},
    **{"code": coded("18949003", "Change of dressing"), "reasonReference": _OF_W["focus"]},
}
_NURSES = [{"resourceType": "Practitioner", "id": "n", "name": [{"text": name}]} for name in ("Ann Roe", "Bea Doe")]
#: Two resources under one id that differ, and nothing says which is newer.
CONTESTED: dict[str, tuple[list[Json], int, int]] = {
    "places of a wound": ([client(), _HEEL, _FOOT, length("l", 4, **_OF_W)], 1, 1),
    "kinds": ([client(), wound("w"), wound("w", code={"text": "Skin tear"}), length("l", 4, **_OF_W)], 1, 1),
    "states of a wound": ([client(), wound("w"), wound("w", state="resolved"), length("l", 4, **_OF_W)], 1, 1),
    "values": ([client(), wound("w"), length("l", 4, **_OF_W), length("l", 5, **_OF_W)], 1, 1),
    "days": (
        [client(), wound("w"), length("l", 4, **_OF_W), length("l", 4, **{**_OF_W, "effectiveDateTime": "2026-03-05"})],
        1,
        0,
    ),
    "visits": ([client(), visit(), visit(period={"start": "2026-03-09"}), wound("w"), length("l", 4, **_AT_E)], 1, 1),
    "nurses": (
        [*_NURSES, client(), wound("w"), length("l", 4, performer=[{"reference": "Practitioner/n"}], **_OF_W)],
        1,
        1,
    ),
    "forms of one client": ([client(), client(name=[{"family": "Roe"}]), wound("w"), length("l", 4, **_OF_W)], 1, 1),
    "values of a member": (
        [
            client(),
            wound("w"),
            obs("set", "39135-9", hasMember=[{"reference": "Observation/l"}], **_OF_W),
            length("l", 4),
            length("l", 5),
        ],
        1,
        1,
    ),
}

READ: dict[str, tuple[list[Json], int, int]] = {
    "synthetic patient without a wound": ([client(), visit(), *ROUTINE], 0, 0),
    "pain alone": ([ROUTINE[1]], 0, 0),
    "pain beside one wound": ([client(), wound("w"), ROUTINE[1]], 1, 0),
    "pain of a wound": ([client(), wound("w"), {**ROUTINE[1], "focus": [{"reference": "Condition/w"}]}], 1, 1),
    "synthetic patient with a laceration": (
        [
            client(identifier=[{"system": "urn:example:mrn", "value": "S-1"}]),
            visit(reasonCode=[coded("283371005", "Laceration of forearm")]),
            wound("l", code=coded("283371005", "Laceration of forearm", text="Laceration of forearm")),
            *ROUTINE,
        ],
        1,
        0,
    ),
    "a healed wound": ([client(), wound("w", state="resolved", abatementDateTime="2026-01-05")], 1, 0),
    "a wound off our lists": (
        [client(), wound("w", code=coded("000", system="urn:site", text="Wound, left shin"))],
        1,
        0,
    ),
    "a wound by category, in a code alone": (
        [client(), wound("w", code=coded("K7", system="urn:site"), category=[coded("416462003")])],
        1,
        0,
    ),
    "another ulcer": ([client(), wound("g", code=coded("1", system="urn:site", text="Gastric ulcer"))], 0, 0),
    "an illness": ([client(), wound("d", code=coded("1", system="urn:site", text="diabetes mellitus"))], 0, 0),
    "history of a wound": ([client(), wound("h", code={"text": "History of pressure ulcer"})], 0, 0),
    "a wound's risk": ([client(), wound("r", code={"text": "Skin tear risk: high"})], 0, 0),
    "risk of a wound": ([client(), wound("r", code={"text": "At risk for pressure injury"})], 0, 0),
    "a refuted wound": ([client(), wound("w", verificationStatus=coded("refuted", system=VERIFICATION))], 0, 0),
    "a provisional wound": ([client(), wound("w", verificationStatus=coded("provisional", system=VERIFICATION))], 1, 0),
    "a differential": ([client(), wound("w", verificationStatus=coded("differential", system=VERIFICATION))], 0, 0),
    "onset as a period": ([client(), wound("w", onsetPeriod={"start": "2025-11"}, recordedDate="2026-01-05")], 1, 0),
    "onset as an age": ([client(), wound("w", onsetAge={"value": 77, "unit": "a", "system": UCUM, "code": "a"})], 1, 0),
    "the guide of HL7": (
        [client(), obs("s", "72287-6", component=SIZE, performer=[{"reference": "Practitioner/n"}])],
        1,
        3,
    ),
    "Denmark: components": (
        [client(), obs("s", "72287-6", component=SIZE, focus=[{"reference": "Condition/w"}])],
        1,
        3,
    ),
    "the Netherlands: members and evidence": (
        [
            client(),
            wound("w", evidence=[{"detail": [{"reference": "Observation/c"}]}]),
            {
                **obs("c", "225552003", hasMember=[{"reference": "Observation/l"}]),
                "code": coded("225552003", "Wound finding"),
            },
            length("l", 4),
        ],
        1,
        1,
    ),
    "Australia: a stage": (
        [
            client(),
            wound(
                "w",
                code=coded("1163215007", "Pressure injury"),
                stage=[{"summary": coded("1163220007", "Pressure injury stage II")}],
                bodySite=[{**coded("84607009"), "extension": [SIDE]}],
            ),
        ],
        1,
        0,
    ),
    "two panels of one wound and visit, each with its note": (
        [
            client(),
            wound("w"),
            obs("s", "39135-9", hasMember=[{"reference": "Observation/l"}], note=[{"text": "looks well"}], **_OF_W),
            obs("t", "39135-9", note=[{"text": "client anxious"}, {"text": "looks well"}], **_OF_W),
            length("l", 4),
        ],
        1,
        1,
    ),
    "two wounds that did not come": (
        [length("a", 4, focus=[{"reference": "Condition/1"}]), length("b", 9, focus=[{"reference": "Condition/2"}])],
        2,
        2,
    ),
    "one wound that did not come": (
        [
            length("a", 4, focus=[{"reference": "Condition/1"}]),
            length("b", 3, focus=[{"reference": "Condition/1/_history/2"}], effectiveDateTime="2026-03-09"),
        ],
        1,
        2,
    ),
    "a wound by identifier alone": (
        [length("a", 4, focus=[{"type": "Condition", "identifier": {"system": "urn:example:w", "value": "7"}}])],
        1,
        1,
    ),
    "a wound by the identifier of one that came": (
        [
            client(),
            wound("w", identifier=[{"system": "urn:example:w", "value": "7"}]),
            length("a", 4, focus=[{"type": "Condition", "identifier": {"system": "urn:example:w", "value": "7"}}]),
        ],
        1,
        1,
    ),
    "a contained wound": (
        [client(), length("a", 4, contained=[{**wound("x"), "id": "x"}], focus=[{"reference": "#x"}])],
        1,
        1,
    ),
    "two contained wounds of one name": (
        [
            client(),
            length("a", 4, contained=[{**wound("x"), "id": "x"}], focus=[{"reference": "#x"}]),
            length("b", 9, contained=[{**wound("x"), "id": "x"}], focus=[{"reference": "#x"}]),
        ],
        2,
        2,
    ),
    "two sites": (
        [
            client(),
            length("a", 4, bodySite={**coded("84607009"), "extension": [SIDE]}),
            length("b", 9, bodySite=coded("51027004")),
        ],
        2,
        2,
    ),
    "a site that is the wound's": (
        [client(), wound("w", bodySite=[coded("51027004")]), length("a", 4, bodySite=coded("51027004"))],
        1,
        1,
    ),
    "a site that another wound has": (
        [client(), wound("w", bodySite=[coded("51027004")]), length("a", 4, bodySite=coded("22180002"))],
        2,
        1,
    ),
    "about an illness": (
        [
            client(),
            wound("w"),
            wound("d", code={"text": "diabetes"}),
            length("a", 4, focus=[{"reference": "Condition/d"}]),
        ],
        1,
        0,
    ),
    "of a wound that does not count": (
        [
            client(),
            wound("w", verificationStatus=coded("refuted", system=VERIFICATION)),
            length("a", 4, focus=[{"reference": "Condition/w"}]),
        ],
        0,
        0,
    ),
    "entered in error": ([client(), length("a", 14, status="entered-in-error"), length("b", 4)], 1, 1),
    "a cancelled one": ([client(), length("a", 14, status="cancelled")], 0, 0),
    "an unknown status": ([client(), length("a", 14, status="odd")], 0, 0),
    "negated by an extension": ([client(), length("a", 14, modifierExtension=[{"url": "urn:site:not"}])], 0, 0),
    "rules of its own": ([client(), length("a", 14, implicitRules="urn:site:rules")], 0, 0),
    "two values for one place": ([client(), length("a", 4), length("b", 9)], 1, 1),
    "one value said twice": ([client(), length("a", 4), length("b", 4)], 1, 1),
    "a tunnel in two Observations": (
        [client(), obs("d", "72297-5", valueCodeableConcept={"text": "4"}), obs("l", "72296-7", valueQuantity=cm(2))],
        1,
        1,
    ),
    "two tunnels of one direction": (
        [client(), *(obs(n, "72297-5", valueCodeableConcept={"text": "4"}) for n in ("d", "e"))],
        1,
        1,
    ),
    "without an id": ([client(), {k: v for k, v in length("a", 4).items() if k != "id"}], 1, 1),
    "not read, without an id": ([client(), {k: v for k, v in ROUTINE[1].items() if k != "id"}], 0, 0),
    "two units": ([client(), obs("a", "39126-8", valueQuantity={**cm(4), "code": "mm"})], 0, 0),
    "a plan with a cancelled activity": (
        [
            client(),
            wound("w"),
            {
                "resourceType": "CarePlan",
                "id": "k",
                "status": "active",
                "intent": "plan",
                "subject": P,
                "addresses": [{"reference": "Condition/w"}],
                "activity": [{"detail": {"status": "cancelled", "description": "leave it wet"}}],
                "note": [{"text": "look again on Monday"}],
            },
        ],
        1,
        0,
    ),
    "old names and numbers": (
        [
            client(
                identifier=[
                    {"use": "old", "system": "urn:example:mrn", "value": "S-0"},
                    {"use": "official", "system": "urn:example:mrn", "value": "S-1"},
                ],
                name=[{"use": "old", "family": "Doe"}, {"family": "Roe", "given": ["Ann"]}],
            ),
            wound("w"),
        ],
        1,
        0,
    ),
    "a client who has died": ([client(deceasedDateTime="2026-02-01"), wound("w")], 1, 0),
    "a client whose main record is another": (
        [client(link=[{"other": {"reference": "Patient/main"}, "type": "refer"}]), wound("w")],
        1,
        0,
    ),
    "a client whose record was replaced": (
        [client(link=[{"other": {"reference": "Patient/main"}, "type": "replaced-by"}]), wound("w"), length("l", 4)],
        1,
        1,
    ),
    "a record of a client that is not in use": ([client(active=False), wound("w")], 1, 0),
    "not asked": (
        [
            client(),
            wound("w"),
            obs(
                "o",
                "72288-4",
                valueCodeableConcept=coded("NASK", system="http://terminology.hl7.org/CodeSystem/v3-NullFlavor"),
            ),
        ],
        1,
        1,
    ),
    "an allergy": (
        [
            client(),
            {
                "resourceType": "AllergyIntolerance",
                "id": "y",
                "patient": P,
                "clinicalStatus": coded("active", system=ALLERGY),
                "code": {"text": "honey"},
            },
        ],
        0,
        0,
    ),
    "a refuted allergy": (
        [
            client(),
            {
                "resourceType": "AllergyIntolerance",
                "id": "y",
                "patient": P,
                "verificationStatus": coded("refuted", system=ALLERGY_VERIFICATION),
                "code": {"text": "honey"},
            },
        ],
        0,
        0,
    ),
    "a period": (
        [
            client(),
            {k: v for k, v in length("a", 4).items() if k != "effectiveDateTime"}
            | {"effectivePeriod": {"start": AT, "end": "2026-03-02T11:00:00-05:00"}},
        ],
        1,
        1,
    ),
    "an organisation as performer": (
        [
            client(),
            {"resourceType": "Organization", "id": "o", "name": "Invented Home Care"},
            length("a", 4, performer=[{"reference": "Organization/o"}]),
        ],
        1,
        1,
    ),
    "an encounter that did not come": ([client(), length("a", 4, encounter={"reference": "Encounter/e"})], 1, 1),
    "a visit at a place": (
        [
            client(),
            {"resourceType": "Location", "id": "h", "name": "Invented clinic"},
            visit(location=[{"location": {"reference": "Location/h"}}]),
            length("a", 4, encounter={"reference": "Encounter/e"}),
        ],
        1,
        1,
    ),
    "of another day than its encounter": (
        [
            client(),
            visit(),
            length("a", 4, encounter={"reference": "Encounter/e"}),
            length("b", 3, encounter={"reference": "Encounter/e"}, effectiveDateTime="2026-03-09T10:00:00-05:00"),
        ],
        1,
        2,
    ),
    "a transaction": (
        [
            posted(
                (U[0], {"resourceType": "Patient", "birthDate": "1948"}),
                (U[1], {k: v for k, v in wound("w", of={"reference": U[0]}).items() if k != "id"}),
                (U[2], {**length("a", 4, of={"reference": U[0]}), "focus": [{"reference": U[1]}]}),
            )
        ],
        1,
        1,
    ),
    "a delete": (
        [
            client(),
            length("a", 14),
            {
                "resourceType": "Bundle",
                "type": "transaction",
                "entry": [{"request": {"method": "DELETE", "url": "Observation/a"}}],
            },
        ],
        0,
        0,
    ),
    "a page of a search": (
        [bundle("searchset", client(), length("a", 4), link=[{"relation": "next", "url": "http://one.example.org/2"}])],
        1,
        1,
    ),
    "about a group": ([length("a", 4, of={"reference": "Group/g"})], 0, 0),
    "a client by identifier alone": (
        [length("a", 4, of={"identifier": {"system": "urn:example:mrn", "value": "S-1"}})],
        1,
        1,
    ),
    "a wound by what is measured of it": (
        [client(), wound("w", code={"coding": [{"system": SCT, "code": "999000"}]}), length("a", 3, **_OF_W)],
        1,
        1,
    ),
    "a visit without a time": (
        [client(), visit(period={}), wound("w"), length("a", 3, **_AT_E), length("b", 2, **{**_AT_E, **_LATER})],
        1,
        2,
    ),
    "a dressing change of which nothing is said": ([client(), wound("w"), _CHANGE], 1, 0),
    "a dressing change with what was used": ([client(), wound("w"), {**_CHANGE, "usedCode": [{"text": "foam"}]}], 1, 0),
    "a plan of which nothing is understood": (
        [
            client(),
            wound("w"),
            {
                **{"resourceType": "CarePlan", "id": "cp", "status": "active", "intent": "plan", "subject": P},
                **{
                    "addresses": _OF_W["focus"],
                    "activity": [{"detail": {"status": "in-progress", "code": {"text": "x"}}}],
                },
            },
        ],
        1,
        0,
    ),
    "healed in words, active by its status": (
        [
            client(),
            wound("w", code={"text": "Venous ulcer of leg, healed"}),
            length("a", 1, focus=[{"reference": "Condition/w"}]),
        ],
        1,
        1,
    ),
    "nobody is named": ([length("a", 4, of=None)], 1, 1),
    **{f"one id, two {name}": (some, wounds, found) for name, (some, wounds, found) in CONTESTED.items()},
}

OTHER = {"reference": "Patient/q"}
#: Name -> resources of two clients, or a server's answer: refused, and why in words.
REFUSED: dict[str, tuple[list[Json], str]] = {
    "two Patients": ([client(), client("q")], "2"),
    "two subjects": ([length("a", 4), length("b", 4, of=OTHER)], "2"),
    "a Patient and another subject": ([client(), length("b", 4, of=OTHER)], "2"),
    "two by identifier": (
        [length(n, 4, of={"identifier": {"system": "urn:example:mrn", "value": n}}) for n in ("a", "b")],
        "2",
    ),
    "two by address": ([length(n, 4, of={"reference": f"http://{n}.example.org/Patient/1"}) for n in ("a", "b")], "2"),
    "two of one id on two servers": (
        [
            bundle("searchset", client(), base="http://one.example.org/fhir"),
            bundle("searchset", client(gender="male"), base="http://two.example.org/fhir"),
        ],
        "2",
    ),
    "another's allergy": (
        [client(), {"resourceType": "AllergyIntolerance", "id": "y", "patient": OTHER, "code": {"text": "honey"}}],
        "2",
    ),
    "another's, in error": ([client(), length("b", 4, of=OTHER, status="entered-in-error")], "2"),
    "an outcome": (
        [{"resourceType": "OperationOutcome", "issue": [{"severity": "error", "code": "x"}]}],
        "OperationOutcome",
    ),
    "an answer to a transaction": (
        [{"resourceType": "Bundle", "type": "transaction-response", "entry": [{"response": {"status": "201"}}]}],
        "transaction-response",
    ),
    "an answer to a batch": (
        [{"resourceType": "Bundle", "type": "batch-response", "entry": [{"response": {"status": "404"}}]}],
        "batch-response",
    ),
    "a search without matches": ([{"resourceType": "Bundle", "type": "searchset", "total": 0}], "empty"),
}
