"""Small parts of the way in, each by what it promises: when, by whom, under which name, and what a report asks.

R4: effective[x], performed[x], occurrence[x] and period say when it was so, issued when it was made available;
performer is a Reference, or holds one as actor; author and recorder say who wrote it down.
"""

from __future__ import annotations

import re
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from tests.intake.foreign.inputs import client, cm, coded, length, obs, visit, wound
from tests.intake.two_clients import ref
from woundfhir import from_fhir, read_many
from woundfhir.catalogue import catalogue
from woundfhir.fhir.came import Came
from woundfhir.fhir.read_context import CONFLICT
from woundfhir.fhir.reasons import MISNAMED, MISSHAPEN
from woundfhir.fhir.terms import terms
from woundfhir.intake.belonging import Belonging
from woundfhir.intake.derived import _values
from woundfhir.intake.misshapen import set_aside
from woundfhir.intake.reading import _contest
from woundfhir.intake.unread import Unread
from woundfhir.intake.visits import performer, when

Json = Any
WRITTEN_AS = terms().written_as
DAY, NEXT, LAST = "2026-03-02", "2026-03-03", "2026-03-09"
SO = ("effectiveDateTime", "effectiveInstant", "performedDateTime", "occurrenceDateTime", "created", "date")
SPANS = ("effectivePeriod", "performedPeriod", "occurrencePeriod", "period")
N, M = ref("Practitioner/n"), ref("Practitioner/m")


@pytest.mark.parametrize("key", SO)
def test_a_time_says_when_it_was_so(key: str) -> None:
    assert when({key: DAY}, WRITTEN_AS) == DAY
    assert when({key: DAY, "period": {"start": NEXT}, "issued": LAST}, WRITTEN_AS) == DAY
    assert when({key: 5, "issued": LAST}, WRITTEN_AS) == LAST
    words = {"extension": [{"url": WRITTEN_AS, "valueString": "about noon"}]}
    assert when({f"_{key}": words}, WRITTEN_AS) == when({key: DAY, f"_{key}": words}, WRITTEN_AS) == "about noon"
    assert when({key: DAY, f"_{key}": {"id": "x"}}, WRITTEN_AS) == DAY


@pytest.mark.parametrize("key", SPANS)
def test_a_period_says_by_its_start_when_it_was_so(key: str) -> None:
    assert when({key: {"start": DAY, "end": LAST}, "issued": NEXT}, WRITTEN_AS) == DAY
    assert when({key: {"end": LAST}}, WRITTEN_AS) is None
    assert when({key: {"end": LAST}, "issued": NEXT}, WRITTEN_AS) == NEXT
    assert when({key: "odd", "issued": NEXT}, WRITTEN_AS) == NEXT


def test_what_says_no_time_has_none() -> None:
    assert when({}, WRITTEN_AS) is when({"issued": 5}, WRITTEN_AS) is None


@pytest.mark.parametrize(
    ("resource", "expected"),
    [
        ({"performer": [N, M], "author": M}, N),
        ({"performer": [{"actor": N, "function": {}}, {"actor": M}]}, N),
        ({"performer": [], "author": [N, M], "recorder": M}, N),
        ({"author": N, "recorder": M}, N),
        ({"recorder": N}, N),
    ],
)
def test_who_did_it_goes_before_who_wrote_it_down(resource: Json, expected: Json) -> None:
    assert performer(resource) == expected
    assert not performer({})


def test_a_name_that_is_taken_gets_a_number() -> None:
    assert Belonging.free("w", set()) == Belonging.free("w", {"w (2)", "x"}) == "w"
    assert Belonging.free("w", {"w"}) == "w (2)"
    assert Belonging.free("w", {"w", "w (2)"}) == "w (3)"
    assert Belonging.free("w", {"w", "w (3)"}) == "w (2)"


def test_of_what_two_versions_say_differently_neither_is_chosen() -> None:
    known = {"id": "w", "site": "heel", "side": "left", "status": "open"}
    _contest(known, {"id": "x", "site": "sacrum", "side": "left", "kind": "burn", "status": "closed"}, {"site", "side"})
    assert known == {"id": "w", "site": CONFLICT, "side": "left", "kind": "burn"}
    seen = {"id": "v", "at": "2026-03-02", "zone": "x"}
    _contest(seen, {"id": "w", "at": "2026-03-03", "zone": "y"}, set())
    assert seen == {"id": "v"}


