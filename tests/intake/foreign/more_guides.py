"""Ten more inputs in the shapes of published guides, written after the maps of the first, before they were tried.

Sources: as in ``guides.py`` (standards notes, section 1; HL7 FHIR R4 resource pages). Clients and values are invented.
"""

from __future__ import annotations

from typing import Any

from tests.intake.foreign.guides import (
    GUIDES,
    ICD10CM,
    SCT,
    TERM,
    bundle,
    cc,
    coded,
    condition,
    loinc,
    obs,
    patient,
    practitioner,
    qty,
    quantity,
    ref,
    sct,
)

Json = Any
_SKIN = "http://hl7.org/fhir/us/lower-extremity-skin-wound-assessment/StructureDefinition"


def _ext(name: str, value: Json) -> Json:
    return {"url": f"{_SKIN}/{name}", **value}


def _to(name: str) -> Json:
    return {"valueReference": ref(name)}


def hl7_two_wounds() -> Json:
    """Two WoundAsserts, each with its panel; the findings hang on the panels alone."""
    made: list[Json] = []
    for n, (kind, site, side) in enumerate(
        (("399912005", "84607009", "24028007"), ("402863005", "75144006", "7771000"))
    ):
        place = {
            "url": f"{_SKIN}/BodyLocationExt",
            "extension": [_ext("AnatomicLocationExt", coded(sct(site))), _ext("BodySideExt", coded(sct(side)))],
        }
        made.append(
            condition(
                f"w{n}",
                sct(kind),
                extension=[place, _ext("WoundRelatedObservationsPanelExt", _to(f"Observation/panel{n}"))],
            )
        )
        made.append(
            obs(
                f"panel{n}",
                loinc("39135-9", "Wound assessment panel"),
                extension=[_ext("WoundTunnelingAssertExt", _to(f"Condition/tunnel{n}"))],
                hasMember=[ref(f"Observation/size{n}"), ref(f"Observation/bed{n}")],
            )
        )
        made.append(
            obs(
                f"size{n}",
                loinc("72287-6"),
                component=[
                    {"code": loinc("39126-8"), **quantity(3.5 + n)},
                    {"code": loinc("39125-0"), **quantity(2.5)},
                ],
            )
        )
        made.append(obs(f"bed{n}", loinc("89254-7"), hasMember=[ref(f"Observation/look{n}")]))
        made.append(
            obs(
                f"look{n}",
                loinc("72371-8"),
                coded(sct("225541009", "Granulation of tissue")),
                component=[{"code": loinc("72370-0"), "valueQuantity": qty(80, "%")}],
            )
        )
        made.append(
            condition(
                f"tunnel{n}",
                sct("239158009", "Tunneling wound"),
                extension=[
                    _ext("WoundTunnelingLengthExt", _to(f"Observation/tl{n}")),
                    _ext("WoundTunnelingDirectionExt", _to(f"Observation/td{n}")),
                ],
            )
        )
        made.append(obs(f"tl{n}", loinc("72296-7"), quantity(1.5 + n)))
        made.append(obs(f"td{n}", loinc("72297-5"), coded(sct("260333007", "4 o'clock position"))))
    return bundle(patient(), practitioner(), *made)


