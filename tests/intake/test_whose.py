"""Whose is it? Each case says how many clients there are, by what each is known, and which lengths are whose.

What R4 says: a Reference names by literal address, by identifier, or in words (references.html, "Logical references");
Patient.active is "whether this patient's record is in active use"; QuestionnaireResponse.source is "the person who
answered the questions". That nothing joins two people but an agreeing number is a promise of ours.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.foreign.inputs import P, client, length, wound
from tests.intake.two_clients import ABSENT, CARD, logical, person, ref
from woundfhir import History, InputError, from_fhir, to_fhir
from woundfhir.intake.resources import from_fhir_many

Json = Any
LATER = {"effectiveDateTime": "2026-03-09"}
NAMED = "https://w3id.org/woundfhir/reference"


def known(patient: Json) -> str:
    """By what a client is known: "Patient/p", "urn:example:card|1", "Ann Doe", "born 1948-03"."""
    numbers = [(one.get("system"), one.get("value")) for one in patient.get("identifiers", ())]
    said = [str(value) if system == NAMED else f"{system}|{value}" for system, value in numbers if value]
    said += [patient["name"]["text"]] if "name" in patient else []
    return ", ".join([*said, f"born {patient['born']}"] if "born" in patient else said)


def found(came: list[Json]) -> dict[str, list[str]]:
    """Return the lengths of each client, by what the client is known."""
    made: dict[str, list[str]] = {}
    for part in from_fhir_many(came):
        entries = [entry for visit in part.history.visits for entry in visit.get("wounds", ())]
        lengths = [entry["assessment"]["length"] for entry in entries if "assessment" in entry]
        assert known(part.history.patient) not in made
        made[known(part.history.patient)] = sorted(lengths)
    return made


def one(size: str, of: Json, **more: Json) -> Json:
    return length(f"o{size}", int(size), of=of, effectiveDateTime=f"2026-03-0{size}", **more)


def answers(**more: Json) -> Json:
    item = {"linkId": "x", "answer": [{"valueString": "9"}]}
    return {"resourceType": "QuestionnaireResponse", "id": "q", "status": "completed", "item": [item], **more}


CHART = "urn:example:chart"
BOTH = {"urn:example:card|1, born 1948-03": ["1 cm", "2 cm"]}
#: Case -> what came, and the lengths of each client.
CASES: dict[str, tuple[list[Json], dict[str, list[str]]]] = {
    "nobody is named": ([one("1", {})], {"": ["1 cm"]}),
    "a reference": ([one("1", ref("Patient/111"))], {"Patient/111": ["1 cm"]}),
    "words": ([one("1", {"display": "Ann Doe"})], {"Ann Doe": ["1 cm"]}),
    "blank words": ([one("1", {"display": "  "})], {"": ["1 cm"]}),
    "a number, and words": ([one("1", logical("1", display="Ann Doe"))], {"urn:example:card|1, Ann Doe": ["1 cm"]}),
    "somebody unknown": ([one("1", ABSENT)], {"": ["1 cm"]}),
    "somebody unknown, in words": ([one("1", {**ABSENT, "display": "Ann Doe"})], {"Ann Doe": ["1 cm"]}),
    "a number that is empty": ([one("1", {"identifier": {"system": CARD, "value": ""}})], {"": ["1 cm"]}),
    "one client, in words too": (
        [client(), one("1", P), one("2", {"display": "Ann Doe"})],
        {"Patient/p, born 1948-03": ["1 cm", "2 cm"]},
    ),
    "two clients, and words": (
        [client("a"), client("b", birthDate="1950"), one("1", ref("Patient/a")), one("2", {"display": "Ann Doe"})],
        {"Patient/a, born 1948-03": ["1 cm"], "Patient/b, born 1950": [], "Ann Doe": ["2 cm"]},
    ),
    "a Patient, and their number": (
        [person("a", (CARD, "1")), one("1", ref("Patient/a")), one("2", logical("1"))],
        BOTH,
    ),
    "a number without a system": (
        [person("a", (CARD, "1")), one("1", ref("Patient/a")), one("2", logical("1", None))],
        {"urn:example:card|1, born 1948-03": ["1 cm"], "None|1": ["2 cm"]},
    ),
    "a Patient, the same inside a finding, and their number": (
        [person("a", (CARD, "1")), one("1", ref("#c"), contained=[person("c", (CARD, "1"))]), one("2", logical("1"))],
        BOTH,
    ),
    "a number that two have": (
        [
            *(person(key, (CHART, chart), (CARD, "9")) for key, chart in (("a", "C-1"), ("b", "C-2"))),
            one("1", ref("Patient/a")),
            one("2", logical("9")),
        ],
        {
            f"{CHART}|C-1, urn:example:card|9, born 1948-03": ["1 cm"],
            f"{CHART}|C-2, urn:example:card|9, born 1948-03": [],
            "urn:example:card|9": ["2 cm"],
        },
    ),
    "two Patients of one name and birth date": (
        [*(client(key, name=[{"text": "Ann Doe"}]) for key in "ab"), one("1", ref("Patient/a"))],
        {"Patient/a, Ann Doe, born 1948-03": ["1 cm"], "Patient/b, Ann Doe, born 1948-03": []},
    ),
    "a Patient out of use": (
        [person("a", (CARD, "1"), active=False), one("1", ref("Patient/a"))],
        {"Patient/a": ["1 cm"]},
    ),
    "answers of a client who answered": (
        [client("a"), one("1", ref("Patient/a")), answers(source=ref("Patient/b"))],
        {"Patient/a, born 1948-03": ["1 cm"], "Patient/b": []},
    ),
    "answers of a daughter": (
        [
            client("a"),
            one("1", ref("Patient/a")),
            answers(source=ref("RelatedPerson/b")),
            answers(id="d", source=ref("Device/b")),
        ],
        {"Patient/a, born 1948-03": ["1 cm"]},
    ),
    "a source that R4 gives to answers alone": (
        [client("a"), one("1", ref("Patient/a"), source=ref("Patient/b"))],
        {"Patient/a, born 1948-03": ["1 cm"]},
    ),
    "one number on two servers": (
        [
            {
                "resourceType": "Bundle",
                "type": "collection",
                "entry": [
                    {"fullUrl": f"http://{key}.example.org/fhir/Patient/1", "resource": person("1", (CARD, "1"))},
                    {
                        "fullUrl": f"http://{key}.example.org/fhir/Observation/o",
                        "resource": one(size, ref("Patient/1")),
                    },
                ],
            }
            for key, size in (("one", "1"), ("two", "2"))
        ],
        BOTH,
    ),
}


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("name", CASES)
def test_whose_a_length_is(name: str, turned: bool) -> None:
    came, expected = CASES[name]
    assert found([*reversed(came)] if turned else came) == expected


@pytest.mark.parametrize(
    "about", ["Group/g", "Device/d", "Location/l", "RelatedPerson/r", "http://x.example.org/Group/g"]
)
@pytest.mark.parametrize("key", ["subject", "patient", "beneficiary", "for"])
def test_what_is_about_no_client_is_read_of_none(key: str, about: str) -> None:
    """R4, Observation.subject: "the patient, or group of patients, location, or device"."""
    (part,) = from_fhir_many([client(), wound("w"), {**length("l", 4, of={}), key: ref(about)}])
    assert part.history.visits == []
    (line,) = [one for one in part.losses.items if one.source == "Observation/l"]
    assert (line.kind, line.leaves > 1) == ("not-understood", True)
    assert "about no client" in line.why


@pytest.mark.parametrize("subject", ["Patient/p", 5, ["Patient/p"], [P], {"reference": 5}])
def test_a_subject_of_another_shape_is_read_of_nobody(subject: Json) -> None:
    (part,) = from_fhir_many([client(), wound("w"), {**length("l", 4), "subject": subject}])
    assert part.history.visits == []
    assert [one.kind for one in part.losses.items if one.source == "Observation/l"] == ["not-understood"]


@pytest.mark.parametrize("turned", [False, True])
def test_two_clients_of_one_number_are_refused_with_what_speaks_against_one(turned: bool) -> None:
    came = [person("a", (CARD, "1")), person("b", (CARD, "1"), birthDate="1950"), one("1", ref("Patient/a"))]
    for read in (from_fhir, from_fhir_many):
        with pytest.raises(InputError, match=r"clients 1 and 2 cannot be told apart .*contradict: birth date"):
            read([*reversed(came)] if turned else came)


def test_two_patients_without_an_id_that_nothing_tells_apart_are_refused() -> None:
    ann = {key: value for key, value in client(name=[{"text": "Ann Doe"}]).items() if key != "id"}
    with pytest.raises(InputError, match="clients 1 and 2 cannot be told apart"):
        from_fhir_many([ann, {**ann, "telecom": [{"value": "1"}]}])


class TestOurNoteOfAName:
    """A record that keeps "Patient/111" of a sender who gave no number, and what that sender sends next."""

    @pytest.fixture(scope="class")
    @staticmethod
    def ours() -> list[Json]:
        history, _ = from_fhir([client("111"), length("a", 1, of=ref("Patient/111"))])
        made = to_fhir(History.of({key: value for key, value in history.data.items() if key != "extra"}))
        (patient,) = (one for one in made if one["resourceType"] == "Patient")
        assert patient["identifier"] == [{"system": NAMED, "value": "Patient/111"}]
        return made

    @pytest.mark.parametrize("first", [False, True])
    def test_what_comes_next_is_of_that_client(self, ours: list[Json], first: bool) -> None:
        new = length("b", 2, of=ref("Patient/111"), **LATER)
        assert found([new, *ours] if first else [*ours, new]) == {"Patient/111, born 1948-03": ["1 cm", "2 cm"]}
        again = [*ours, client("111"), new]
        assert found(again[::-1] if first else again) == {"Patient/111, born 1948-03": ["1 cm", "2 cm"]}

    def test_beside_another_client_there_are_still_two(self, ours: list[Json]) -> None:
        other, new = client("z", birthDate="1950"), length("b", 2, of=ref("Patient/111"), **LATER)
        expected = {"Patient/111, born 1948-03": ["1 cm", "2 cm"], "Patient/z, born 1950": []}
        assert found([*ours, other, new]) == expected == found([new, other, *ours])

    def test_another_name_is_another_client(self, ours: list[Json]) -> None:
        new = length("b", 2, of=ref("Patient/11"), **LATER)
        assert found([*ours, new]) == {"Patient/111, born 1948-03": ["1 cm"], "Patient/11": ["2 cm"]}

    def test_a_patient_of_that_name_who_was_born_on_another_day_is_another(self, ours: list[Json]) -> None:
        came = [*ours, client("111", birthDate="1950"), length("b", 2, of=ref("Patient/111"), **LATER)]
        expected = {"Patient/111, born 1948-03": ["1 cm"], "Patient/111, born 1950": ["2 cm"]}
        assert found(came) == expected == found(came[::-1])

    def test_of_others_such_a_number_is_no_note_of_ours(self) -> None:
        stranger = person("z", (NAMED, "Patient/111"))
        came = [stranger, length("a", 1, of=ref("Patient/z")), length("b", 2, of=ref("Patient/111"), **LATER)]
        assert len(from_fhir_many(came)) == 2
