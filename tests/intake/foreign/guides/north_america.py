"""Inputs in the shapes of guides of the United States and Canada: HL7 skin and wound guide 2020-06-30, PACIO, US Core,
CA Baseline, C-CDA."""

from __future__ import annotations

from tests.intake.foreign.guides.parts import (
    ICD10,
    ICD10CM,
    SCT,
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
    qty,
    quantity,
    ref,
    sct,
)


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
