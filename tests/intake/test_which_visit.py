"""Which visit is a finding of? One wound stands here, and a length of 4 cm beside a width of 3 cm.

What R4 says: Observation.encounter is "the healthcare event during which this observation is made"; a preliminary
observation is "initial or interim", a final one complete, one entered in error "should not have existed" (value sets
observation-status and encounter-status); the clinically relevant time is effective[x], which may be a period, and
issued is when this version was made available. That two days, authors or states are two notes is a promise of ours.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.facts import aside, read
from tests.intake.foreign.inputs import AT, LOINC, P, client, cm, coded, length, obs, visit, wound
from tests.intake.two_clients import ref
from woundfhir import History, from_fhir, to_fhir
from woundfhir.intake.resources import from_fhir_many, read_any
from woundfhir.language import speaking

Json = Any
OF_W = {"focus": [ref("Condition/w")]}
IN = {"encounter": ref("Encounter/e")}
ABSENT = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
TIME = "effectiveDateTime"
EXTENSION = "https://w3id.org/woundfhir/StructureDefinition/"


def l4(**more: Json) -> Json:
    return {**length("l", 4), **OF_W, **more}


def w3(**more: Json) -> Json:
    return {**length("m", 3), "code": coded("39125-0", system=LOINC), **OF_W, **more}


def panel(**more: Json) -> Json:
    return {**obs("set", "39135-9", hasMember=[ref("Observation/l")]), **OF_W, **more}


def drop(resource: Json, *keys: str, **more: Json) -> Json:
    return {**{key: value for key, value in resource.items() if key not in keys}, **more}


def care(**more: Json) -> Json:
    made = {"resourceType": "Procedure", "id": "pr", "status": "completed", "subject": P, "performedDateTime": AT}
    return {**made, "code": coded("18949003", "Change of dressing"), "reasonReference": OF_W["focus"], **more}


def supplied() -> Json:
    """A supply that says in our extensions which visit and which wound it was for: it has no element for these."""
    made = {"resourceType": "SupplyDelivery", "id": "s", "status": "completed", "patient": P, "occurrenceDateTime": AT}
    named = {"visit": "Encounter/e", "wound": "Condition/w"}
    links = [{"url": f"{EXTENSION}supply-{key}", "valueReference": ref(name)} for key, name in named.items()]
    return {**made, "extension": links, "suppliedItem": {"itemCodeableConcept": {"text": "foam"}}}


ANN, BEA = ({"performer": [{"display": f"{name} RN"}]} for name in ("Ann", "Bea"))
FIVE = {"valueQuantity": cm(5)}
LATER, MONTH, HOURS = "2026-03-05", "2026-03", "2026-03-02T16:00:00-05:00"
#: A visit that goes on past midnight, and a time in it, in the zone of somebody else.
NIGHT = {"start": "2026-03-02T23:40:00-05:00", "end": "2026-03-03T00:20:00-05:00"}
PAST = {"effectiveDateTime": "2026-03-03T05:10:00Z"}
ERROR, DRAFT = {"status": "entered-in-error"}, {"status": "preliminary"}
#: A finding that is written as a Condition: another guide's shape.
FINDING = coded("odour-faint", system="https://w3id.org/woundfhir/CodeSystem/wound-care")
#: Case -> what came beside the client and the wound, and the facts.
CASES: dict[str, tuple[list[Json], list[str]]] = {
    "in an Encounter": (
        [visit(), l4(**IN), w3(**IN)],
        ["2026-03-02 final w length 4 cm", "2026-03-02 final w width 3 cm"],
    ),
    "an Encounter of which nothing is": ([visit()], ["2026-03-02 final"]),
    "another hour of its day": ([visit(), l4(effectiveDateTime=HOURS, **IN)], ["2026-03-02 final w length 4 cm"]),
    "its month, and no day": ([visit(), l4(effectiveDateTime=MONTH, **IN)], ["2026-03-02 final w length 4 cm"]),
    "no time of its own": ([visit(), drop(l4(**IN), TIME)], ["2026-03-02 final w length 4 cm"]),
    "an Encounter without a time": ([drop(visit(), "period"), l4(**IN)], ["2026-03-02 final w length 4 cm"]),
    "another day than its Encounter": (
        [visit(), l4(effectiveDateTime=LATER, **IN), w3(**IN)],
        ["2026-03-02 final w width 3 cm", "2026-03-05 final w length 4 cm"],
    ),
    "a visit past midnight": (
        [visit(period=NIGHT), l4(effectiveDateTime="2026-03-02T23:50:00-05:00", **IN), w3(**PAST, **IN)],
        ["2026-03-02 final w length 4 cm", "2026-03-02 final w width 3 cm"],
    ),
    "after a visit past midnight": (
        [visit(period={**NIGHT, "end": "2026-03-03T00:05:00-05:00"}), w3(**PAST, **IN)],
        ["2026-03-02 final", "2026-03-03 final w width 3 cm"],
    ),
    "a stay of a night": (
        [visit(period={**NIGHT, "end": "2026-03-03T09:00:00-05:00"}), w3(**PAST, **IN)],
        ["2026-03-02 final", "2026-03-03 final w width 3 cm"],
    ),
    "an Encounter taken back, and what was seen was not": (
        [visit(**ERROR), l4(**IN)],
        ["2026-03-02 final w length 4 cm"],
    ),
    "what was seen taken back, and its Encounter was not": (
        [visit(), l4(**IN, **ERROR), w3(**IN)],
        ["2026-03-02 final w width 3 cm"],
    ),
    "both taken back": ([visit(**ERROR), l4(**IN, **ERROR)], []),
    "a first result in a note that is done": (
        [visit(), l4(**IN, **DRAFT), w3(**IN)],
        ["2026-03-02 draft w length 4 cm", "2026-03-02 final w width 3 cm"],
    ),
    "a first result in a visit under way": (
        [visit(status="in-progress"), l4(**IN, **DRAFT)],
        ["2026-03-02 draft w length 4 cm"],
    ),
    "a result in a visit under way": (
        [visit(status="in-progress"), l4(**IN)],
        ["2026-03-02 draft", "2026-03-02 final w length 4 cm"],
    ),
    "a corrected result": ([visit(), l4(status="amended", **IN)], ["2026-03-02 final w length 4 cm"]),
    "a result of unknown state": ([visit(), l4(status="unknown", **IN)], ["2026-03-02 final w length 4 cm"]),
    "an Encounter that did not come": (
        [l4(**IN, **ANN), w3(**IN)],
        ["2026-03-02 final (Ann RN) w length 4 cm", "2026-03-02 final (Ann RN) w width 3 cm"],
    ),
    "two nurses in an Encounter that did not come": (
        [l4(**IN, **ANN), w3(**IN, **BEA)],
        ["2026-03-02 final (Ann RN) w length 4 cm", "2026-03-02 final (Ann RN) w width 3 cm"],
    ),
    "two days in an Encounter that did not come": (
        [l4(**IN), w3(effectiveDateTime=LATER, **IN)],
        ["2026-03-02 final w length 4 cm", "2026-03-05 final w width 3 cm"],
    ),
    "two states in an Encounter that did not come": (
        [l4(**IN), w3(**IN, **DRAFT)],
        ["2026-03-02 draft w width 3 cm", "2026-03-02 final w length 4 cm"],
    ),
    "a correction in an Encounter that did not come": (
        [l4(**IN), w3(status="amended", **IN)],
        ["2026-03-02 amended w length 4 cm", "2026-03-02 amended w width 3 cm"],
    ),
    "two Encounters that did not come": (
        [l4(**IN), w3(encounter=ref("Encounter/f"), effectiveDateTime=LATER)],
        ["2026-03-02 final w length 4 cm", "2026-03-05 final w width 3 cm"],
    ),
    "two nurses, and no Encounter": (
        [l4(**ANN), w3(**BEA)],
        ["2026-03-02 final (Ann RN) w length 4 cm", "2026-03-02 final (Bea RN) w width 3 cm"],
    ),
    "a nurse and nobody, and no Encounter": (
        [l4(**ANN), w3()],
        ["2026-03-02 final (Ann RN) w length 4 cm", "2026-03-02 final w width 3 cm"],
    ),
    "two days, and no Encounter": (
        [l4(), w3(effectiveDateTime=LATER)],
        ["2026-03-02 final w length 4 cm", "2026-03-05 final w width 3 cm"],
    ),
    "member of a panel of another nurse": (
        [panel(**ANN), l4(**BEA)],
        ["2026-03-02 final (Ann RN)", "2026-03-02 final (Bea RN) w length 4 cm"],
    ),
    "member of a panel of the same nurse": ([panel(**ANN), l4(**ANN)], ["2026-03-02 final (Ann RN) w length 4 cm"]),
    "member that says nobody, of a panel of a nurse": (
        [panel(**ANN), l4()],
        ["2026-03-02 final (Ann RN) w length 4 cm"],
    ),
    "member of a panel of nobody, by a nurse": ([panel(), l4(**ANN)], ["2026-03-02 final w length 4 cm"]),
    "member of another day": (
        [panel(), l4(effectiveDateTime=LATER)],
        ["2026-03-02 final", "2026-03-05 final w length 4 cm"],
    ),
    "member that is a first result": ([panel(), l4(**DRAFT)], ["2026-03-02 draft w length 4 cm", "2026-03-02 final"]),
    "member without a time": ([panel(), drop(l4(), TIME)], ["2026-03-02 final w length 4 cm"]),
    "member of a panel in an Encounter": ([visit(), panel(**IN), drop(l4(), TIME)], ["2026-03-02 final w length 4 cm"]),
    "member with a time, of a panel without one": (
        [drop(panel(), TIME), l4()],
        ["2026-03-02 final w length 4 cm", "no time final"],
    ),
    "member with a time, of a panel in an Encounter, both without one": (
        [drop(visit(), "period"), drop(panel(**IN), TIME), l4()],
        ["2026-03-02 final w length 4 cm"],
    ),
    "finding of a Condition, which has no time": (
        [wound("f", code=FINDING, evidence=[{"detail": [ref("Observation/l")]}]), l4()],
        ["2026-03-02 final w length 4 cm"],
    ),
    "part of care": ([care(), drop(l4(partOf=[ref("Procedure/pr")]), TIME)], ["2026-03-02 final w length 4 cm"]),
    "a supply for an Encounter": ([visit(), supplied()], ["2026-03-02 final w supplies [{'item': 'foam'}]"]),
    "a supply for an Encounter that was taken back": (
        [visit(**ERROR), supplied()],
        ["2026-03-02 final w supplies [{'item': 'foam'}]"],
    ),
    "a period": (
        [drop(l4(), TIME, effectivePeriod={"start": "2026-03-04", "end": "2026-03-06"})],
        ["2026-03-04 final w length 4 cm"],
    ),
    "a period without a start": (
        [drop(l4(), TIME, effectivePeriod={"end": "2026-03-06"})],
        ["no time final w length 4 cm"],
    ),
    "an instant": ([drop(l4(), TIME, effectiveInstant=HOURS)], ["2026-03-02 final w length 4 cm"]),
    "when it was issued, beside when it was so": (
        [l4(issued="2026-03-07T10:00:00Z")],
        ["2026-03-02 final w length 4 cm"],
    ),
    "when it was issued alone": ([drop(l4(), TIME, issued="2026-03-07T10:00:00Z")], ["2026-03-07 final w length 4 cm"]),
    "a time that is not known": (
        [drop(l4(), TIME, _effectiveDateTime={"extension": [{"url": ABSENT, "valueCode": "unknown"}]})],
        ["no time final w length 4 cm"],
    ),
    "nothing of when": ([drop(l4(), TIME)], ["no time final w length 4 cm"]),
}


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("name", CASES)
def test_which_visit_a_finding_is_read_of(name: str, turned: bool) -> None:
    came, expected = CASES[name]
    came = [client(), wound("w"), *came]
    assert read(*(reversed(came) if turned else came)) == [expected]


def visits(*came: Json) -> tuple[list[str], list[str]]:
    """Return the ids of the visits, and what was concluded of them."""
    (part,) = from_fhir_many([client(), wound("w"), *came])
    return [one["id"] for one in part.history.visits], list(part.losses.inferred)


def test_a_visit_that_is_made_is_called_by_what_made_it_and_said() -> None:
    said = "a visit: made from the time and author of resources {}"
    other, unseen = (
        said.format("of another day or state than their Encounter"),
        "that name an Encounter that did not come",
    )
    assert visits(visit(), l4(**IN)) == (["e"], [])
    assert visits(visit(), w3(**IN), l4(effectiveDateTime=LATER, **IN)) == (["e", f"e {LATER} final"], [other])
    assert visits(visit(), w3(**IN), l4(effectiveDateTime=f"{LATER}T10:00:00-05:00", **IN)) == (
        ["e", f"e {LATER} final"],
        [other],
    )
    assert visits(visit(), w3(**IN), l4(**DRAFT, **IN)) == (["e", "e 2026-03-02 draft"], [other])
    assert visits(l4(**IN), w3(**IN)) == (["Encounter/e"], [said.format(unseen)])
    assert visits(l4(**IN), w3(effectiveDateTime=LATER, **IN)) == (
        ["Encounter/e", f"Encounter/e {LATER} final"],
        [said.format(unseen)],
    )
    alone = "visit came-{}: made from the time and author of resources without an Encounter"
    assert visits(l4(), w3()) == (["came-1"], [alone.format(1)])
    assert visits(l4(), w3(effectiveDateTime=LATER)) == (["came-1", "came-2"], [alone.format(1), alone.format(2)])
    assert visits(visit("came-1"), l4(effectiveDateTime=LATER)) == (["came-1", "came-2"], [alone.format(2)])


def test_what_stands_in_a_visit_that_was_taken_back_is_said() -> None:
    """Whoever reads a finding whose Encounter was entered in error must know that."""
    came = [client(), wound("w"), visit(**ERROR), l4(**IN)]
    assert aside(*came) == {"withdrawn Encounter/e: withdrawn: status: entered in error"}


@pytest.mark.parametrize(
    ("detail", "more", "said"),
    [
        (["Observation/l"], {}, True),
        (["Observation/z"], {}, False),
        (["Observation/l"], ERROR, False),
        (["Observation/l"], {"code": coded("zz", system="urn:x")}, False),
        (["Observation/z", "Observation/l"], {}, True),
    ],
)
def test_a_finding_that_is_a_condition_is_said_where_an_observation_of_it_is_read(
    detail: list[str], more: Json, said: bool
) -> None:
    """R4, Condition.evidence.detail: "links to other relevant information"; a finding is no illness of the client."""
    finding = wound("f", code=FINDING, evidence=[{"detail": [ref(one)]} for one in detail])
    came = [client(), wound("w"), finding, l4(**more)]
    (part,) = from_fhir_many(came)
    assert "conditions" not in part.history.patient and len(part.history.wounds) == 1
    whole = [one.why for one in part.losses.items if one.path == "Condition"]
    assert whole == ([] if said else ["a finding of a wound as a Condition: another guide's shape, kept as it came"])


@pytest.mark.parametrize("turned", [False, True])
def test_a_visit_that_says_no_time_has_the_first_of_what_was_charted_for_it(turned: bool) -> None:
    """R4, Encounter.period may be missing: of two times of one day the first stands, whatever came first."""
    later, earlier = l4(effectiveDateTime=HOURS, **IN), w3(**IN)
    for more in ([], [drop(visit(), "period")]):
        came = [client(), wound("w"), *more, *((earlier, later) if turned else (later, earlier))]
        (part,) = from_fhir_many(came)
        assert [one["at"] for one in part.history.visits] == [AT]
        answers = part.history.visits[0]["wounds"][0]["assessment"]
        assert answers == {"length": "4 cm", "width": "3 cm"}


def test_the_record_is_the_same_whatever_language_holds() -> None:
    came = [client(), wound("w", bodySite=[{"text": "left heel"}]), visit(), l4(**IN), {**l4(**IN), "id": "l2", **FIVE}]
    here = [from_fhir_many(came)[0], *(read(came) for read in (from_fhir, read_any))]
    with speaking("fr"):
        there = [from_fhir_many(came)[0], *(read(came) for read in (from_fhir, read_any))]
    assert [one[0].json() for one in there] == [one[0].json() for one in here]
    assert len({one[0].json() for one in here}) == 1
    assert "two different values came" in here[0][0].json()


def test_two_notes_of_an_encounter_that_did_not_come_go_out_as_two() -> None:
    """The first keeps the sender's name of it; the second is of another day, and is an Encounter of its own."""
    came = [client(), wound("w"), l4(**IN), w3(effectiveDateTime=LATER, **IN)]
    out = to_fhir(from_fhir(came)[0])
    ours = [one for one in out if one["resourceType"] == "Observation" and one not in came]
    named = {(one["effectiveDateTime"][:10], one["encounter"]["reference"]) for one in ours}
    (encounter,) = (one for one in out if one["resourceType"] == "Encounter")
    assert named == {("2026-03-02", "Encounter/e"), ("2026-03-05", f"Encounter/{encounter['id']}")}
    assert encounter["period"] == {"start": "2026-03-05"}


