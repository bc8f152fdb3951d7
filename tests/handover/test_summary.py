"""The facts of a hand-over: out of the invented story, out of notes with gaps, out of any record.

Outside checks: percentage area change by hand; the transfer list by its published recommendation (RNAO 4.1,
through ``tests/data/checklist.tsv``, rows XFR-*).
"""

from __future__ import annotations

import csv
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings

from tests.paths import DATA
from tests.strategies import records
from woundfhir.chart import open_record
from woundfhir.demo import story
from woundfhir.handover.summary.client import Summary, summary
from woundfhir.handover.summary.packing import Packing, packing
from woundfhir.handover.summary.questions import missing, questions
from woundfhir.intake.source import parse
from woundfhir.record import History


@pytest.fixture(scope="module")
def summed() -> Summary:
    return summary(parse(story(), "story").history)


def history(*visits: dict[str, Any], **wound: Any) -> History:
    return History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1", **wound}], "visits": list(visits)})


def seen(at: str, status: str = "final", *, id_: str = "", replaces: str = "", **entry: Any) -> dict[str, Any]:
    made: dict[str, Any] = {"id": id_ or at, "at": at, "status": status, "wounds": [{"wound": "W1", **entry}]}
    return {**made, "replaces": replaces} if replaces else made


def sized(length: str, width: str = "2.0 cm", method: str = "ruler") -> dict[str, Any]:
    return {"assessment": {"length": length, "width": width, "measure_method": method, "measure_axis": "head to toe"}}


def test_the_story(summed: Summary) -> None:
    leg, sacrum = summed.wounds
    assert (leg.id, leg.size and leg.size.text) == ("W1", "3.0 cm x 2.2 cm, depth 0.1 cm")
    # By hand: 5.2 x 4.0 = 20.80 cm2 at first, 3.0 x 2.2 = 6.60 cm2 now; (6.60 - 20.80) / 20.80 = -68.27 per cent.
    assert leg.since_first is not None and leg.since_first.percent is not None
    assert round(leg.since_first.percent, 2) == Decimal("-68.27")
    # 3.5 x 2.6 = 9.10 cm2 at the visit before.
    assert leg.since_last is not None and leg.since_last.text == "27 % smaller"
    pressure = leg.facts["assessment.limb_pressure"][0]
    assert pressure.at == "2026-02-27" and pressure.text.startswith("0.98")
    assert sacrum.stage is not None and sacrum.stage.text == "stage 3"
    assert summed.author == "Nurse One (invented), RN, Invented Community Nursing"
    assert summed.allergies[0].matters and "blisters" in summed.allergies[0].text


def test_the_recipe_and_the_plan_are_those_of_the_newest_note(summed: Summary) -> None:
    visit = parse(story(), "story").history.visits[-1]
    for wound, entry in zip(summed.wounds, visit["wounds"], strict=True):
        assert wound.recipe is not None and wound.next_change is not None
        # In the order of the hand: clean, protect, fill, cover, hold, compress (common practice, no source).
        order = ["cleansing", "periwound_protection", "packing", "primary_dressing", "secondary_dressing", "securement"]
        assert [step.key for step in wound.recipe.steps] == [k for k in (*order, "compression") if k in entry["care"]]
        assert wound.next_change.text == entry["plan"]["next_change"]
        assert wound.recipe.at == wound.last_change == wound.seen == visit["at"]


def test_packing_of_the_story_is_not_certain_since_the_note_with_gaps(summed: Summary) -> None:
    inside = summed.wounds[1].packing
    assert not inside.certain
    assert "2026-03-18: pieces taken out not written" in inside.gaps
    assert any("W2: pieces of packing inside" in gap for gap in missing(summed))


def test_ten_questions_cover_the_published_transfer_list(summed: Summary) -> None:
    with (DATA / "checklist.tsv").open(encoding="utf-8") as lines:
        rules = {row["rule_id"] for row in csv.DictReader(lines, delimiter="\t")}
    published = {rule for rule in rules if rule.startswith("XFR-")}
    assert len(questions(summed)) == 10
    # XFR-MINIMUM is about what is left out: see gather.
    assert {rule for question in questions(summed) for rule in question.rules} == published - {"XFR-MINIMUM"}


@pytest.mark.parametrize("status", ["draft", "entered in error"])
def test_notes_that_do_not_count(status: str) -> None:
    found = summary(history(seen("2026-03-01", **sized("4.0 cm")), seen("2026-03-05", status, **sized("1.0 cm"))))
    assert found.wounds[0].size is not None and found.wounds[0].size.text == "4.0 cm x 2.0 cm"
    assert found.left_out == 1


