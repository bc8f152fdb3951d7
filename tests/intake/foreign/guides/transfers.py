"""Inputs with what is around the measurements, in the shapes of HL7 FHIR R4's own pages and of the AU draft
questionnaire: a transfer, care, teams, plans, words alone."""

from __future__ import annotations

from tests.intake.foreign.guides.parts import (
    TERM,
    Json,
    bundle,
    cc,
    coded,
    condition,
    loinc,
    obs,
    patient,
    practitioner,
    quantity,
    ref,
    sct,
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
