"""One client out of many: whoever is named is found, and nobody else; a doubt is refused without an identifier."""

from __future__ import annotations

import json

import pytest

import woundfhir
from woundfhir.errors import InputError
from woundfhir.intake.choosing import chosen, one_client
from woundfhir.intake.inputs import Input
from woundfhir.intake.unread import unread

CARD = "urn:example:card"


def clients(*numbers: str) -> list[Input]:
    lines = [
        {
            "woundfhir": 1,
            "patient": {"identifiers": [{"system": CARD, "value": number}]},
            "wounds": [{"id": f"W{place}"}],
        }
        for place, number in enumerate(numbers, 1)
    ]
    return list(woundfhir.read_many("\n".join(map(json.dumps, lines)).encode()))


@pytest.mark.parametrize(
    ("wanted", "wound"),
    [("2", "W2"), ("#2", "W2"), (" 3 ", "W3"), ("A-417", "W2"), (f"{CARD}|A-417", "W2"), ("#1", "W1"), ("9", "W3")],
)
def test_a_client_is_named_by_place_or_identifier(wanted: str, wound: str) -> None:
    assert [one.history.wounds[0]["id"] for one in chosen(clients("B-1", "A-417", "9"), wanted)] == [wound]


@pytest.mark.parametrize("wanted", ["A-4", "urn:example:other|A-417", CARD, "#0", "#4", "0", "4", "", "a-417x"])
def test_what_names_nobody_is_refused(wanted: str) -> None:
    with pytest.raises(InputError, match="of the 3 clients here, none fits") as caught:
        chosen(clients("B-1", "A-417", "9"), wanted)
    assert "A-417" not in str(caught.value)


def test_a_number_that_is_the_place_of_one_and_the_identifier_of_another_is_refused() -> None:
    with pytest.raises(InputError, match="the number of one client and an identifier of another"):
        chosen(clients("2", "B", "C"), "2")


@pytest.mark.parametrize("each", [None, False, True])
def test_one_of_many_must_be_named_and_a_folder_is_offered_only_where_it_can_be_had(each: bool | None) -> None:
    with pytest.raises(InputError, match="the records of 2 clients or files are here") as caught:
        one_client(clients("A", "B"), None, **({} if each is None else {"each": each}))
    assert ("a folder with -o" in str(caught.value)) == bool(each)


def test_of_nobody_there_is_none() -> None:
    with pytest.raises(InputError, match="the records of 0 clients or files are here"):
        one_client([], None)


def test_codes_that_were_not_read_stand_by_how_often_they_came() -> None:
    odd = [("x1", 1), ("x2", 3), ("x3", 2)]
    seen = [
        {"resourceType": "Observation", "id": f"{code}-{n}", "status": "final", "valueString": "odd",
         "subject": {"reference": "Patient/p"}, "code": {"coding": [{"system": "urn:example:codes", "code": code}]}}
        for code, times in odd for n in range(times)
    ]  # fmt: skip
    _, losses = woundfhir.from_fhir([{"resourceType": "Patient", "id": "p"}, *seen])
    assert [(one.code, one.count) for one in unread([losses])] == [("x2", 3), ("x3", 2), ("x1", 1)]