def test_the_time_by_which_a_visit_was_found_is_understood() -> None:
    """Of a period its start; when a result was issued says more where it was so at another time."""
    period = drop(l4(), TIME, effectivePeriod={"start": "2026-03-04", "end": "2026-03-06"})
    for one, left in (
        (period, {"Observation.effectivePeriod.end"}),
        (drop(l4(), TIME, issued="2026-03-07T10:00:00Z"), set()),
        (l4(issued="2026-03-07T10:00:00Z"), {"Observation.issued"}),
        (l4(), set()),
    ):
        (part,) = from_fhir_many([client(), wound("w"), one])
        assert {loss.path for loss in part.losses.items} == left


TAKEN_BACK = "Observation.encounter: its visit was entered in error, and it was not"


@pytest.mark.parametrize("seen", [l4(effectiveDateTime=LATER, **IN), l4(**DRAFT, **IN)])
@pytest.mark.parametrize("status", ["finished", "in-progress"])
def test_of_a_visit_that_stands_nobody_is_told_that_it_was_taken_back(status: str, seen: Json) -> None:
    (part,) = from_fhir_many([client(), wound("w"), visit(status=status), seen])
    assert part.losses.lines() == []


@pytest.mark.parametrize(
    ("status", "at"), [("unknown", "entered in error"), ("final", "final"), ("preliminary", "draft")]
)
def test_what_is_surely_a_fact_does_not_stand_in_a_note_of_ours_that_was_taken_back(status: str, at: str) -> None:
    note = {"id": "V1", "at": AT, "status": "entered in error", "wounds": [{"wound": "W1", "note": "Wrong client"}]}
    ours = to_fhir(
        History.of({"woundfhir": 1, "patient": {"born": "1948"}, "wounds": [{"id": "W1"}], "visits": [note]})
    )
    named = {one["resourceType"]: ref(f"{one['resourceType']}/{one['id']}") for one in ours if "id" in one}
    seen = {**length("l", 4), "status": status, "encounter": named["Encounter"], "focus": [named["Condition"]]}
    seen["subject"] = next(one["subject"] for one in ours if one["resourceType"] == "Condition")
    history, report = from_fhir([*ours, seen])
    assert any(TAKEN_BACK in line for line in report.lines()) is (at != "entered in error")
    lengths = [(one["status"], "length" in str(one)) for one in history.visits]
    assert (at, True) in lengths and len(lengths) == (1 if at == "entered in error" else 2)
