"""What the record says of a client and of wounds: forms of one client, Conditions without words, body structures."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from tests.intake.facts import facts
from tests.intake.foreign.inputs import LOINC, P, client, coded, length, obs, wound
from tests.intake.two_clients import CARD, person, ref
from woundfhir import from_fhir

Json = Any
OF_W = {"focus": [ref("Condition/w")]}
FOUR = ["2026-03-02 final w length 4 cm"]
ODD = coded("zz", system="urn:site")
REASON = coded("unknown", system="http://terminology.hl7.org/CodeSystem/data-absent-reason")


def at_two_servers(*patients: Json) -> list[Json]:
    entries = [
        {"fullUrl": f"http://{server}.example.org/fhir/Patient/1", "resource": one}
        for server, one in zip(("one", "two"), patients, strict=True)
    ]
    return [{"resourceType": "Bundle", "type": "collection", "entry": [one]} for one in entries]


@pytest.mark.parametrize("turned", [False, True])
def test_one_client_at_two_servers_has_the_numbers_and_answers_of_both(turned: bool) -> None:
    reached = {"telecom": [{"system": "phone", "value": "613 555 0100"}]}
    two = [person("1", (CARD, "1")), person("1", (CARD, "1"), ("urn:b", "2"), **reached)]
    history, report = from_fhir(at_two_servers(*(two[::-1] if turned else two)))
    numbers = {(one["system"], one["value"]) for one in history.patient["identifiers"]}
    assert (numbers, len(history.patient["identifiers"])) == ({(CARD, "1"), ("urn:b", "2")}, 2)
    assert {key: history.patient[key] for key in ("born", "sex", "phone")} == {
        "born": "1948-03",
        "sex": "female",
        "phone": ["613 555 0100"],
    }
    assert report.items == ()


def test_what_names_no_client_beside_one_is_of_that_one_and_counted() -> None:
    nobodys = [{**length(name, 4), **OF_W} for name in "lm"]
    nobodys[1]["code"] = coded("39125-0", system=LOINC)
    for subject in (None, {"identifier": {"system": CARD}}, {}):
        came = [{**one, "subject": subject} for one in nobodys]
        came = [{key: value for key, value in one.items() if value is not None} for one in came]
        history, report = from_fhir([client(), wound("w"), *came])
        assert facts(history.data) == [*FOUR, "2026-03-02 final w width 4 cm"]
        assert "2 Observation: no client named; read as of the one client here" in report.inferred
    _, report = from_fhir([client(), wound("w"), {**length("l", 4), **OF_W}])
    assert not any("no client named" in line for line in report.inferred)


#: Case -> the code of a Condition, what is about it, the wounds and the illnesses.
CONDITIONS: dict[str, tuple[Json, Json, list[str], list[str]]] = {
    "words of a wound": ({"text": "Ulcer"}, None, ["w"], []),
    "words of none": ({"text": "Hypertension"}, length("l", 4), [], ["Hypertension"]),
    "no words, and it was measured": (ODD, length("l", 4), ["w"], []),
    "no code, and it was measured": ({}, length("l", 4), ["w"], []),
    "no words, and its pain was asked": (ODD, obs("l", "72514-3", valueInteger=3), [], []),
    "no words, and it was not measured": (ODD, obs("l", "39126-8", dataAbsentReason=REASON), [], []),
    "no words, and nothing is about it": (ODD, None, [], []),
}


@pytest.mark.parametrize("name", CONDITIONS)
def test_a_condition_is_a_wound_by_its_words_or_by_what_was_measured_of_it(name: str) -> None:
    code, about, wounds, illnesses = CONDITIONS[name]
    came = [client(), {**wound("w"), "code": code}, *([{**about, **OF_W}] if about else [])]
    for given in (came, came[::-1]):
        history, _ = from_fhir(given)
        assert [one["id"] for one in history.wounds] == wounds
        assert history.patient.get("conditions", []) == illnesses
        assert facts(history.data) == (FOUR if wounds and about else [])


def structure(**more: Json) -> Json:
    return {"resourceType": "BodyStructure", "id": "b", "patient": P, "location": {"text": "left heel"}, **more}


ABOUT_B = {"focus": [ref("BodyStructure/b")]}
#: Case -> what came, and the wounds with their places.
STRUCTURES: dict[str, tuple[list[Json], list[tuple[str, str | None]]]] = {
    "a structure that is called so": ([structure(morphology={"text": "Ulcer"})], [("BodyStructure/b", "left heel")]),
    "a structure that is described as one": ([structure(description="Skin tear")], [("BodyStructure/b", "left heel")]),
    "a structure that was measured": ([structure(), {**length("l", 4), **ABOUT_B}], [("BodyStructure/b", "left heel")]),
    "a structure of which pain was asked": ([structure(), obs("l", "72514-3", valueInteger=3, **ABOUT_B)], []),
    "a structure": ([structure(description="A mole")], []),
    "a structure that is no longer so": (
        [structure(active=False, morphology={"text": "Ulcer"})],
        [],
    ),
    "the place of a wound that names it": (
        [
            structure(morphology={"text": "Ulcer"}),
            wound("w", extension=[{"url": "http://hl7.org/fhir/StructureDefinition/bodySite",
                                   "valueReference": ref("BodyStructure/b")}]),
            {**length("l", 4), **ABOUT_B},
        ],
        [("w", "left heel")],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", STRUCTURES)
def test_a_body_structure_is_a_wound_by_its_words_or_by_what_was_measured_of_it(name: str) -> None:
    came, expected = STRUCTURES[name]
    for given in ([client(), *came], [*came[::-1], client()]):
        history, _ = from_fhir(given)
        assert [(one["id"], one.get("site")) for one in history.wounds] == expected
        assert all(f" {expected[0][0]} " in line for line in facts(history.data))


def test_of_several_body_structures_each_is_what_it_is() -> None:
    """The place of a wound, a mole, and an ulcer, under ids in every order: one does not hide the others."""
    link = "http://hl7.org/fhir/StructureDefinition/bodySite"
    for mole, site, ulcer in itertools.permutations("abc"):
        named = {"extension": [{"url": link, "valueReference": ref(f"BodyStructure/{site}")}]}
        came = [
            client(),
            wound("w", **named),
            {**structure(description="A mole"), "id": mole},
            {**structure(location={"text": "sacrum"}), "id": site},
            {**structure(morphology={"text": "Ulcer"}), "id": ulcer},
            {**length("l", 4), "focus": [ref(f"BodyStructure/{site}")]},
        ]
        history, _ = from_fhir(came)
        places = {(one["id"], one.get("site")) for one in history.wounds}
        assert places == {("w", "sacrum"), (f"BodyStructure/{ulcer}", "left heel")}
        assert facts(history.data) == FOUR