def dk_calculated() -> Json:
    """Danish dimensions: an area that was calculated, a picture that was measured, the wound in focus."""
    method = "http://ehealth.sundhed.dk/fhir/StructureDefinition/ehealth-observation-method"

    def part(code: str, value: float, unit: str, how: str) -> Json:
        return {
            "extension": [{"url": method, "valueCodeableConcept": {"text": how}}],
            "code": loinc(code),
            "valueQuantity": qty(value, unit),
        }

    photo = {
        "resourceType": "Media",
        "id": "m1",
        "status": "completed",
        "subject": ref("Patient/p1"),
        "createdDateTime": "2026-02-03T10:00:00+01:00",
        "content": {"contentType": "image/jpeg", "url": "https://example.org/m1.jpg", "title": "Sacrum"},
    }
    size = obs(
        "dim",
        loinc("72287-6", "Wound size panel"),
        component=[
            part("39126-8", 3, "cm", "Measured"),
            part("39125-0", 2, "cm", "Measured"),
            part("89260-4", 6, "cm2", "Calculated"),
            part("94083-3", 4.5, "cm3", "Calculated"),
        ],
        derivedFrom=[ref("Media/m1")],
        focus=[ref("Condition/c1")],
    )
    wound = condition(
        "c1",
        sct("1163220007", "Pressure injury stage II"),
        bodySite=[sct("51027004", "Skin structure of sacral region")],
    )
    return bundle(patient(), practitioner(), wound, photo, size)


def nl_legacy_members() -> Json:
    """The Dutch panel with the older measurement codes, pointed at by the wound's evidence."""
    members = [
        obs("l", sct("401238003", "Length of wound"), quantity(22, "mm")),
        obs("w", sct("401239006", "Width of wound"), quantity(14, "mm")),
        obs("d", sct("425094009", "Depth of wound"), quantity(3, "mm")),
        obs("e", sct("449747006"), coded(sct("449751008", "Rolled wound edge"))),
    ]
    panel = obs("p", sct("225552003", "Wound finding"), hasMember=[ref(f"Observation/{one['id']}") for one in members])
    wound = condition(
        "c1",
        sct("125643001", "Open wound"),
        category=[sct("416462003", "Wound")],
        bodySite=[sct("14975008", "Forearm")],
        evidence=[{"detail": [ref("Observation/p")]}],
        note=[{"text": "Cut on a fence"}],
    )
    return bundle(patient(), practitioner(), wound, panel, *members)


def be_referral() -> Json:
    """A Belgian referral for nursing care of a wound."""
    order = {
        "resourceType": "ServiceRequest",
        "id": "s1",
        "status": "active",
        "intent": "order",
        "category": [sct("9632001", "Nursing procedure")],
        "code": sct("413899004", "Compression bandaging", "Compression bandaging, both layers"),
        "orderDetail": [sct("3895009", "Application of dressing")],
        "subject": ref("Patient/p1"),
        "authoredOn": "2026-02-01",
        "requester": ref("Practitioner/n1"),
        "reasonReference": [ref("Condition/c1")],
        "note": [{"text": "Off at night"}],
    }
    wound = condition("c1", sct("402863005", "Venous stasis ulcer of leg"), bodySite=[sct("75144006", "Lower leg")])
    return bundle(patient(), practitioner(), wound, order)


def de_care() -> Json:
    """German care: a dressing as a Procedure with what was used, a pressure injury with its stage as a code."""
    change = {
        "resourceType": "Procedure",
        "id": "pr1",
        "status": "completed",
        "code": sct("182531007", "Dressing of wound"),
        "subject": ref("Patient/p1"),
        "performedDateTime": "2026-02-03T09:00:00+01:00",
        "performer": [{"actor": ref("Practitioner/n1")}],
        "reasonReference": [ref("Condition/c1")],
        "usedCode": [{"text": "foam dressing"}],
    }
    cleaned = {
        "resourceType": "Procedure",
        "id": "pr2",
        "status": "completed",
        "partOf": [ref("Procedure/pr1")],
        "code": sct("225116006", "Irrigation of wound"),
        "subject": ref("Patient/p1"),
        "performedDateTime": "2026-02-03T09:00:00+01:00",
        "reasonReference": [ref("Condition/c1")],
        "usedCode": [{"text": "normal saline"}],
    }
    wound = condition(
        "c1",
        sct("1163215007", "Pressure injury"),
        stage=[{"summary": sct("1163222004", "Pressure injury stage III")}],
        bodySite=[{"coding": [{"system": SCT, "code": "84607009"}], "text": "heel, right"}],
        recordedDate="2026-01-30",
    )
    return bundle(patient(), practitioner(), wound, change, cleaned)


