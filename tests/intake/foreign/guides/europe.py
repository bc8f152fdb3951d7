"""Inputs in the shapes of guides of the Netherlands (Nictiz R4 zib2020), Denmark, Belgium and Germany (NKDUC)."""

from __future__ import annotations

from tests.intake.foreign.guides.parts import (
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
