"""Inputs in the shapes of published guides: each wound recognised, none invented, each fact at its place."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import msgspec
import pytest

from tests.intake.foreign.changing import altered
from tests.intake.foreign.guides import GUIDES
from tests.intake.foreign.guides.parts import condition, patient, sct
from tests.intake.foreign.test_laws import bodies, listed, said
from woundfhir.errors import InputError
from woundfhir.fhir import Losses, to_fhir
from woundfhir.fhir.leaves import leaves
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History

Json = Any
encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode

#: Name -> the wounds that are there: kind, site, side, stage.
WOUNDS: dict[str, list[tuple[str | None, ...]]] = {
    "nl_wound": [("venous leg ulcer", "heel", "left", None)],
    "nl_pressure_ulcer": [("pressure injury", "sacrum", None, "stage 2")],
    "nl_burn": [("chemical burn", "hand", None, "Superficial partial thickness burn")],
    "nl_materials": [("venous leg ulcer", "lower leg", None, None)],
    "dk_dimensions": [("diabetic foot ulcer", "foot", None, None)],
    "dk_kind_by_local_code": [("pressure injury", "heel", None, "stage 2")],
    "au_pressure_injury": [("pressure injury", "hip", None, "stage 3")],
    "de_nkduc": [("venous leg ulcer", "lower leg", "left", None)],
    "us_icd10": [("pressure injury", "sacrum", None, "stage 3")],
    "us_icd10_leg": [
        ("heel ulcer", "heel", "right", None),
        ("venous leg ulcer", "calf", "right", None),
        ("pressure injury", None, None, "stage 3"),
        ("pressure injury", "sacrum", None, None),
    ],
    "us_braden": [],
    "us_braden_members": [],
    "us_transfer": [("pressure injury", "sacrum", None, "stage 4")],
    "care_procedures": [("venous leg ulcer", "lower leg", None, None)],
    "contained_wound": [("skin tear", "forearm", None, None)],
    "hl7_two_wounds": [("pressure injury", "heel", "right", None), ("venous leg ulcer", "lower leg", "left", None)],
    "dk_calculated": [("pressure injury", "sacrum", None, "stage 2")],
    "nl_legacy_members": [("open wound", "Forearm", None, None)],
    "be_referral": [("venous leg ulcer", "lower leg", None, None)],
    "de_care": [("pressure injury", "heel", "right", "stage 3")],
    "pacio_pump": [("pressure injury", "sacrum", None, "stage 4")],
    "us_core_note": [("heel ulcer", "heel", "right", None)],
    "ca_home_visit": [("skin tear", None, None, None)],
    "ccda_on_fhir": [("pressure injury", "sacrum", None, None)],
    "plan_of_others": [("Diabetic foot ulcer", "heel", "left", None)],
    "text_only": [("Diabetic foot ulcer, left great toe", None, None, None)],
}


@pytest.mark.parametrize("name", WOUNDS)
def test_each_wound_is_recognised_and_none_is_invented(name: str) -> None:
    history, _ = from_fhir([GUIDES[name]()])
    found = [tuple(one.get(key) for key in ("kind", "site", "side", "stage")) for one in history.wounds]
    assert found == WOUNDS[name]


@pytest.mark.parametrize("name", GUIDES)
def test_it_is_read_again_the_same_and_goes_out_as_it_came(name: str) -> None:
    root = decode(encode(GUIDES[name]()))
    history, _ = from_fhir([root])
    out = to_fhir(history)
    assert from_fhir(decode(encode(out)))[0].data == history.data
    assert [one["id"] for _, one in bodies([root]) if one not in out] == []


def outcome(root: Json) -> tuple[Json, Losses]:
    try:
        history, losses = from_fhir(root)
    except InputError as error:
        return str(error), Losses(())
    return said(history), losses


@pytest.mark.property
@pytest.mark.parametrize("name", GUIDES)
def test_each_leaf_changes_the_record_or_is_reported(name: str) -> None:
    root = [decode(encode(GUIDES[name]()))]
    before, losses = outcome(root)
    untrue = []
    for at, resource in bodies(root):
        for path, _ in leaves(resource):
            after, now = outcome(altered(root, (*at, *path)))
            if after == before and not listed(losses, resource, path) and not listed(now, resource, path):
                untrue.append((resource["resourceType"], path))
    assert untrue == []


def test_the_client_is_read_with_how_they_are_reached_and_whom_to_call() -> None:
    au, _ = from_fhir([GUIDES["au_pressure_injury"]()])
    assert {key: au.patient[key] for key in ("phone", "address", "language")} == {
        "phone": ["555-0101"],
        "address": "12 Creek Rd, Perth, WA, 6000",
        "language": "en",
    }
    assert au.patient["name"] == {"family": "Varga", "given": ["Ilona", "Rose"], "prefix": ["Ms"]}
    team, _ = from_fhir([GUIDES["encounter_and_team"]()])
    assert team.patient["contact"] == {"name": "Eva Varga", "role": "Emergency Contact", "phone": "555-0177"}
    (made,) = [one for one in to_fhir(History.of({**au.data, "extra": []})) if one["resourceType"] == "Patient"]
    assert made["telecom"] == [{"system": "phone", "value": "555-0101"}]
    assert from_fhir([made])[0].patient == au.patient


def test_what_is_around_the_care_is_carried_with_a_line_each() -> None:
    _, losses = from_fhir([GUIDES["us_transfer"]()])
    lines = {one.source: one.why for one in losses.items if one.path == one.source.split("/")[0]}
    assert lines["MedicationRequest/med"] == "other content (a medicine): carried as it came"
    assert lines["DocumentReference/doc"] == "other content (a document): carried as it came"
    assert lines["Provenance/prov"] == "other content (who did what, and when): carried as it came"


def test_a_step_without_details_was_done() -> None:
    history, _ = from_fhir([GUIDES["care_procedures"]()])
    (care,) = [one["care"] for visit in history.visits for one in visit["wounds"] if "care" in one]
    assert care["debridement"] == [{"note": "Debridement of wound of skin"}]
    assert care["compression"] == {"note": "Compression bandaging"}
    assert care["removed"] == {"note": "Removal of dressing"}
    assert care["cleansing"] == {"solution": "normal saline"}


def test_a_finding_as_a_condition_is_of_the_wound_whose_panel_names_it() -> None:
    history, _ = from_fhir([GUIDES["hl7_two_wounds"]()])
    entries = {entry["wound"]: entry["assessment"] for visit in history.visits for entry in visit["wounds"]}
    assert entries["w0"]["tunnels"] == [{"clock": "4", "depth": "1.5 cm"}]
    assert entries["w1"]["tunnels"] == [{"clock": "4", "depth": "2.5 cm"}]
    assert "conditions" not in history.patient


@pytest.mark.parametrize("status", ["entered-in-error", "refuted"])
def test_a_finding_that_is_withdrawn_takes_its_measures_to_no_wound(status: str) -> None:
    came = GUIDES["hl7_two_wounds"]()
    system = "http://terminology.hl7.org/CodeSystem/condition-ver-status"
    for entry in came["entry"]:
        if entry["resource"]["id"] == "tunnel0":
            entry["resource"]["verificationStatus"] = {"coding": [{"system": system, "code": status}]}
            del entry["resource"]["clinicalStatus"]
    history, _ = from_fhir([came])
    entries = {entry["wound"]: entry["assessment"] for visit in history.visits for entry in visit["wounds"]}
    assert "tunnels" not in entries["w0"]
    assert entries["w1"]["tunnels"] == [{"clock": "4", "depth": "2.5 cm"}]


def test_an_illness_has_its_course_and_who_is_near_is_whom_to_call() -> None:
    history, _ = from_fhir([GUIDES["pacio_pump"]()])
    said = "Diabetes mellitus type 2 (since 2009; severity: Moderate; recorded by S-77, Ada Okafor RN)"
    assert history.patient["conditions"] == [said]
    assert history.patient["contact"] == {"name": "Eva Varga", "role": "Daughter", "phone": "555-0177"}


def test_who_wrote_and_when_is_read_of_a_provenance_and_never_of_one_that_deletes() -> None:
    came = GUIDES["us_core_note"]()
    history, _ = from_fhir([came])
    (visit,) = history.visits
    assert (visit["by"], visit["written"]) == ({"id": "S-77", "name": "Ada Okafor RN"}, "2026-02-03T10:40:00-05:00")
    system = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"
    came["entry"][-1]["resource"]["activity"] = {"coding": [{"system": system, "code": "DELETE"}]}
    (visit,) = from_fhir([came])[0].visits
    assert not {"by", "written"} & visit.keys()


def test_sizes_of_an_observation_without_a_code_are_sizes_and_those_of_another_thing_are_not() -> None:
    came = GUIDES["ca_home_visit"]()
    history, _ = from_fhir([came])
    assert history.visits[0]["wounds"][0]["assessment"]["length"] == "31 mm"
    came["entry"][3]["resource"]["code"]["coding"] = [{"system": "urn:example:codes", "code": "goal-size"}]
    assert "length" not in str(from_fhir([came])[0].visits)


def test_a_plan_of_others_is_read_once_with_its_rhythm_and_its_words() -> None:
    history, _ = from_fhir([GUIDES["plan_of_others"]()])
    (visit,) = history.visits
    assert visit["wounds"][0]["plan"] == {
        "change_every": "2 times a week",
        "goal": "Half the size in four weeks",
        "note": "Offload the heel at all times\nSaline, foam, offloading boot",
    }


@pytest.mark.parametrize(("code", "setting"), [("EMER", "emergency department"), ("HH", None)])
def test_a_class_of_encounters_is_a_setting_where_it_can_mean_only_one(code: str, setting: str | None) -> None:
    came = GUIDES["us_core_note"]()
    came["entry"][2]["resource"]["class"]["code"] = code
    assert from_fhir([came])[0].visits[0].get("setting") == setting


@pytest.mark.parametrize(("where", "status"), [("plan", "draft"), ("plan", "on-hold"), ("activity", "cancelled")])
def test_what_is_only_drafted_or_called_off_plans_nothing(where: str, status: str) -> None:
    came = GUIDES["plan_of_others"]()
    plan = next(e["resource"] for e in came["entry"] if e["resource"]["resourceType"] == "CarePlan")
    (plan if where == "plan" else plan["activity"][0]["detail"])["status"] = status
    assert "2 times a week" not in str(from_fhir([came])[0].visits)
    assert "Saline, foam" not in str(from_fhir([came])[0].visits)


def test_a_code_of_a_system_that_does_not_have_it_is_no_wound_and_no_illness() -> None:
    wound = {"resourceType": "Condition", "id": "c", "subject": {"reference": "Patient/p1"}}
    came = [patient(), {**wound, "code": {"coding": [{"system": "http://loinc.org", "code": "402863005"}]}}]
    history, losses = from_fhir(came)
    assert history.wounds == [] and "conditions" not in history.patient
    assert "Condition/c" in [one.source for one in losses.items]


def test_findings_that_name_each_other_in_a_circle_are_kept() -> None:
    def finding(name: str, to: str) -> Json:
        evidence = [{"detail": [{"reference": f"Condition/{to}"}]}]
        return condition(name, sct("239158009"), evidence=evidence)

    wound = condition("c", sct("402863005"))
    history, losses = from_fhir([patient(), wound, finding("f", "g"), finding("g", "f"), finding("h", "h")])
    assert len(history.wounds) == 1 and history.visits == []
    assert {one.source for one in losses.items} >= {"Condition/f", "Condition/g", "Condition/h"}