def pacio_pump() -> Json:
    """A transfer of care: a pressure injury under a pump, an illness with its course, somebody to call."""
    pump = {"resourceType": "Device", "id": "d1", "type": sct("462410000", "Negative-pressure wound therapy system")}
    use = {
        "resourceType": "DeviceUseStatement",
        "id": "u1",
        "status": "active",
        "subject": ref("Patient/p1"),
        "device": ref("Device/d1"),
        "timingDateTime": "2026-02-02",
        "reasonReference": [ref("Condition/c1")],
    }
    daughter = {
        "resourceType": "RelatedPerson",
        "id": "r1",
        "active": True,
        "patient": ref("Patient/p1"),
        "relationship": [cc(f"{TERM}/v3-RoleCode", "DAUC", "Daughter")],
        "name": [{"family": "Varga", "given": ["Eva"]}],
        "telecom": [{"system": "phone", "value": "555-0177"}],
    }
    illness = condition(
        "c2",
        sct("44054006", "Diabetes mellitus type 2"),
        severity=sct("6736007", "Moderate"),
        onsetDateTime="2009",
        recorder=ref("Practitioner/n1"),
    )
    wound = condition(
        "c1",
        sct("1163224003", "Pressure injury stage IV"),
        bodySite=[sct("51027004", "Skin structure of sacral region")],
    )
    return bundle(patient(), practitioner(), wound, illness, pump, use, daughter)


def us_core_note() -> Json:
    """US Core structure: categories, an Encounter, who wrote it in a Provenance, survey and smoking."""
    visit = {
        "resourceType": "Encounter",
        "id": "e1",
        "status": "finished",
        "class": {"system": f"{TERM}/v3-ActCode", "code": "HH", "display": "home health"},
        "type": [sct("225395003", "Wound assessment")],
        "subject": ref("Patient/p1"),
        "period": {"start": "2026-02-03T10:00:00-05:00"},
    }
    inside = {"encounter": ref("Encounter/e1")}
    exam = {**inside, "focus": [ref("Condition/c1")]}
    found = [
        obs("l", loinc("39126-8"), quantity(1.2), **exam),
        obs("w", loinc("39125-0"), quantity(0.8), **exam),
        obs("x", loinc("39116-9"), coded(cc("http://loinc.org", "LA28405-5", "Scant")), **exam),
        obs("o", loinc("72288-4"), coded({"text": "none"}), **exam),
        obs("pain", loinc("72514-3", "Pain severity - 0-10 verbal numeric rating"), {"valueInteger": 3}, **exam),
    ]
    for one in found:
        one.pop("performer")
    wrote = {
        "resourceType": "Provenance",
        "id": "pv",
        "target": [ref(f"Observation/{one['id']}") for one in found],
        "recorded": "2026-02-03T10:40:00-05:00",
        "agent": [
            {"type": cc(f"{TERM}/provenance-participant-type", "author", "Author"), "who": ref("Practitioner/n1")}
        ],
    }
    wound = condition(
        "c1",
        cc(ICD10CM, "L97.411", "Non-pressure chronic ulcer of right heel and midfoot limited to breakdown of skin"),
        category=[cc(f"{TERM}/condition-category", "encounter-diagnosis", "Encounter Diagnosis")],
        encounter=ref("Encounter/e1"),
    )
    return bundle(patient(), practitioner(), visit, wound, *found, wrote)


