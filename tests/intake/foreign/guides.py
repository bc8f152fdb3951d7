"""Inputs in the shapes that published guides give wounds, written from their tables before anything read them.

Sources: standards notes, section 1 (HL7 skin and wound guide 2020-06-30; Nictiz R4 zib2020; fut-infrastructure; AU
draft questionnaire; PACIO; NKDUC; C-CDA), HL7 FHIR R4 resource pages, US Core and CA Baseline structure. Clients and
values are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

Json = Any
SCT, LOINC, UCUM = "http://snomed.info/sct", "http://loinc.org", "http://unitsofmeasure.org"
ICD10CM, ICD10 = "http://hl7.org/fhir/sid/icd-10-cm", "http://hl7.org/fhir/sid/icd-10"
TERM = "http://terminology.hl7.org/CodeSystem"


def cc(system: str, code: str, display: str = "", text: str = "") -> Json:
    coding = {"system": system, "code": code, **({"display": display} if display else {})}
    return {"coding": [coding], **({"text": text} if text else {})}


def sct(code: str, display: str = "", text: str = "") -> Json:
    return cc(SCT, code, display, text)


def loinc(code: str, display: str = "", text: str = "") -> Json:
    return cc(LOINC, code, display, text)


def qty(value: float | int, unit: str, code: str | None = None) -> Json:
    return {"value": value, "unit": unit, "system": UCUM, "code": code or unit}


def ref(name: str, display: str = "") -> Json:
    return {"reference": name, **({"display": display} if display else {})}


def bundle(*resources: Json) -> Json:
    return {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": one} for one in resources]}


def patient(number: str = "p1", **more: Json) -> Json:
    return {
        "resourceType": "Patient",
        "id": number,
        "identifier": [{"system": "https://example.org/mrn", "value": f"M-{number}"}],
        "name": [{"use": "official", "family": "Varga", "given": ["Ilona", "Rose"], "prefix": ["Ms"]}],
        "gender": "female",
        "birthDate": "1947-05-12",
        **more,
    }


def practitioner(number: str = "n1") -> Json:
    return {
        "resourceType": "Practitioner",
        "id": number,
        "identifier": [{"system": "https://example.org/staff", "value": "S-77"}],
        "name": [{"family": "Okafor", "given": ["Ada"], "suffix": ["RN"]}],
        "telecom": [{"system": "phone", "value": "555-0133", "use": "work"}],
    }


def obs(number: str, code: Json, value: Json = None, **more: Json) -> Json:
    made = {
        "resourceType": "Observation",
        "id": number,
        "status": "final",
        "category": [cc(f"{TERM}/observation-category", "exam", "Exam")],
        "code": code,
        "subject": ref("Patient/p1"),
        "effectiveDateTime": "2026-02-03T10:15:00-05:00",
        "performer": [ref("Practitioner/n1")],
    }
    return {**made, **(value or {}), **more}


def condition(number: str, code: Json, **more: Json) -> Json:
    return {
        "resourceType": "Condition",
        "id": number,
        "clinicalStatus": cc(f"{TERM}/condition-clinical", "active", "Active"),
        "verificationStatus": cc(f"{TERM}/condition-ver-status", "confirmed", "Confirmed"),
        "code": code,
        "subject": ref("Patient/p1"),
        **more,
    }


def quantity(value: float | int, unit: str = "cm") -> Json:
    return {"valueQuantity": qty(value, unit)}


def coded(concept: Json) -> Json:
    return {"valueCodeableConcept": concept}


# -- the Netherlands -----------------------------------------------------------------------------------

_NL = "http://nictiz.nl/fhir/StructureDefinition"
_NL_SIDE = f"{_NL}/ext-AnatomicalLocation.Laterality"


def nl_wound() -> Json:
    site = {"extension": [{"url": _NL_SIDE, "valueCodeableConcept": sct("7771000", "Left")}], **sct("84607009", "Heel")}
    members = [
        obs("l", loinc("39126-8", "Length of Wound"), quantity(4.2)),
        obs("w", loinc("39125-0", "Width of Wound"), quantity(3.1)),
        obs("d", loinc("39127-6", "Depth of Wound"), quantity(0.5)),
        obs("edge", sct("449747006", "Wound edge finding"), coded(sct("449748001", "Attached wound edge"))),
        obs("moist", sct("298007001", "Wound moisture"), coded(cc(f"{_NL_OID}.7.3", "VOCHTIG", "Vochtige wond"))),
        obs("inf", sct("405009004", "Infection status"), {"valueBoolean": False}),
        obs("tissue", sct("148641000146109"), coded(cc(f"{_NL_OID}.7.2", "GEEL", "Gele wond"))),
        obs("change", sct("360541000146109"), {"valueDateTime": "2026-02-01"}),
    ]
    panel = obs("panel", sct("225552003", "Wound finding"), hasMember=[ref(f"Observation/{m['id']}") for m in members])
    image = {
        "resourceType": "DocumentReference",
        "id": "img",
        "status": "current",
        "type": loinc("72170-4", "Photographic image"),
        "subject": ref("Patient/p1"),
        "date": "2026-02-03T10:20:00-05:00",
        "author": [ref("Practitioner/n1")],
        "content": [{"attachment": {"contentType": "image/jpeg", "url": "https://example.org/img/1", "title": "Heel"}}],
    }
    panel["hasMember"].append(ref("DocumentReference/img"))
    wound = condition(
        "c1",
        sct("402863005", "Venous stasis ulcer of leg"),
        category=[sct("416462003", "Wound")],
        bodySite=[site],
        onsetDateTime="2026-01-10",
        evidence=[{"detail": [ref("Observation/panel")]}],
        asserter=ref("Practitioner/n1"),
        note=[{"text": "Started after a knock"}],
    )
    return bundle(patient(), practitioner(), wound, panel, *members, image)


_NL_OID = "urn:oid:2.16.840.1.113883.2.4.3.11.60.40.4"


def nl_pressure_ulcer() -> Json:
    return bundle(
        patient(),
        condition(
            "c1",
            sct("399912005", "Pressure ulcer"),
            category=[sct("416462003", "Wound")],
            stage=[{"summary": sct("420324007", "Pressure ulcer stage 2")}],
            bodySite=[sct("51027004", "Skin structure of sacral region")],
            onsetDateTime="2025-12-28",
        ),
        obs("size", loinc("39126-8", "Length of Wound"), quantity(2.5), focus=[ref("Condition/c1")]),
    )


def nl_burn() -> Json:
    return bundle(
        patient(),
        condition(
            "c1",
            sct("26696002", "Chemical burn"),
            category=[sct("125666000", "Burn")],
            stage=[{"summary": sct("262587005", "Superficial partial thickness burn")}],
            bodySite=[sct("33712006", "Skin structure of hand")],
        ),
        obs("extent", sct("360531000146101"), {"valueQuantity": qty(2, "%")}, focus=[ref("Condition/c1")]),
    )


def nl_materials() -> Json:
    url = "http://nictiz.nl/fhir/StructureDefinition/ext-CarePlan-MaterialUsed"
    device = {"resourceType": "Device", "id": "d1", "type": sct("335353000", "Short stretch bandage")}
    use = {
        "resourceType": "DeviceUseStatement",
        "id": "u1",
        "status": "active",
        "subject": ref("Patient/p1"),
        "device": ref("Device/d1"),
        "timingDateTime": "2026-02-03",
        "reasonReference": [ref("Condition/c1")],
        "bodySite": sct("75144006", "Lower leg"),
    }
    plan = {
        "resourceType": "CarePlan",
        "id": "cp",
        "status": "active",
        "intent": "plan",
        "category": [sct("9632001", "Nursing procedure")],
        "subject": ref("Patient/p1"),
        "addresses": [ref("Condition/c1")],
        "period": {"start": "2026-02-03"},
        "author": ref("Practitioner/n1"),
        "activity": [
            {
                "detail": {
                    "extension": [{"url": url, "valueReference": ref("DeviceUseStatement/u1")}],
                    "kind": "ServiceRequest",
                    "code": sct("18949003", "Change of dressing"),
                    "status": "scheduled",
                    "scheduledString": "twice a week",
                    "description": "Cleanse with saline, apply foam",
                }
            }
        ],
    }
    wound = condition("c1", sct("402863005", "Venous stasis ulcer of leg"), bodySite=[sct("75144006", "Lower leg")])
    return bundle(patient(), practitioner(), wound, device, use, plan)


# -- Denmark, Australia, Germany -----------------------------------------------------------------------


def dk_dimensions() -> Json:
    url = "http://ehealth.sundhed.dk/fhir/StructureDefinition/ehealth-wound-measurement-method"
    method = {"extension": [{"url": url, "valueCodeableConcept": {"text": "Measured"}}]}
    parts = [("39126-8", 5.1, "cm"), ("39125-0", 3.0, "cm"), ("39127-6", 0.4, "cm"), ("89260-4", 12.0, "cm2")]
    component = [{**method, "code": loinc(code), **quantity(value, unit)} for code, value, unit in parts]
    component.append({**method, "code": loinc("94083-3", "Wound volume"), **quantity(4.1, "cm3")})
    media = {
        "resourceType": "Media",
        "id": "m1",
        "status": "completed",
        "type": cc(f"{TERM}/media-type", "image", "Image"),
        "modality": sct("446080005", "Photography of wound"),
        "bodySite": sct("60496002", "Foot"),
        "subject": ref("Patient/p1"),
        "createdDateTime": "2026-02-03T10:10:00-05:00",
        "operator": ref("Practitioner/n1"),
        "content": {"contentType": "image/jpeg", "url": "https://example.org/m/1", "title": "Left foot, plantar"},
        "note": [{"text": "With ruler"}],
    }
    return bundle(
        patient(),
        practitioner(),
        condition("c1", sct("371087003", "Ulcer of foot due to diabetes mellitus"), bodySite=[sct("60496002", "Foot")]),
        obs(
            "dim",
            loinc("72287-6", "Wound size panel"),
            component=component,
            derivedFrom=[ref("Media/m1")],
            focus=[ref("Condition/c1")],
        ),
        media,
    )


def dk_kind_by_local_code() -> Json:
    return bundle(
        patient(),
        condition("c1", sct("1163220007", "Pressure injury stage II"), bodySite=[sct("76853006", "Heel structure")]),
        obs("l", loinc("39126-8"), quantity(18, "mm"), focus=[ref("Condition/c1")]),
    )


def au_pressure_injury() -> Json:
    url = "http://hl7.org.au/fhir/StructureDefinition/environment-acquired"
    return bundle(
        patient(
            address=[{"use": "home", "line": ["12 Creek Rd"], "city": "Perth", "state": "WA", "postalCode": "6000"}],
            telecom=[{"system": "phone", "value": "555-0101", "use": "mobile"}],
            communication=[{"language": {"coding": [{"system": "urn:ietf:bcp:47", "code": "en"}]}, "preferred": True}],
        ),
        condition(
            "c1",
            sct("1163215007", "Pressure injury"),
            category=[sct("416462003", "Wound")],
            extension=[{"url": url, "valueCodeableConcept": sct("22232009", "Hospital")}],
            stage=[{"summary": sct("1163222004", "Pressure injury stage III")}],
            bodySite=[sct("49812005", "Skin structure of hip")],
            recordedDate="2026-02-02",
            severity=sct("24484000", "Severe"),
        ),
        obs(
            "st",
            loinc("91150-3", "Pressure injury stage"),
            coded(loinc("LA29670-9", "Stage 3")),
            focus=[ref("Condition/c1")],
        ),
    )


def de_nkduc() -> Json:
    found = [
        obs("a", sct("401238003", "Length of wound"), quantity(6)),
        obs("b", sct("401239006", "Width of wound"), quantity(4)),
        obs("c", sct("425094009", "Depth of wound"), quantity(0.3)),
        obs("d", sct("441281002", "Amount of exudate"), coded(sct("6736007", "Moderate"))),
        obs("e", sct("441280001", "Color of exudate"), coded(sct("371244009", "Yellow"))),
        obs("f", sct("406214003", "Wound healing status"), coded(sct("390771008", "Improving"))),
        obs("g", sct("1121000124105"), coded(sct("3644009", "Macerated skin"))),
        obs("h", sct("225908003", "Pain score"), {"valueInteger": 3}),
        obs("i", sct("441390007", "Surface area of ulcer"), quantity(19, "cm2")),
        obs("j", sct("446841001", "Ankle brachial pressure index"), {"valueQuantity": {"value": 0.9}}),
    ]
    for one in found:
        one["focus"] = [ref("Condition/c1")]
    wound = condition(
        "c1",
        sct("402863005", "Venous stasis ulcer of leg"),
        bodySite=[{**sct("30021000", "Structure of lower extremity from knee to ankle"), "text": "Left lower leg"}],
        onsetPeriod={"start": "2025-11"},
    )
    return bundle(patient(), practitioner(), wound, *found)


# -- the United States ---------------------------------------------------------------------------------


def us_icd10() -> Json:
    found = [
        obs("l", loinc("39126-8", "Length of Wound"), {"valueQuantity": qty(1.5, "in", "[in_i]")}),
        obs("t", loinc("72371-8", "Appearance of Wound base"), coded(sct("449746002", "Slough"))),
        obs("u", loinc("72293-4", "Undermining [Length] of Wound"), quantity(1.2)),
        obs("uc", loinc("72294-2"), coded(sct("260330005", "3 o'clock position"))),
        obs("od", loinc("72288-4", "Odor of Exudate from wound"), coded(sct("447547000", "Offensive wound odor"))),
        obs("ex", loinc("89259-6", "Presence of wound exudate"), coded(sct("52101004", "Present"))),
    ]
    for one in found:
        one["focus"] = [ref("Condition/c1")]
    wound = condition(
        "c1",
        cc(ICD10CM, "L89.153", "Pressure ulcer of sacral region, stage 3"),
        category=[cc(f"{TERM}/condition-category", "problem-list-item", "Problem List Item")],
        onsetDateTime="2026-01-20",
        recorder=ref("Practitioner/n1"),
        recordedDate="2026-01-21",
    )
    illness = condition(
        "c2",
        cc(ICD10CM, "E11.9", "Type 2 diabetes mellitus without complications"),
        onsetDateTime="2011",
        severity=sct("6736007", "Moderate"),
        recorder=ref("Practitioner/n1"),
    )
    return bundle(patient(), practitioner(), wound, illness, *found)


def us_icd10_leg() -> Json:
    return bundle(
        patient(),
        condition("c1", cc(ICD10CM, "L97.411", "Non-pressure chronic ulcer of right heel and midfoot")),
        condition("c2", cc(ICD10CM, "I83.012", "Varicose veins of right lower extremity with ulcer of calf")),
        condition("c3", cc(ICD10, "L89.2", "Stage III decubitus ulcer")),
        condition("c4", sct("225562005", "Pressure injury of sacral region of back")),
    )


def us_braden() -> Json:
    parts = [("38222-6", 3), ("38229-1", 2), ("38223-4", 2), ("38224-2", 3), ("38225-9", 3), ("38226-7", 2)]
    component = [{"code": loinc(code), "valueInteger": value} for code, value in parts]
    temperature = obs("temp", loinc("8310-5", "Body temperature"), quantity(37.2, "Cel"))
    smoking = obs("sm", loinc("72166-2", "Tobacco smoking status"), coded(sct("8517006", "Ex-smoker")))
    total = obs("b", loinc("38227-5", "Braden scale total score"), {"valueInteger": 15}, component=component)
    pain = obs("pain", loinc("38208-5", "Pain severity - Reported"), {"valueInteger": 4})
    return bundle(patient(), practitioner(), total, temperature, smoking, pain)


def us_braden_members() -> Json:
    members = [
        obs("s", loinc("38222-6", "Sensory perception Braden scale"), {"valueQuantity": {"value": 2}}),
        obs("m", loinc("38229-1", "Moisture exposure Braden scale"), {"valueQuantity": {"value": 3}}),
        obs("total", loinc("38227-5", "Braden scale total score"), {"valueQuantity": qty(14, "{score}")}),
    ]
    panel = obs("panel", loinc("38228-3"), hasMember=[ref(f"Observation/{one['id']}") for one in members])
    return bundle(patient(), practitioner(), panel, *members)


def us_transfer() -> Json:
    pump = {
        "resourceType": "Device",
        "id": "pump",
        "status": "active",
        "type": sct("462410000", "Negative-pressure wound therapy system pump"),
        "deviceName": [{"name": "NPWT pump", "type": "user-friendly-name"}],
        "serialNumber": "SN-1",
        "patient": ref("Patient/p1"),
        "note": [{"text": "125 mmHg continuous"}],
    }
    use = {
        "resourceType": "DeviceUseStatement",
        "id": "use",
        "status": "active",
        "subject": ref("Patient/p1"),
        "timingPeriod": {"start": "2026-02-01"},
        "source": ref("Practitioner/n1"),
        "device": ref("Device/pump"),
        "reasonReference": [ref("Condition/c1")],
    }
    wound = condition(
        "c1",
        sct("1163224003", "Pressure injury stage IV", "Stage 4 pressure injury, sacrum"),
        bodySite=[sct("51027004", "Sacrum")],
        note=[{"text": "Tunnel at 2 o'clock"}],
    )
    medicine = {
        "resourceType": "MedicationRequest",
        "id": "med",
        "status": "active",
        "intent": "order",
        "medicationCodeableConcept": {"text": "Apixaban 5 mg"},
        "subject": ref("Patient/p1"),
        "dosageInstruction": [{"text": "twice a day"}],
    }
    letter = {
        "resourceType": "DocumentReference",
        "id": "doc",
        "status": "current",
        "type": loinc("34133-9", "Summarization of episode note"),
        "subject": ref("Patient/p1"),
        "date": "2026-02-02T09:00:00Z",
        "description": "Vascular clinic letter",
        "content": [{"attachment": {"contentType": "application/pdf", "url": "https://example.org/letter.pdf"}}],
    }
    who = {
        "resourceType": "Provenance",
        "id": "prov",
        "target": [ref("Condition/c1")],
        "recorded": "2026-02-02T11:00:00Z",
        "activity": cc(f"{TERM}/v3-DocumentCompletion", "AU", "authenticated"),
        "agent": [
            {
                "type": cc(f"{TERM}/provenance-participant-type", "author", "Author"),
                "who": ref("Practitioner/n1"),
                "onBehalfOf": ref("Organization/o1"),
            }
        ],
    }
    house = {
        "resourceType": "Organization",
        "id": "o1",
        "name": "Lakeside Care",
        "telecom": [{"system": "phone", "value": "555-0199"}],
        "address": [{"city": "Guelph"}],
    }
    return bundle(patient(), practitioner(), house, wound, pump, use, medicine, letter, who)


def us_counts() -> Json:
    items = [
        {"linkId": "M0300A1", "text": "Number of stage 1", "answer": [{"valueDecimal": 1}]},
        {"linkId": "/38227-5", "text": "Braden total", "answer": [{"valueDecimal": 13}]},
        {
            "linkId": "wound",
            "text": "Wound",
            "item": [
                {"linkId": "39126-8", "text": "Length of wound", "answer": [{"valueQuantity": qty(3.4, "cm")}]},
                {"linkId": "39125-0", "text": "Width of wound", "answer": [{"valueQuantity": qty(2.2, "cm")}]},
                {
                    "linkId": "39116-9",
                    "text": "Drainage amount",
                    "answer": [{"valueCoding": {"system": SCT, "code": "6736007", "display": "Moderate"}}],
                },
            ],
        },
    ]
    return bundle(
        patient(),
        practitioner(),
        {
            "resourceType": "QuestionnaireResponse",
            "id": "qr",
            "status": "completed",
            "questionnaire": "https://example.org/Questionnaire/wound",
            "subject": ref("Patient/p1"),
            "authored": "2026-02-03T10:00:00-05:00",
            "author": ref("Practitioner/n1"),
            "item": items,
        },
    )


# -- care ----------------------------------------------------------------------------------------------


def care_procedures() -> Json:
    def procedure(number: str, code: Json, **more: Json) -> Json:
        return {
            "resourceType": "Procedure",
            "id": number,
            "status": "completed",
            "code": code,
            "subject": ref("Patient/p1"),
            "performedDateTime": "2026-02-03T10:15:00-05:00",
            "performer": [{"actor": ref("Practitioner/n1")}],
            "reasonReference": [ref("Condition/c1")],
            **more,
        }

    change = procedure(
        "p-1", sct("182531007", "Dressing of wound"), usedCode=[{"text": "foam dressing"}], note=[{"text": "Tolerated"}]
    )
    wash = procedure("p-2", sct("225116006", "Irrigation of wound"), usedCode=[sct("387390002", "Sodium chloride")])
    sharp = procedure("p-3", sct("85875009", "Debridement of wound of skin"), bodySite=[sct("75144006", "Lower leg")])
    wrap = procedure("p-4", sct("413899004", "Compression bandaging"))
    off = procedure("p-5", sct("118489002", "Removal of dressing"))
    supply = {
        "resourceType": "SupplyDelivery",
        "id": "s-1",
        "status": "completed",
        "patient": ref("Patient/p1"),
        "suppliedItem": {"quantity": {"value": 2}, "itemCodeableConcept": {"text": "gauze"}},
        "occurrenceDateTime": "2026-02-03",
    }
    goal = {
        "resourceType": "Goal",
        "id": "g-1",
        "lifecycleStatus": "active",
        "description": {"text": "Wound area down by a third in four weeks"},
        "subject": ref("Patient/p1"),
        "startDate": "2026-02-03",
        "target": [{"dueDate": "2026-03-03"}],
        "addresses": [ref("Condition/c1")],
    }
    plan = {
        "resourceType": "CarePlan",
        "id": "cp",
        "status": "active",
        "intent": "plan",
        "title": "Wound care",
        "description": "Change the dressing every 3 days",
        "subject": ref("Patient/p1"),
        "period": {"start": "2026-02-03"},
        "addresses": [ref("Condition/c1")],
        "goal": [ref("Goal/g-1")],
        "activity": [
            {"detail": {"status": "scheduled", "description": "Change of dressing", "kind": "ServiceRequest"}}
        ],
    }
    order = {
        "resourceType": "ServiceRequest",
        "id": "sr",
        "status": "active",
        "intent": "order",
        "category": [sct("9632001", "Nursing procedure")],
        "code": sct("225358003", "Wound care"),
        "subject": ref("Patient/p1"),
        "authoredOn": "2026-02-01",
        "requester": ref("Practitioner/n1"),
        "reasonReference": [ref("Condition/c1")],
        "occurrenceDateTime": "2026-02-06",
        "note": [{"text": "Daily if strikethrough"}],
    }
    wound = condition("c1", sct("402863005", "Venous stasis ulcer of leg"), bodySite=[sct("75144006", "Lower leg")])
    found = (change, wash, sharp, wrap, off, supply, goal, plan, order)
    return bundle(patient(), practitioner(), wound, *found)


def encounter_and_team() -> Json:
    visit = {
        "resourceType": "Encounter",
        "id": "e1",
        "status": "finished",
        "class": {"system": f"{TERM}/v3-ActCode", "code": "HH", "display": "home health"},
        "type": [sct("439708006", "Home visit")],
        "subject": ref("Patient/p1"),
        "period": {"start": "2026-02-03T10:00:00-05:00", "end": "2026-02-03T10:40:00-05:00"},
        "participant": [{"individual": ref("Practitioner/n1")}],
        "location": [{"location": ref("Location/h", "Home")}],
        "serviceProvider": ref("Organization/o1"),
    }
    team = {
        "resourceType": "CareTeam",
        "id": "t",
        "status": "active",
        "subject": ref("Patient/p1"),
        "participant": [{"role": [{"text": "Wound nurse"}], "member": ref("Practitioner/n1")}],
    }
    sister = {
        "resourceType": "RelatedPerson",
        "id": "r",
        "patient": ref("Patient/p1"),
        "relationship": [{"text": "sister"}],
        "name": [{"text": "Eva Varga"}],
        "telecom": [{"system": "phone", "value": "555-0177"}],
    }
    allergy = {
        "resourceType": "AllergyIntolerance",
        "id": "a",
        "clinicalStatus": cc(f"{TERM}/allergyintolerance-clinical", "active", "Active"),
        "type": "allergy",
        "category": ["biologic"],
        "criticality": "high",
        "code": sct("1003755004", "Allergy to latex", "Latex"),
        "patient": ref("Patient/p1"),
        "onsetDateTime": "2001",
        "recordedDate": "2026-01-01",
        "recorder": ref("Practitioner/n1"),
        "reaction": [{"manifestation": [sct("271807003", "Eruption of skin")], "severity": "moderate"}],
    }
    house = {"resourceType": "Organization", "id": "o1", "name": "Lakeside Care"}
    place = {"resourceType": "Location", "id": "h", "status": "active", "name": "Client's home"}
    found = obs(
        "l",
        loinc("39126-8", "Length of Wound"),
        quantity(2),
        encounter=ref("Encounter/e1"),
        bodySite={**sct("84607009", "Heel"), "text": "Right heel"},
        method=sct("51791000", "Measuring tape"),
        note=[{"text": "measured head to toe"}],
        issued="2026-02-03T10:30:00-05:00",
    )
    return bundle(patient(contact=[_contact()]), practitioner(), visit, team, sister, allergy, house, place, found)


def _contact() -> Json:
    return {
        "relationship": [cc(f"{TERM}/v2-0131", "C", "Emergency Contact")],
        "name": {"family": "Varga", "given": ["Eva"]},
        "telecom": [{"system": "phone", "value": "555-0177"}],
    }


def contained_wound() -> Json:
    inner = {
        "resourceType": "Condition",
        "id": "w",
        "code": sct("428220001", "Skin tear"),
        "subject": ref("Patient/p1"),
        "bodySite": [sct("5742000", "Forearm")],
    }
    return bundle(
        patient(),
        practitioner(),
        obs("l", loinc("39126-8", "Length of Wound"), quantity(3), contained=[inner], focus=[ref("#w")]),
        obs(
            "e",
            loinc("39116-9", "Drainage amount of Wound"),
            coded(sct("255507004", "Small")),
            partOf=[ref("Procedure/x")],
        ),
    )


def text_only() -> Json:
    return bundle(
        patient(),
        practitioner(),
        condition("c1", {"text": "Diabetic foot ulcer, left great toe"}),
        obs("l", {"text": "Wound length"}, quantity(2.2), focus=[ref("Condition/c1")]),
        obs(
            "t",
            loinc("72371-8", "Appearance of Wound base"),
            {"valueString": "mostly slough"},
            focus=[ref("Condition/c1")],
        ),
        obs("p", loinc("72301-5"), coded({"text": "macerated"}), focus=[ref("Condition/c1")]),
    )


GUIDES = {
    one.__name__: one
    for one in (
        nl_wound,
        nl_pressure_ulcer,
        nl_burn,
        nl_materials,
        dk_dimensions,
        dk_kind_by_local_code,
        au_pressure_injury,
        de_nkduc,
        us_icd10,
        us_icd10_leg,
        us_braden,
        us_braden_members,
        us_transfer,
        us_counts,
        care_procedures,
        encounter_and_team,
        contained_wound,
        text_only,
    )
}


def inputs() -> Iterator[tuple[str, Json]]:
    """Yield name and Bundle of each."""
    for name, make in GUIDES.items():
        yield name, make()
