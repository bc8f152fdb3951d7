"""Whether two clients are one: graded evidence, the same from both sides, and never a join without an identifier."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.record.client_pairs import PAIRS, Pair
from woundfhir.errors import InputError
from woundfhir.handover.merge import merge
from woundfhir.record import History
from woundfhir.record.clients import REFERENCE, evidence, is_placeholder

CARD = {"system": "urn:example:card", "value": "4417"}
CLINIC = {"system": "urn:example:clinic", "value": "C-1"}


def client(*identifiers: dict[str, str], **more: Any) -> dict[str, Any]:
    return {"identifiers": list(identifiers), **more}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (client(CARD), client(CARD)),
        (client(CARD, CLINIC), client(CARD)),
        (client(CARD, born="1948"), client(CARD, born="1948-03-12")),
        (client(CARD, sex="F"), client(CARD, sex="female")),
        (client(CARD, sex="unknown"), client(CARD, sex="female")),
        (client(CARD, name={"text": "Ann Doe"}), client(CARD, name={"family": "DOE", "given": ["Ann", "Marie"]})),
        (
            client(CARD, name={"family": "Côté", "given": ["A."]}),
            client(CARD, name={"family": "Cote", "given": ["Ann"]}),
        ),
        (client({**CARD, "value": " 4417 "}), client(CARD)),
    ],
)
def test_an_identifier_that_agrees_and_nothing_against_it_joins(one: Any, other: Any) -> None:
    assert evidence(one, other).same
    assert evidence(other, one).same


@pytest.mark.parametrize(
    ("one", "other", "against"),
    [
        (client(CARD, born="1948-03"), client(CARD, born="1948-04-01"), ("birth date",)),
        (client(CARD, sex="male"), client(CARD, sex="F"), ("sex",)),
        (client(CARD, name={"family": "Doe"}), client(CARD, name={"family": "Roe"}), ("name",)),
        (
            client(CARD, name={"family": "Doe", "given": ["Ann"]}),
            client(CARD, name={"family": "Doe", "given": ["Bert"]}),
            ("name",),
        ),
        (client(CARD, CLINIC), client(CARD, {**CLINIC, "value": "C-2"}), ("identifier",)),
        (client(CARD, {**CARD, "value": "1"}), client(CARD, {**CARD, "value": "2"}), ("identifier",)),
    ],
)
def test_one_contradiction_is_enough_to_ask(one: Any, other: Any, against: tuple[str, ...]) -> None:
    found = evidence(one, other)
    assert not found.same
    assert found.contradict == against
    assert "identifier" in found.agree


@pytest.mark.parametrize(
    "identifier",
    [
        {"value": "4417"},
        {"system": "", "value": "4417"},
        {"system": "urn:example:card", "value": "0000"},
        {"system": "urn:example:card", "value": "N/A"},
        {"system": "urn:example:card", "value": "unknown"},
        {"system": "urn:example:card", "value": " "},
        {"system": "urn:example:card"},
        {"system": REFERENCE, "value": "Patient/111"},
    ],
)
def test_what_names_nobody_joins_nobody(identifier: dict[str, str]) -> None:
    known = client(identifier, born="1948-03-12", sex="female", name={"family": "Doe", "given": ["Ann"]})
    found = evidence(known, known)
    assert not found.same
    assert found.agree == ("birth date", "name", "sex")
    assert not found.contradict


def test_the_words_name_kinds_of_evidence_and_no_value() -> None:
    found = evidence(client(CARD, born="1948"), client(CARD, born="1950", name={"family": "Doe"}))
    assert found.words == "agree: identifier; contradict: birth date; silent: name, sex"


identifier = st.fixed_dictionaries(
    {}, optional={"system": st.sampled_from(["", "a", "b", "n/a"]), "value": st.sampled_from(["1", "2", "000", "x"])}
)
clients = st.fixed_dictionaries(
    {},
    optional={
        "identifiers": st.lists(identifier, max_size=3),
        "born": st.sampled_from(["1948", "1948-03", "1948-04-01", "unknown", ""]),
        "sex": st.sampled_from(["male", "F", "other", "unknown"]),
        "name": st.fixed_dictionaries(
            {},
            optional={
                "family": st.sampled_from(["Doe", "Roe", ""]),
                "given": st.lists(st.sampled_from(["Ann", "A", "Bert"]), max_size=2),
                "text": st.sampled_from(["Ann Doe", "unknown"]),
            },
        ),
    },
)


@given(clients, clients)
def test_the_order_of_the_two_changes_nothing_and_joining_needs_a_shared_identifier(one: Any, other: Any) -> None:
    found = evidence(one, other)
    assert found == evidence(other, one)
    assert set(found.agree) | set(found.silent) | set(found.contradict) == {"identifier", "birth date", "name", "sex"}
    if found.same:
        pairs = [{(i.get("system"), i.get("value")) for i in side.get("identifiers", ())} for side in (one, other)]
        assert any(s and v and not is_placeholder(s) and not is_placeholder(v) for s, v in pairs[0] & pairs[1])


@given(clients)
def test_a_client_never_contradicts_itself(one: Any) -> None:
    assert not evidence(one, one).contradict


GRADES = {"a": {"agree"}, "s": {"silent"}, "c": {"contradict"}, "ac": {"agree", "contradict"}}
KINDS = ("identifier", "birth date", "name", "sex")


@pytest.mark.parametrize("pair", PAIRS, ids=[pair.why for pair in PAIRS])
def test_grades(pair: Pair) -> None:
    for found in (evidence(pair.one, pair.other), evidence(pair.other, pair.one)):
        graded = {"agree": found.agree, "silent": found.silent, "contradict": found.contradict}
        expected = {kind: GRADES[grade] for kind, grade in zip(KINDS, pair.grades.split(), strict=True)}
        assert {kind: {g for g, kinds in graded.items() if kind in kinds} for kind in KINDS} == expected
        assert found.same is pair.same


def test_there_are_pairs_of_every_kind() -> None:
    assert len(PAIRS) >= 40
    assert {(place, grade) for pair in PAIRS for place, grade in enumerate(pair.grades.split())} >= {
        (place, grade) for place in range(4) for grade in "asc"
    }


@pytest.mark.parametrize("pair", PAIRS, ids=[pair.why for pair in PAIRS])
def test_merge_and_the_message_keep_to_the_grades(pair: Pair) -> None:
    known, came = (
        History.of({"woundfhir": 1, "patient": patient, "visits": [{"id": name}]})
        for patient, name in ((pair.one, "V1"), (pair.other, "V2"))
    )
    if pair.same:
        assert len(merge(known, came).history.visits) == 2
        return
    with pytest.raises(InputError, match="these may be two clients") as caught:
        merge(known, came)
    assert evidence(pair.one, pair.other).words in str(caught.value)
    for value in ("Doe", "Ann", "4417", "1948", "urn:example"):
        assert value not in str(caught.value)