def ca_home_visit() -> Json:
    """CA Baseline structure: an Ontario health number, a skin tear, sizes on one Observation without a panel code."""
    number = {
        "type": cc(f"{TERM}/v2-0203", "JHN"),
        "system": "https://fhir.infoway-inforoute.ca/NamingSystem/ca-on-patient-hcn",
        "value": "4417203355",
    }
    size = obs(
        "s",
        {"text": "Wound size"},
        component=[
            {"code": loinc("39126-8", "Length of Wound"), **quantity(31, "mm")},
            {"code": loinc("39125-0", "Width of Wound"), **quantity(12, "mm")},
        ],
        focus=[ref("Condition/c1")],
    )
    around = obs("a", loinc("72301-5"), coded(sct("247441003", "Erythema")), focus=[ref("Condition/c1")])
    wound = condition("c1", sct("428220001", "Tear of skin", "Skin tear, left forearm"), onsetDateTime="2026-02-01")
    return bundle(patient(identifier=[number]), practitioner(), wound, size, around)


def ccda_on_fhir() -> Json:
    """What a translation of C-CDA looks like: inches, a refuted wound beside a real one, a device of a Procedure."""
    gone = condition("c9", sct("399912005", "Pressure ulcer"), bodySite=[sct("29836001", "Hip")])
    gone["verificationStatus"] = cc(f"{TERM}/condition-ver-status", "refuted", "Refuted")
    inches = {"valueQuantity": qty(2, "in", "[in_i]")}
    wound = condition(
        "c1", sct("399912005", "Pressure ulcer"), bodySite=[sct("51027004", "Skin structure of sacral region")]
    )
    length = obs("l", loinc("39126-8"), inches, focus=[ref("Condition/c1")])
    other = obs("l9", loinc("39126-8"), inches, focus=[ref("Condition/c9")])
    use = {
        "resourceType": "Procedure",
        "id": "p1",
        "status": "not-done",
        "statusReason": {"text": "client declined"},
        "code": sct("18949003", "Change of dressing"),
        "subject": ref("Patient/p1"),
        "performedDateTime": "2026-02-03",
        "reasonReference": [ref("Condition/c1")],
    }
    return bundle(patient(), practitioner(), gone, wound, length, other, use)


def plan_of_others() -> Json:
    """A plan in words, a goal with its day, an allergy, a form of another house."""
    goal = {
        "resourceType": "Goal",
        "id": "g1",
        "lifecycleStatus": "active",
        "description": {"text": "Half the size in four weeks"},
        "subject": ref("Patient/p1"),
        "addresses": [ref("Condition/c1")],
        "target": [{"dueDate": "2026-03-03"}],
    }
    plan = {
        "resourceType": "CarePlan",
        "id": "cp",
        "status": "active",
        "intent": "plan",
        "subject": ref("Patient/p1"),
        "created": "2026-02-03",
        "author": ref("Practitioner/n1"),
        "addresses": [ref("Condition/c1")],
        "goal": [ref("Goal/g1")],
        "description": "Offload the heel at all times",
        "activity": [
            {
                "detail": {
                    "code": sct("18949003", "Change of dressing"),
                    "status": "scheduled",
                    "scheduledTiming": {"repeat": {"frequency": 2, "period": 1, "periodUnit": "wk"}},
                    "description": "Saline, foam, offloading boot",
                }
            }
        ],
    }
    latex = {
        "resourceType": "AllergyIntolerance",
        "id": "al",
        "clinicalStatus": cc(f"{TERM}/allergyintolerance-clinical", "active"),
        "code": sct("1003755004", "Allergy to latex"),
        "patient": ref("Patient/p1"),
        "criticality": "high",
        "reaction": [{"manifestation": [{"text": "wheals"}], "severity": "moderate"}],
    }
    wound = condition("c1", sct("280137006", "Diabetic foot ulcer"), bodySite=[sct("84607009", "Heel", "Left heel")])
    return bundle(patient(), practitioner(), wound, plan, goal, latex)


MORE_GUIDES = {
    made.__name__: made
    for made in (
        hl7_two_wounds,
        dk_calculated,
        nl_legacy_members,
        be_referral,
        de_care,
        pacio_pump,
        us_core_note,
        ca_home_visit,
        ccda_on_fhir,
        plan_of_others,
    )
}
ALL_GUIDES = {**GUIDES, **MORE_GUIDES}
