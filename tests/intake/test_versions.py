"""One resource in several versions, one client in several resources, and what names nobody: never two facts of one.

Sources: HL7 FHIR R4, Resource.meta (versionId, lastUpdated), Observation.status (amended follows final), references
(contained resources), Bundle.entry.request. Inputs invented.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest

from tests.intake.foreign.inputs import P, client, cm, length, obs, wound
from tests.intake.foreign.test_laws import decode, encode
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.came import Came
from woundfhir.handover import bundle
from woundfhir.handover.merge import merge
from woundfhir.handover.receive import receive
from woundfhir.intake.resources import from_fhir, from_fhir_many
from woundfhir.intake.versions import SUPERSEDED, mark_superseded, newer
from woundfhir.record import History

Json = Any
NUMBER = [{"system": "urn:example:finding", "value": "F-1"}]
EARLY, LATE = "2026-03-02T10:05:00Z", "2026-03-02T07:05:00-05:00"  # twelve o'clock UTC
CONFLICT = {"absent": "two different values came"}


def meta(at: str, version: str | None = None) -> Json:
    return {"lastUpdated": at, **({"versionId": version} if version else {})}


def lengths(*resources: Json) -> list[Json]:
    """Return the lengths that are read, and hold reading to the same record the second time."""
    came = copy.deepcopy([client(), wound("w"), *resources])
    history, _ = from_fhir(came)
    again, _ = from_fhir(decode(encode(to_fhir(history))))
    assert again.data == history.data
    document, _ = from_fhir([decode(encode(bundle(history, "document", at=EARLY)))])
    assert document.visits == history.visits
    entries = [entry for visit in history.visits for entry in visit.get("wounds", ())]
    return [entry["assessment"]["length"] for entry in entries if "length" in entry.get("assessment", {})]


EDITED = {
    "later by lastUpdated": (length("l", 4, meta=meta(EARLY)), length("l", 5, meta=meta(LATE))),
    "later by versionId": (length("l", 4, meta={"versionId": "9"}), length("l", 5, meta={"versionId": "10"})),
    "amended, under one number": (
        length("l", 4, identifier=NUMBER),
        length("m", 5, identifier=NUMBER, status="amended"),
    ),
    "issued later, under one number": (
        length("l", 4, identifier=NUMBER, issued=EARLY),
        length("m", 5, identifier=NUMBER, issued=LATE),
    ),
}


@pytest.mark.parametrize("name", EDITED)
@pytest.mark.parametrize("turned", [False, True])
def test_the_newest_version_is_the_fact_and_the_earlier_one_is_kept(name: str, turned: bool) -> None:
    pair = EDITED[name][::-1] if turned else EDITED[name]
    assert lengths(*pair) == ["5 cm"]
    history, report = from_fhir([client(), wound("w"), *pair])
    assert any("a newer version of the same resource came too" in line for line in report.lines())
    assert [one for one in to_fhir(history) if one.get("valueQuantity", {}).get("value") == 4] == [EDITED[name][0]]


#: FHIR R4, ObservationStatus and EventStatus: what follows what.
FOLLOWS = [
    *(("Observation", "registered", later) for later in ("preliminary", "final", "amended", "entered-in-error")),
    *(("Observation", "preliminary", later) for later in ("final", "corrected", "cancelled")),
    *(("Observation", "final", later) for later in ("amended", "corrected", "entered-in-error")),
    *(("Observation", "amended", later) for later in ("cancelled", "entered-in-error")),
    *(("Observation", "corrected", later) for later in ("cancelled", "entered-in-error")),
    *(("Procedure", "preparation", later) for later in ("in-progress", "completed")),
    *(("Procedure", "in-progress", later) for later in ("completed", "entered-in-error")),
    ("Procedure", "completed", "entered-in-error"),
]


@pytest.mark.parametrize(("kind", "earlier", "later"), FOLLOWS)
@pytest.mark.parametrize("turned", [False, True])
def test_a_status_follows_another(kind: str, earlier: str, later: str, turned: bool) -> None:
    two = [Came({"resourceType": kind, "id": "a", "status": status}, {}) for status in (earlier, later)]
    mark_superseded(two[::-1] if turned else two)
    assert [one.reason for one in two] == [SUPERSEDED, None]


def verified(kind: str, code: str | None) -> Json:
    return {"resourceType": kind, "id": "a", **({"verificationStatus": {"coding": [{"code": code}]}} if code else {})}


@pytest.mark.parametrize("kind", ["Condition", "AllergyIntolerance"])
@pytest.mark.parametrize(
    ("earlier", "later"),
    [(None, "refuted"), ("confirmed", "refuted"), ("confirmed", "entered-in-error"), ("refuted", "entered-in-error")],
)
def test_what_is_refuted_or_an_error_was_asserted_before(kind: str, earlier: str | None, later: str) -> None:
    """R4, value set condition-ver-status: "ruled out by subsequent diagnostic and clinical evidence"."""
    for turned in (False, True):
        two = [Came(verified(kind, code), {}) for code in (earlier, later)]
        mark_superseded(two[::-1] if turned else two)
        assert [one.reason for one in two] == [SUPERSEDED, None]


def test_of_two_that_are_asserted_neither_follows() -> None:
    assert not newer(verified("Condition", "confirmed"), verified("Condition", "provisional"))
    assert not newer(verified("Condition", "provisional"), verified("Condition", None))


STAMPS = [
    ({"meta": meta(LATE, "1")}, {"meta": meta(EARLY, "2")}),
    ({"meta": meta(EARLY, "2")}, {"meta": meta(EARLY, "1")}),
    ({"meta": {"versionId": "2"}}, {"meta": meta(LATE, "1")}),
    ({"meta": meta(EARLY, "x"), "issued": LATE}, {"meta": meta(EARLY, "9"), "issued": EARLY}),
    ({"meta": meta("2026-03-01T10:00:00", "2")}, {"meta": meta(LATE, "1")}),
    ({"meta": meta("yesterday", "2")}, {"meta": meta(LATE, "1")}),
    # R4, instant: a leap second is one; senders leave the seconds out (common practice, no source).
    ({"meta": meta("2026-06-30T23:59:60Z")}, {"meta": meta(EARLY)}),
    ({"meta": meta("2026-03-02T12:05Z")}, {"meta": meta(EARLY)}),
    ({"meta": 5, "issued": LATE}, {"meta": meta(LATE), "issued": EARLY}),
    ({"issued": LATE, "status": "final"}, {"issued": EARLY, "status": "amended"}),
    ({"issued": LATE, "status": "amended"}, {"issued": LATE, "status": "final"}),
]


@pytest.mark.parametrize(("later", "earlier"), STAMPS)
def test_the_first_stamp_that_both_have_and_that_differs_decides(later: Json, earlier: Json) -> None:
    """R4, Meta: lastUpdated changes with each version; a version has no order of its own but that of numbers."""
    assert newer(later, earlier) and not newer(earlier, later)


def test_a_newer_version_that_withdraws_leaves_no_fact() -> None:
    withdrawn = length("l", 4, status="entered-in-error", meta=meta(LATE))
    assert lengths(length("l", 4, meta=meta(EARLY)), withdrawn) == []


REAL = {
    "two resources": (length("l", 4), length("m", 5)),
    "one id, and nothing says which is newer": (length("l", 4), length("l", 5)),
    "one instant": (length("l", 4, meta=meta(EARLY)), length("l", 5, meta=meta(EARLY))),
    "two resources, one updated later": (length("l", 4, meta=meta(EARLY)), length("m", 5, meta=meta(LATE))),
    "a placeholder is no number": tuple(
        length(key, size, meta=meta(at), identifier=[{"system": "urn:x", "value": "unknown"}])
        for key, size, at in (("l", 4, EARLY), ("m", 5, LATE))
    ),
    **{
        f"no number: {number}": tuple(
            length(key, size, meta=meta(at), identifier=[number, 5])
            for key, size, at in (("l", 4, EARLY), ("m", 5, LATE))
        )
        for number in ({"value": "F-1"}, {"system": "urn:x"}, {"system": "unknown", "value": "F-1"})
    },
}


@pytest.mark.parametrize("name", REAL)
def test_a_real_conflict_stays_one(name: str) -> None:
    assert lengths(*REAL[name]) == [CONFLICT]


def test_an_order_number_does_not_make_two_findings_one() -> None:
    """One number, two days: both are facts."""
    later = length("m", 5, identifier=NUMBER, meta=meta(LATE), effectiveDateTime="2026-03-09T10:05:00-05:00")
    assert lengths(length("l", 4, identifier=NUMBER, meta=meta(EARLY)), later) == ["4 cm", "5 cm"]


def test_a_wound_in_two_versions_is_one_wound() -> None:
    old, new = wound("w", meta=meta(EARLY)), wound("w", state="resolved", meta=meta(LATE))
    history, _ = from_fhir([client(), old, new, length("l", 4, focus=[{"reference": "Condition/w"}])])
    assert [one["status"] for one in history.wounds] == ["closed"]


# -- one client in several resources -----------------------------------------------------------------

CARD = {"system": "urn:example:card", "value": "C-1"}


def inside(key: str = "c", **more: Json) -> Json:
    return {"resourceType": "Patient", "id": key, "birthDate": "1948-03", **more}


def contained(name: str, value: int, patient: Json) -> Json:
    return length(name, value, of={"reference": f"#{patient['id']}"}, contained=[patient])


def width(name: str, patient: Json) -> Json:
    return obs(name, "39125-0", valueQuantity=cm(3), of={"reference": f"#{patient['id']}"}, contained=[patient])


def test_a_client_contained_in_several_resources_is_one_by_the_number() -> None:
    one = inside(identifier=[CARD])
    history, _ = from_fhir(copy.deepcopy([contained("l", 4, one), width("w", one)]))
    assert history.patient == {"identifiers": [CARD], "born": "1948-03"}
    assert len(history.wounds) == 1
    again, _ = from_fhir(decode(encode(to_fhir(history))))
    assert again.data == history.data


def test_a_contained_client_is_the_patient_with_the_same_number() -> None:
    history, _ = from_fhir([client(identifier=[CARD]), contained("l", 4, inside(identifier=[CARD]))])
    assert history.patient["sex"] == "female"
    assert len(history.visits) == 1


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (inside(identifier=[CARD]), inside(identifier=[{**CARD, "value": "C-2"}])),
        (inside(identifier=[CARD]), inside(identifier=[CARD], gender="male") | {"birthDate": "1950"}),
        (inside(), inside()),
    ],
    ids=["two numbers", "a number, and another birth date", "no number"],
)
def test_contained_clients_are_not_joined_without_evidence(one: Json, other: Json) -> None:
    with pytest.raises(InputError, match="those of 2 clients"):
        from_fhir([contained("l", 4, one), width("w", other)])


def test_two_people_under_one_number_are_refused_with_the_evidence() -> None:
    came = [client("p", identifier=[CARD]), client("q", identifier=[CARD], birthDate="1960"), length("l", 4)]
    for read in (from_fhir, from_fhir_many):
        with pytest.raises(InputError, match="agree: identifier, sex; contradict: birth date; silent: name"):
            read(copy.deepcopy(came))


# -- nobody ------------------------------------------------------------------------------------------


def test_what_names_no_client_belongs_to_the_one_client() -> None:
    _, report = from_fhir([client(), wound("w"), length("l", 4, of=None)])
    assert "1 Observation: no client named; read as of the one client here" in report.inferred
    _, report = from_fhir([client(), wound("w"), length("l", 4)])
    assert not any("no client named" in line for line in report.inferred)


@pytest.mark.parametrize("patient", [{}, {"contact": {"name": "the care office"}}])
def test_a_client_of_whom_nothing_is_known_gets_no_patient(patient: Json) -> None:
    entry = {"wound": "W1", "assessment": {"length": "4 cm"}}
    visit = {"id": "V1", "at": "2026-03-02", "wounds": [entry]}
    history = History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": [visit]})
    made = to_fhir(history)
    assert all(one["resourceType"] != "Patient" for one in made)
    assert from_fhir(decode(encode(made)))[0].data == history.data
    taken = receive(encode(bundle(history, "document", at=EARLY)))
    assert taken.came.data == history.data
    assert [one.expected for one in taken.notices] == ["the Patient that the document is about: it names nobody"]


# -- requests ----------------------------------------------------------------------------------------


def test_a_delete_is_no_empty_entry() -> None:
    entries = [{"resource": one} for one in (client(identifier=[CARD]), wound("w", of=P))]
    gone = {"request": {"method": "DELETE", "url": "Condition/w"}}
    taken = receive(encode({"resourceType": "Bundle", "type": "batch", "entry": [*entries, gone]}))
    assert taken.came.wounds == []
    assert "withdrawn" in " ".join(taken.losses)


def test_one_patient_who_comes_twice_is_one_client() -> None:
    first, second = client(identifier=[CARD], meta=meta(EARLY)), client(identifier=[CARD], meta=meta(LATE))
    made = {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": one} for one in (first, second)]}
    assert receive(encode(made)).came.patient["identifiers"] == [CARD]


def test_a_version_in_a_reference_stays_where_a_client_is_named_by_address_too() -> None:
    base = "http://one.example.org/fhir"
    named = length("l", 4, of={"reference": f"{base}/Patient/p/_history/3"})
    entries = [
        {"fullUrl": f"{base}/{r['resourceType']}/{r['id']}", "resource": r} for r in (client(), wound("w"), named)
    ]
    history, _ = from_fhir([{"resourceType": "Bundle", "type": "collection", "entry": entries}])
    out = next(one for one in to_fhir(history) if one.get("id") == "l")
    assert out["subject"]["reference"].endswith("Patient/p/_history/3")


def test_a_contained_client_who_is_not_there_is_nobody_else() -> None:
    one = inside(identifier=[CARD])
    lost = length("w", 3, of={"reference": "#another"}, contained=[copy.deepcopy(one)])
    with pytest.raises(InputError, match="those of 2 clients"):
        from_fhir([contained("l", 4, one), lost])


@pytest.mark.parametrize("wrong", ["Patient/q", ["Patient/q"], [{"reference": "Patient/q"}], {"reference": 5}])
def test_a_subject_of_the_wrong_structure_is_read_of_nobody(wrong: Json) -> None:
    history, report = from_fhir([client(), wound("w"), {**length("l", 4), "subject": wrong}])
    assert history.visits == []
    assert any("its subject has not the structure of a Reference" in line for line in report.lines())


@pytest.mark.parametrize(("kind", "place"), [("Encounter", "V1"), ("Observation", "V1/W1/size")])
def test_what_another_author_takes_back_of_ours_is_named_when_it_comes_back(kind: str, place: str) -> None:
    """FHIR R4, Encounter.status and Observation.status: entered-in-error, of a visit or of a finding of it alone."""
    entry = {"wound": "W1", "assessment": {"length": "4 cm", "width": "2 cm", "odour": "none"}}
    visits = [{"id": "V1", "at": "2026-03-02T10:05:00-05:00", "status": "final", "wounds": [entry]}]
    patient = {"identifiers": [{"system": "urn:example:clinic", "value": "C-1"}]}
    history = History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": visits})
    stored = decode(encode(to_fhir(history)))
    assert not merge(history, from_fhir(stored)[0]).conflicts
    changed = [one for one in stored if one["resourceType"] == kind and one["identifier"][0]["value"] == place]
    assert len(changed) == 1
    changed[0]["status"] = "entered-in-error"
    came, losses = from_fhir(stored)
    assert losses.asks
    if kind == "Observation":
        assert merge(history, came).conflicts
