"""A missing answer that came and was not understood is not called "not written"; the next hands see what came."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from woundfhir.cli import run
from woundfhir.fhir.unread import unread
from woundfhir.handover import bundle
from woundfhir.handover.sheet.page import sheet_html
from woundfhir.intake.source import parse

_ACTIVE = {"coding": [{"system": "http://terminology.hl7.org/CodeSystem/condition-clinical", "code": "active"}]}
_HOME = {"system": "http://terminology.hl7.org/CodeSystem/v3-ActCode", "code": "HH"}
SUBJECT = {"subject": {"reference": "Patient/p"}}


def observation(ident: str, code: Any, **more: Any) -> dict[str, Any]:
    made = {"resourceType": "Observation", "id": ident, "status": "final", "code": code, **SUBJECT}
    made |= {"encounter": {"reference": "Encounter/e"}, "focus": [{"reference": "Condition/c"}]}
    return {**made, "effectiveDateTime": "2026-03-04T10:00:00-05:00", **more}


def came(*observations: dict[str, Any]) -> bytes:
    """A history of a sender of our own invention: words and codes that no catalogue of ours knows."""
    resources = [
        {"resourceType": "Patient", "id": "p", "name": [{"family": "Example"}], "birthDate": "1950-01-01"},
        {"resourceType": "Condition", "id": "c", "clinicalStatus": _ACTIVE, "code": {"text": "burn"}, **SUBJECT},
        {
            "resourceType": "Encounter",
            "id": "e",
            "status": "finished",
            "class": _HOME,
            "period": {"start": "2026-03-04T10:00:00-05:00"},
            **SUBJECT,
        },
        observation("o0", {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]}, valueString="4 cm"),
        *observations,
    ]
    return json.dumps(
        {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": r} for r in resources]}
    ).encode()


SMELL = observation(
    "o1", {"coding": [{"system": "urn:x", "code": "77", "display": "Smell of wound"}]}, valueString="foul"
)
DRAIN = observation("o2", {"text": "Exudate (pad count)"}, valueQuantity={"value": 3, "unit": "pads"})
GRID = observation(
    "o3",
    {"text": "Bed grid"},
    component=[
        {"code": {"text": "pale"}, "valueQuantity": {"value": 10.50, "unit": "%"}},
        {"code": {"coding": [{"code": "zz"}]}, "valueBoolean": True},
    ],
    note=[{"text": "hard to see"}],
)
WRONG = observation("o4", {"text": "Odour at the door"}, valueString="rotten", status="entered-in-error")


def check(content: bytes, path: Path, capfd: Any) -> Any:
    path.write_bytes(content)
    run(["check", str(path), "--format", "json"])
    return json.loads(capfd.readouterr().out)["findings"]


def test_a_missing_answer_that_may_have_come_says_where_it_stands(tmp_path: Path, capfd: Any) -> None:
    found = check(came(SMELL, DRAIN, GRID), tmp_path / "b.json", capfd)
    said = {one["rule"]: one["message"] for one in found}
    assert said["GAP-assessment.odour"].startswith("Odour: came with the history, not understood: see extra[")
    assert said["GAP-assessment.exudate_amount"].startswith("Exudate amount: came with the history, not understood")
    assert said["GAP-assessment.periwound"].endswith("not written")
    (note,) = [one for one in found if one["rule"] == "FH05"]
    assert note["message"].startswith("3 things came with the history, not understood: see extra[")
    assert not any("foul" in one["message"] or "pads" in one["message"] for one in found)


def test_the_place_is_where_the_record_keeps_it() -> None:
    history = parse(came(SMELL), "b.json").history
    (one,) = unread(history)
    number = int(one.place.removeprefix("extra[").rstrip("]"))
    assert '"foul"' in history.extra[number]["value"]
    assert (one.words, one.value, one.visit, one.wound) == ("Smell of wound", "foul", "e", "c")


def test_what_was_withdrawn_is_not_among_it(tmp_path: Path, capfd: Any) -> None:
    found = check(came(WRONG), tmp_path / "b.json", capfd)
    assert unread(parse(came(WRONG), "b.json").history) == []
    assert {one["message"] for one in found if one["rule"] == "GAP-assessment.odour"} == {"Odour: not written"}
    page = sheet_html(parse(came(WRONG), "b.json").history).decode()
    assert "rotten" not in page


def test_a_meaning_that_something_unknown_may_turn_round_stands_without_its_value() -> None:
    odd = {**SMELL, "modifierExtension": [{"url": "urn:example:not-so", "valueBoolean": True}]}
    assert [one.value for one in unread(parse(came(odd), "b.json").history)] in ([], [""])


def test_the_next_hands_see_it_on_the_sheet_and_in_the_document() -> None:
    history = parse(came(SMELL, DRAIN, GRID), "b.json").history
    page = sheet_html(history).decode()
    document = bundle(history, "document")
    (kept,) = [one for one in document["entry"][0]["resource"]["section"] if one["title"] == "Kept as received"]
    for text in (page.split("Came with the history, not understood")[1], kept["text"]["div"]):
        for words in ("Smell of wound: foul", "3 pads", "pale: 10.5", "zz: yes", "hard to see", "2026-03-04"):
            assert words in text, words
    assert "not understood" not in sheet_html(parse(came(), "b.json").history).decode()


def test_ever_so_much_takes_no_more_than_its_room() -> None:
    many = [observation(f"m{n}", {"text": f"Matter {n}"}, valueString="x" * 200) for n in range(200)]
    text = sheet_html(parse(came(*many), "b.json").history).decode().split("not understood</h2>")[1]
    assert "more in the record" in text and len(text) < 9000


@pytest.mark.parametrize("value", ["{", "[]", "3", '{"resourceType": 3}', '{"resourceType": "Observation", "code": 3}'])
def test_whatever_stands_under_extra_breaks_nothing(value: str) -> None:
    from woundfhir.record import History

    kept = [{"from": "Observation/1", "why": "no place in the record", "value": value}]
    history = History.of({"woundfhir": 1, "patient": {}, "extra": kept})
    assert len(unread(history)) == ("code" in value)
    assert sheet_html(history)
