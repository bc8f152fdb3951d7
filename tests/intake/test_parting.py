"""Two clients in one input; what names neither is whose resources alone it hangs together with, else nobody's."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from tests.intake.facts import facts
from tests.intake.foreign.guides import GUIDES
from tests.intake.foreign.inputs import bundle, client, length, obs, visit, wound
from tests.intake.two_clients import ref
from woundfhir import from_fhir
from woundfhir.intake.parting import SHARED
from woundfhir.intake.resources import Part, from_fhir_many

Json = Any
BORN = {"a": "1948-03", "b": "1950"}


def theirs(key: str, size: int, **more: Json) -> list[Json]:
    of = ref(f"Patient/{key}")
    seen = length(f"l{key}", size, of=of, focus=[ref(f"Condition/w{key}")], **more)
    return [client(key, birthDate=BORN[key]), wound(f"w{key}", of=of), seen]


BASE = [*theirs("a", 1), *theirs("b", 2)]
A, B = "2026-03-02 final wa length 1 cm", "2026-03-02 final wb length 2 cm"
DEEP = "2026-03-02 final w{} depth 3 cm"


def depth(**more: Json) -> Json:
    made = {**length("n", 3, of=None), **more}
    return {**made, "code": {"coding": [{"system": "http://loinc.org", "code": "39127-6"}]}}


def panel(name: str, *members: str, of: str | None = None) -> Json:
    more = {"focus": [ref(f"Condition/w{of}")]} if of else {}
    named = [ref(f"Observation/{one}") for one in members]
    return obs(name, "39135-9", of=ref(f"Patient/{of}") if of else None, hasMember=named, **more)


#: Case -> what came beside the two, and whose depth of 3 cm it is; None for nobody's.
CASES: dict[str, tuple[list[Json], str | None]] = {
    "it hangs together with nothing": ([depth()], None),
    "it points at a wound": ([depth(focus=[ref("Condition/wb")])], "b"),
    "it points at the wounds of both": ([depth(focus=[ref("Condition/wa"), ref("Condition/wb")])], None),
    "a panel of a client points at it": ([panel("pa", "n", of="a"), depth()], "a"),
    "panels of both point at it": ([panel("pa", "n", of="a"), panel("pb", "n", of="b"), depth()], None),
    "a panel in a panel of a client": ([panel("q", "n"), panel("pb", "q", of="b"), depth()], "b"),
    "a panel of nobody points at it": ([panel("q", "n"), depth()], None),
    "a panel of nobody that points at both": ([panel("q", "la", "lb"), depth(focus=[ref("Observation/q")])], None),
    "it names a nurse of both": (
        [{"resourceType": "Practitioner", "id": "nu"}, depth(performer=[ref("Practitioner/nu")])],
        None,
    ),
    "it is of an order for a client": (
        [
            {
                "resourceType": "ServiceRequest",
                "id": "sr",
                "status": "active",
                "intent": "order",
                "subject": ref("Patient/b"),
            },
            depth(basedOn=[ref("ServiceRequest/sr")]),
        ],
        "b",
    ),
    "it names a client who did not come": ([depth(subject=ref("Patient/c"))], "c"),
}


def by_client(came: list[Json]) -> dict[str | None, Part]:
    """Return what came of each client, by the end of the reference that names them."""
    parts = from_fhir_many(came)
    named = [part.history.patient.get("identifiers", [{}])[0].get("value", "/").rsplit("/")[-1] for part in parts]
    return {name if part.named else None: part for name, part in zip(named, parts, strict=True)}


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("name", CASES)
def test_whose_it_is_that_names_nobody(name: str, turned: bool) -> None:
    more, whose = CASES[name]
    came = copy.deepcopy([*BASE, *more])
    found = by_client(came[::-1] if turned else came)
    assert [line for line in facts(found["a"].history.data) if "no status" not in line][-1] == A
    lines = {key: " ".join(facts(part.history.data)) for key, part in found.items()}
    assert [key for key, text in lines.items() if "depth 3 cm" in text] == ([whose] if whose else [])
    assert A in lines["a"] and B in lines["b"]
    assert (A in lines["b"]) is (B in lines["a"]) is False
    if whose is None:
        (line,) = [one for one in found[None].losses.items if one.source == "Observation/n"]
        assert line.kind == "not-understood" and "names no client, and there are several here" in line.why


def test_people_and_places_are_of_everybody_who_names_them() -> None:
    """R4: Practitioner, PractitionerRole and Organization have no subject."""
    nurse = {"resourceType": "Practitioner", "id": "n", "name": [{"text": "Ann RN"}]}
    role = {"resourceType": "PractitionerRole", "id": "r", "practitioner": ref("Practitioner/n")}
    place = {"resourceType": "Organization", "id": "o", "name": "Invented agency"}
    by = {"performer": [ref("PractitionerRole/r")]}
    came = [*theirs("a", 1, **by), *theirs("b", 2), nurse, {**role, "organization": ref("Organization/o")}, place]
    found = by_client(came)
    assert found["a"].history.visits[0]["by"] == {"name": "Ann RN", "organisation": "Invented agency"}
    assert "by" not in found["b"].history.visits[0]
    assert {one.original["resourceType"] for one in found["a"].came} > {"Practitioner", "PractitionerRole"}
    assert SHARED.isdisjoint(one.original["resourceType"] for one in found["b"].came)
    assert found.keys() == {"a", "b"}


def test_a_place_that_nobody_names_is_said() -> None:
    found = from_fhir_many([*BASE, {"resourceType": "Organization", "id": "o", "name": "Invented agency"}])
    assert [part.named for part in found] == [True, True]
    said = [line for part in found for line in part.losses.lines() if "named by no client here" in line]
    assert len(said) == 1 and "1 Organization" in said[0]


def test_what_is_deleted_is_deleted_of_its_client_alone() -> None:
    """R4, http: DELETE takes a resource away; the entry names it by its url."""
    entries = [{"resource": one, "request": {"method": "POST", "url": one["resourceType"]}} for one in BASE]
    entries += [{"request": {"method": "DELETE", "url": f"Observation/{name}"}} for name in ("la", "y", "z")]
    found = by_client([{"resourceType": "Bundle", "type": "transaction", "entry": entries}])
    assert {key: facts(part.history.data) for key, part in found.items()} == {"a": [], "b": [B], None: []}
    kinds = {key: [one.kind for one in part.losses.items if one.kind == "withdrawn"] for key, part in found.items()}
    assert kinds == {"a": ["withdrawn"] * 2, "b": [], None: ["withdrawn"] * 2}


DONE = {"resourceType": "Procedure", "id": "pr", "status": "completed", "code": {"text": "Odd"}}
#: What names another client's, of types before and behind Patient in the alphabet.
NAMES_ANOTHERS: dict[str, list[Json]] = {
    "Encounter/e": [
        visit("e", subject=ref("Patient/b")),
        {
            "resourceType": "AllergyIntolerance",
            "id": "x",
            "patient": ref("Patient/a"),
            "encounter": ref("Encounter/e"),
            "contained": [{"resourceType": "Practitioner", "id": "c"}],
        },
    ],
    "Procedure/pr": [
        {**DONE, "subject": ref("Patient/b")},
        {"resourceType": "RiskAssessment", "id": "x", "subject": ref("Patient/a"), "basis": [ref("Procedure/pr")]},
    ],
}


@pytest.mark.parametrize("name", NAMES_ANOTHERS)
def test_what_is_another_clients_is_named_by_its_address_and_what_was_given_stays_as_it_is(name: str) -> None:
    """R4, Bundle, resolving references: alone, a relative reference would mean nothing that came."""
    clients = [client(key, birthDate=born) for key, born in BORN.items()]
    came = [bundle("collection", *clients, *NAMES_ANOTHERS[name])]
    was = copy.deepcopy(came)
    parts = from_fhir_many(came)
    (view,) = (one.view for part in parts for one in part.came if one.original["id"] == "x")
    assert f"'http://one.example.org/fhir/{name}'" in str(view)
    assert came == was


@pytest.mark.parametrize("name", sorted(GUIDES))
def test_beside_another_client_the_same_is_read_as_alone(name: str) -> None:
    alone, _ = from_fhir([GUIDES[name]()])
    both = from_fhir_many([GUIDES[name](), *theirs("b", 2)])
    assert sorted(facts(part.history.data) for part in both if part.named) == sorted([facts(alone.data), [B]])
    assert {key: alone.data[key] for key in ("patient", "wounds")} in [
        {key: part.history.data[key] for key in ("patient", "wounds")} for part in both if part.history.wounds
    ] or not alone.wounds