def test_a_replaced_note_gives_way_and_a_draft_replaces_nothing() -> None:
    wrong = seen("2026-03-05", id_="a", **sized("9.9 cm"))
    right = seen("2026-03-05", "amended", id_="b", replaces="a", **sized("3.0 cm"))
    found = summary(history(seen("2026-03-01", **sized("4.0 cm")), wrong, right)).wounds[0]
    assert found.size is not None and found.size.text == "3.0 cm x 2.0 cm"
    assert found.since_first is not None and found.since_first.percent == Decimal(-25)
    draft = summary(history(wrong, {**right, "status": "draft"})).wounds[0]
    assert draft.size is not None and draft.size.text == "9.9 cm x 2.0 cm"


def test_another_method_gives_no_number() -> None:
    found = summary(
        history(seen("2026-03-01", **sized("4.0 cm")), seen("2026-03-08", **sized("3.0 cm", method="digital photo")))
    ).wounds[0]
    assert found.since_first is not None and found.since_first.percent is None
    assert found.since_first.text == "method changed"


def test_visits_are_put_in_time_order_and_a_note_without_time_is_never_the_newest() -> None:
    undated = {"id": "x", "status": "final", "wounds": [{"wound": "W1", **sized("9.0 cm")}]}
    late, early = seen("2026-03-08T23:30:00-05:00", **sized("3.0 cm")), seen("2026-03-08T10:00:00Z", **sized("4.0 cm"))
    found = summary(history(late, early, undated)).wounds[0]
    assert found.size is not None and found.size.text == "3.0 cm x 2.0 cm"


def test_an_old_plan_is_no_longer_due() -> None:
    care = {"primary_dressing": [{"dressing": "foam dressing"}]}
    first = seen("2026-03-01", care=care, plan={"next_change": "2026-03-03"})
    assert summary(history(first)).wounds[0].next_change is not None
    late = summary(history(first, seen("2026-03-03", care=care)))
    assert late.wounds[0].next_change is None
    assert any("next change due" in gap for gap in missing(late))


PACK = {"material": "packing strip", "location": "tunnel at 4"}


@pytest.mark.parametrize(
    ("changes", "count"),
    [
        ([], "not known: no packing written"),
        ([[{**PACK, "pieces_in": "1"}]], "1 piece"),
        ([[{**PACK, "pieces_in": "2"}], [{"pieces_in": "0", "pieces_out": "2"}]], "0 pieces"),
        ([[{**PACK, "pieces_in": "2"}], [{**PACK, "pieces_in": "1"}]], "not known: 1 to 3"),
        ([[{**PACK, "pieces_in": "1"}], [{"pieces_out": "1"}]], "not known: 0 or more"),
        ([[{**PACK, "pieces_in": "1"}], "none"], "not known: 0 or 1"),
        (["none"], "0 pieces"),
        ([[{**PACK, "pieces_in": "many"}]], "not known: 0 or more"),
        ([[{**PACK, "pieces_in": "1", "pieces_out": "3"}]], "1 piece"),
        ([[{**PACK, "pieces_in": "3"}], [{"pieces_out": "2", "pieces_in": "0"}]], "1 piece"),
    ],
)
def test_packing_is_counted_over_the_visits(changes: list[Any], count: str) -> None:
    assert inside(*({"packing": change} for change in changes)).count == count


def inside(*cares: dict[str, Any]) -> Packing:
    notes = [seen(f"2026-03-0{day}", care=care) for day, care in enumerate(cares, 1)]
    return packing(open_record(history(*notes)).wounds[0].entries)


def test_a_change_that_does_not_speak_of_packing_leaves_it_open() -> None:
    found = inside({"packing": [{**PACK, "pieces_in": "1"}]}, {"primary_dressing": [{"dressing": "foam dressing"}]})
    assert found == Packing(
        0, 1, "tunnel at 4", "packing strip", "2026-03-01", "2026-03-01", ("2026-03-02: packing not written",)
    )


def test_an_empty_record_answers_nothing_and_says_so() -> None:
    found = summary(History.of({"woundfhir": 1, "patient": {}}))
    assert found.wounds == () and found.at is None
    assert {question.key for question in questions(found) if question.missing} >= {
        "next",
        "allergies",
        "risk",
        "people",
    }


@settings(max_examples=60)
@given(records(most_visits=3))
def test_any_record_has_a_summary(raw: dict[str, Any]) -> None:
    record = History.of(raw)
    found = summary(record)
    counting = [wound["id"] for wound in record.wounds if wound.get("status") != "entered in error"]
    assert [wound.id for wound in found.wounds] == counting
    for wound in found.wounds:
        inside = wound.packing
        assert inside.least is None or (inside.least >= 0 and (inside.most is None or inside.least <= inside.most))
    assert len(questions(found)) == 10