def test_a_guess_names_what_is_called_so() -> None:
    """Of the answers and data elements with this label the first three; nothing for what has no label."""
    words = [word for one in catalogue().answers.values() for word in one.words]
    found = [Unread("urn:x", "1", one.word).guess for one in words]
    assert found[0].startswith("perhaps ") and f"answer:{words[0].key}" in found[0]
    assert {len(re.findall("(?:answer|concept):", one)) for one in found} >= {1, 2, 3}
    assert all(len(re.findall("(?:answer|concept):", one)) < 4 for one in found)
    assert Unread("urn:x", "1", "surely nothing is called so").guess == Unread("urn:x", "1").guess == ""


def course(**more: Json) -> Any:
    first = SimpleNamespace(length=4, width=3, area=12, area_digits=2)
    last = SimpleNamespace(**{"length": 3, "width": 2, "area": Decimal(6), "area_digits": 1, **more.pop("last", {})})
    made = {"stretch": [first, last], "since_first": None, "advance": None, **more}
    return SimpleNamespace(**made)


@pytest.mark.parametrize(
    ("more", "keys"),
    [
        ({"stretch": []}, []),
        ({}, ["computed_area_rectangle"]),
        ({"last": {"length": None}}, []),
        ({"last": {"width": None}}, []),
        ({"since_first": 50}, ["computed_area_rectangle", "computed_percent_area_change"]),
        ({"advance": 1, "last": {"width": None}}, ["computed_linear_healing"]),
        ({"since_first": 0, "advance": 0, "last": {"length": None}},
         ["computed_percent_area_change", "computed_linear_healing"]),
    ],
)  # fmt: skip
def test_what_is_computed_rests_on_what_was_measured(more: Json, keys: list[str]) -> None:
    found = course(**more)
    rows = list(_values(found))
    assert [row[0] for row in rows] == keys
    assert all(row[4] == ((found.stretch[-1],) if "area_rect" in row[0] else tuple(found.stretch)) for row in rows)


def test_what_has_values_of_another_kind_is_set_aside_and_a_sure_client_loses_the_element_alone() -> None:
    """R4: birthDate and name are no numbers, an id is a text; null is no value (R4, JSON)."""

    def after(one: Json) -> tuple[Json, Any, list[str]]:
        came = Came(one, one)
        set_aside([came])
        return came.view, came.reason, [name for name, _ in came.left]

    sure = {"resourceType": "Patient", "id": "p", "birthDate": "1948"}
    assert after(sure) == (sure, None, [])
    assert after({**sure, "gender": None, "name": [{"family": None, "text": "x"}]})[0] == {
        **sure,
        "name": [{"text": "x"}],
    }
    assert after({**sure, "name": 5}) == (sure, None, ["name"])
    bare = {"resourceType": "Patient", "id": "p"}
    for who in ("identifier", "link", "active", "deceasedBoolean", "deceasedDateTime", "implicitRules"):
        assert after({**sure, who: {"odd": 1}}) == (bare, MISSHAPEN, [])
    misnamed = Came({**sure, "id": 5, "name": 5}, {"resourceType": "Patient"}, reason=MISNAMED)  # as it was gathered
    set_aside([misnamed])
    assert (misnamed.view, misnamed.reason, misnamed.left) == ({"resourceType": "Patient"}, MISNAMED, [])
    for kind, wrong in (("Observation", "code"), ("Practitioner", "name")):
        assert after({"resourceType": kind, "id": "o", wrong: 5}) == ({"resourceType": kind, "id": "o"}, MISSHAPEN, [])


def test_a_report_asks_a_person_where_something_is_no_fact_or_is_not_all() -> None:
    one = {**length("l", 4), "focus": [ref("Condition/w")]}
    ordinary = [client(), wound("w"), one]
    odd = {**one, "id": "m", "code": coded("zz", system="urn:x")}
    for came, left, asks in (
        (ordinary, False, False),
        ([*ordinary, odd], True, False),
        ([*ordinary, {**one, "id": "m", "status": "entered-in-error"}], True, True),
        ([*ordinary, {**one, "id": "m", "valueQuantity": cm(5)}], True, True),
    ):
        (found,) = read_many(came)
        assert (found.left_aside, found.asks, bool(found.losses)) == (left, asks, asks)
    (record,) = read_many({"woundfhir": 1, "patient": {"born": "1948"}})
    assert (record.asks, record.left_aside, record.losses) == (False, False, [])


def test_the_place_of_a_visit_is_named_by_what_the_client_alone_says() -> None:
    """LOINC 8310-5 and 29463-7 are of the client, whatever wounds are there (R4, Observation.subject)."""
    pain = obs("pain", "72514-3", valueInteger=3)
    history, _ = from_fhir([client(), wound("w"), wound("x"), visit(), {**pain, "encounter": ref("Encounter/e")}])
    assert [one.get("wounds") for one in history.visits] == [None]
