"""Named conditions: each holds where its words say so, and the catalogue names no other."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.samples import demo, entry, record, visit
from woundfhir.catalogue import catalogue
from woundfhir.chart.conditions import CONDITIONS, Condition, all_hold, holds
from woundfhir.chart.views import EntryView, RecordView
from woundfhir.checklist.policy import load
from woundfhir.record import History
from woundfhir.texts import TextError, tables

WOUND = {"id": "W1", "status": "open", "kind": "venous leg ulcer", "site": "lower leg"}


def views(history: History) -> RecordView:
    return RecordView(history, load("ontario"))


def one(wound: dict[str, Any] | None = None, visit_more: dict[str, Any] | None = None, **groups: Any) -> EntryView:
    made = record(visit(entry(**groups), **(visit_more or {})), wounds=[{**WOUND, **(wound or {})}])
    return views(made).visits[0].entries[0]


def test_the_catalogue_names_only_conditions_that_exist() -> None:
    named = {name for concept in catalogue().concepts(fields=True) for name in concept.when}
    assert named <= CONDITIONS.keys()


def test_every_condition_has_its_words_and_no_words_are_left_over() -> None:
    assert tables("woundfhir.chart").keys() == CONDITIONS.keys()
    for words in tables("woundfhir.chart").values():
        assert words.keys() == {"label", "says"} and all(words.values())
    with pytest.raises(TextError, match="'full moon' has no 'says'"):
        Condition("full moon", "any", bool).says()


def test_a_wound_that_opened_again_after_it_was_charted_as_closed_is_open() -> None:
    """Its status was written before anybody knew; the notes after the closing day count, those before do not change."""
    size = {"length": "3.0 cm", "width": "2.0 cm"}
    days = ("2026-02-02", "2026-02-20", "2026-03-20")
    notes = [size, {"healing_trend": "resolved"}, size]
    visits = [visit(entry(assessment=one), id=day, at=day) for day, one in zip(days, notes, strict=True)]
    wound = {**WOUND, "status": "closed", "closed": "2026-02-20"}
    first, closing, again = (view.entries[0] for view in views(record(*visits, wounds=[wound])).visits)
    assert [one.holds("open wound") for one in (first, closing, again)] == [True, False, True]
    assert not again.holds("closed wound")
    first, closing = (view.entries[0] for view in views(record(*visits[:2], wounds=[wound])).visits)
    assert [one.holds("open wound") for one in (first, closing)] == [True, False] and closing.holds("closed wound")


def test_an_unknown_name_is_an_error() -> None:
    with pytest.raises(KeyError):
        one().holds("full moon")


@pytest.mark.parametrize(
    ("name", "wound", "expected"),
    [
        ("pressure injury", {"kind": "bedsore"}, True),
        ("pressure injury", {"kind": "burn"}, False),
        ("pressure injury", {"kind": "a kind of our own"}, False),
        ("lower limb ulcer", {"kind": "VLU"}, True),
        ("venous ulcer", {"kind": "mixed leg ulcer"}, True),
        ("venous ulcer", {"kind": "arterial ulcer"}, False),
        ("arterial ulcer", {"kind": "mixed leg ulcer"}, True),
        ("diabetic foot", {"kind": "DFU"}, True),
        ("needs offloading", {"kind": "DFU"}, True),
        ("needs offloading", {"kind": "burn"}, False),
        ("skin tear", {"kind": "skin tear"}, True),
        ("burn", {"kind": "scald"}, True),
        ("surgical wound", {"kind": "wound dehiscence"}, True),
        ("malignant wound", {"kind": "fungating wound"}, True),
        ("sided", {"site": "heel"}, True),
        ("sided", {"site": "sacrum"}, False),
        ("sided", {"site": None}, False),
        ("closed wound", {"status": "closed"}, True),
        ("closed wound", {}, False),
    ],
)
def test_what_the_wound_is(name: str, wound: dict[str, Any], expected: bool) -> None:
    assert one(wound).holds(name) is expected


@pytest.mark.parametrize(
    ("name", "purposes", "groups", "expected"),
    [
        ("first assessment", ["admission"], {}, True),
        ("first assessment", [], {}, True),
        ("first assessment", ["dressing change"], {}, False),
        ("full assessment", ["weekly assessment"], {}, True),
        ("full assessment", ["first assessment"], {}, True),
        ("full assessment", ["dressing change"], {}, False),
        ("dressing change", ["dressing change"], {}, True),
        ("dressing change", ["advice"], {}, False),
        ("dressing change", ["advice"], {"care": {"cleansing": {"solution": "saline"}}}, True),
        ("dressing change", ["advice"], {"care": {"cleansing": "none"}}, False),
        ("assessed", ["phone call"], {}, False),
        ("assessed", ["phone call"], {"assessment": {"pain_at_rest": 3}}, True),
        ("assessed", ["dressing change"], {}, True),
        ("assessed", [], {}, True),
        ("assessed", ["phone call", "advice"], {}, False),
        ("assessed", ["phone call", "dressing change"], {}, True),
        ("transfer", ["hand-over"], {}, True),
        ("transfer", ["discharge"], {}, True),
        ("transfer", ["dressing change"], {}, False),
        ("visit", [], {}, True),
        ("always", [], {}, True),
    ],
)
def test_what_the_visit_was_for(name: str, purposes: list[str], groups: dict[str, Any], expected: bool) -> None:
    assert one(visit_more={"purpose": purposes}, **groups).holds(name) is expected


@pytest.mark.parametrize(
    ("planned", "at", "written", "purpose", "expected"),
    [
        ("2026-03-05", "2026-03-04", {}, "dressing change", True),
        (None, "2026-03-04", {}, "dressing change", True),
        ("2026-03-04", "2026-03-04", {}, "dressing change", False),  # due today
        ("2026-03-03", "2026-03-04", {}, "dressing change", False),  # overdue
        ("2026-03-05", None, {}, "dressing change", False),  # whether it was due cannot be said
        ("2026-03-05", "2026-03-04", {"care": {"cleansing": {"solution": "saline"}}}, "dressing change", False),
        ("2026-03-05", "2026-03-04", {"plan": {"purpose_here": ["dressing change"]}}, "dressing change", False),
        ("2026-03-05", "2026-03-04", {"assessment": {"odour": "none"}}, "dressing change", True),
        ("2026-03-05", "2026-03-04", {"assessment": {"odour": "none"}}, "full assessment", False),
        ("2026-03-05", "2026-03-04", {}, "advice", False),
    ],
)
def test_a_wound_that_was_not_due_is_left_covered_while_another_is_dressed(
    planned: str | None, at: str | None, written: dict[str, Any], purpose: str, expected: bool
) -> None:
    dressed = {"care": {"cleansing": {"solution": "saline"}}}
    before = entry(**dressed, plan={"next_change": planned} if planned else {})
    purposes = {"advice": ["advice"], "full assessment": ["full assessment", "dressing change"]}
    notes = [
        visit(before, {**entry(**dressed), "wound": "W2"}, id="V1", at="2026-03-02", purpose=["dressing change"]),
        visit(entry(**written), {**entry(**dressed), "wound": "W2"}, id="V2", at=at, written="2026-03-04",
              purpose=purposes.get(purpose, [purpose])),
    ]  # fmt: skip
    made = record(*notes, wounds=[WOUND, {**WOUND, "id": "W2"}])
    here, other = next(one for one in views(made).visits if one.id == "V2").entries
    assert here.holds("left covered") is expected and not other.holds("left covered")
    # A wound that was left under its dressing was neither looked at nor changed.
    looked_at = ("assessed", "dressing change", "full assessment", "first assessment")
    assert not (expected and any(here.holds(name) for name in looked_at)) and other.holds("assessed")


@pytest.mark.parametrize(
    ("groups", "more", "assessed"),
    [
        ({}, {}, True),
        ({"plan": {"refusal": [{"what": "all of it"}]}}, {}, False),
        ({"plan": {"refusal": [{"what": "all of it"}]}, "assessment": {"odour": "none"}}, {}, False),
        ({"care": {"response": {"tolerated": "refused"}}}, {}, False),
        # What was refused was the compression; the dressing was changed.
        ({"plan": {"refusal": [{"what": "compression"}]}, "care": {"cleansing": {"solution": "saline"}}}, {}, True),
        # Nobody of the team was there; what is charted all the same is asked about by SE45.
        ({"assessment": {"odour": "none"}}, {"purpose": ["phone call"], "setting": "telephone"}, False),
        ({"assessment": {"odour": "none"}}, {"purpose": ["phone call"], "setting": "home"}, True),
        ({}, {"purpose": ["dressing change"], "setting": "telephone"}, True),
    ],
)
def test_who_was_refused_or_telephoned_did_not_look(
    groups: dict[str, Any], more: dict[str, Any], assessed: bool
) -> None:
    """Common practice, no source."""
    seen = one(visit_more={"purpose": ["full assessment", "dressing change"], **more}, **groups)
    assert seen.holds("assessed") is assessed
    assert assessed or not seen.holds("dressing change")


@pytest.mark.parametrize(
    ("name", "assessment", "expected"),
    [
        ("exudate present", {"exudate_amount": "none"}, False),
        ("exudate present", {"exudate_amount": "small"}, True),
        ("exudate present", {}, False),
        ("size written", {"area": "4 cm2"}, True),
        ("size written", {"length": {"absent": "declined"}}, False),
        ("skin changed", {"periwound": ["macerated"]}, True),
        ("skin changed", {"periwound": ["induration"]}, True),
        ("skin changed", {"periwound": ["intact", "scar"]}, False),
        ("undermined or tunnelling", {"undermining": [{"depth": "1 cm"}]}, True),
        ("undermined or tunnelling", {"undermining": "none", "tunnels": "none"}, False),
        ("deep wound", {"pressure_injury_stage": "stage 3"}, True),
        ("deep wound", {"pressure_injury_stage": "stage 2"}, False),
        ("deep wound", {"burn_depth": "third degree"}, True),
        ("deep wound", {"depth": "12 mm"}, True),
        ("deep wound", {"depth": "1.0 cm"}, False),
        ("deep space", {"depth": "1.0 cm"}, False),
        ("deep space", {"depth": "1.1 cm"}, True),
        ("deep space", {"tunnels": [{"clock": 4, "depth": "0.8 cm"}]}, False),
        ("deep space", {"tunnels": [{"clock": 4, "depth": "2 cm"}]}, True),
        ("deep space", {"tunnels": [{"clock": 4}]}, True),
    ],
)
def test_what_was_seen(name: str, assessment: dict[str, Any], expected: bool) -> None:
    """Depth above 1 cm: BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing."""
    assert one(assessment=assessment).holds(name) is expected


@pytest.mark.parametrize(
    ("name", "wound", "groups", "expected"),
    [
        ("photo", {}, {"photos": [{"file": "a.jpg"}]}, True),
        ("photo", {}, {"care": {"photography": {"label": True}}}, True),
        ("photo", {}, {"care": {"photography": "none"}}, False),
        ("not closed", {"status": "entered in error"}, {}, False),
        ("not closed", {}, {"assessment": {"healing_trend": "resolved"}}, False),
        # Which of the two holds is asked by SE46.
        ("not closed", {}, {"assessment": {"healing_trend": "resolved", "length": "1 cm"}}, True),
        ("not closed", {}, {"assessment": {"healing_trend": "resolved", "depth": "0.2 cm"}}, True),
        ("not closed", {}, {"assessment": {"healing_trend": "resolved", "length": "0 cm", "width": "0 cm"}}, False),
        ("dressing laid on", {}, {}, True),  # nothing is written, so that it is asked for
        ("dressing laid on", {}, {"care": {"primary_dressing": "none"}}, False),
        ("dressing laid on", {}, {"care": {"primary_dressing": "none", "secondary_dressing": [{"size": "9"}]}}, True),
        ("infected or deep", {}, {"assessment": {"infection_signs": ["smell"]}}, True),
        ("infected or deep", {}, {"assessment": {"infection_signs": ["none"]}}, False),
        ("infected or deep", {}, {"assessment": {"infection_signs": ["none"], "depth": "1.1 cm"}}, True),
        ("deep wound", {"stage": "stage 4"}, {}, True),
        ("deep wound", {}, {"assessment": {"tunnels": [{"clock": 4}]}}, True),
        ("size written", {}, {"assessment": {"length": "0 cm"}}, False),
        ("lower limb ulcer", {"kind": "burn"}, {}, False),
        ("diabetic foot", {"kind": "venous leg ulcer"}, {}, False),
        ("surgical wound", {"kind": "burn"}, {}, False),
        ("malignant wound", {"kind": "burn"}, {}, False),
    ],
)  # fmt: skip
def test_what_a_note_says_of_the_wound(
    name: str, wound: dict[str, Any], groups: dict[str, Any], expected: bool
) -> None:
    """Common practice, no source."""
    assert one(wound, **groups).holds(name) is expected


@pytest.mark.parametrize(
    ("kind", "purpose", "fresh"),
    [
        ("laceration", "dressing change", [True, False]),
        ("burn", "first assessment", [True, False]),
        ("burn", "dressing change", [False, False]),
        ("venous leg ulcer", "first assessment", [False, False]),
    ],
)
def test_an_injury_is_fresh_at_its_first_note_alone(kind: str, purpose: str, fresh: list[bool]) -> None:
    """Common practice, no source: what happened is asked once."""
    made = views(record(visit(purpose=[purpose]), visit(purpose=[purpose]), wounds=[{**WOUND, "kind": kind}]))
    assert [note.entries[0].holds("fresh injury") for note in made.visits] == fresh


@pytest.mark.parametrize("purpose", ["first assessment", "full assessment", "dressing change"])
def test_nothing_is_asked_of_a_wound_that_the_client_kept_covered(purpose: str) -> None:
    """Refused, and nothing taken off or laid on: no part of the note can be missing."""
    more: dict[str, Any] = {"visit_more": {"purpose": [purpose]}}
    asked = ("first assessment", "full assessment", "dressing change")
    for said in ({"plan": {"refusal": [{"what": purpose}]}}, {"care": {"response": {"tolerated": "refused"}}}):
        kept = one(**more, **said)
        assert kept.holds("refused") and not any(kept.holds(name) for name in asked)
    dressed = one(**more, plan={"refusal": [{"what": purpose}]}, care={"cleansing": {"solution": "saline"}})
    assert not dressed.holds("refused") and dressed.holds(purpose)


def test_without_a_purpose_only_the_first_note_is_a_first_assessment() -> None:
    visits = [visit(entry(), id=day, at=day, purpose=None) for day in ("2026-03-02", "2026-03-04")]
    made = views(record(*visits, wounds=[WOUND]))
    assert [one.entries[0].holds("first assessment") for one in made.visits] == [True, False]


def test_a_wound_is_asked_for_the_purpose_of_the_newest_visit_of_the_record() -> None:
    """The record's last visit is the one at which it is handed over, be this wound among its wounds or not."""
    here = visit(entry(), id="V1", at="2026-03-02", purpose=["dressing change"])
    there = visit({**entry(), "wound": "W2"}, id="V2", at="2026-03-04", purpose=["discharge"])
    made = views(record(here, there, wounds=[WOUND, {**WOUND, "id": "W2"}]))
    assert [wound.holds("transfer") for wound in made.wounds] == [True, True]


def test_a_wound_is_open_until_the_day_it_closed() -> None:
    closing = [{**WOUND, "status": "closed", "closed": "2026-03-02"}]
    seen = views(record(visit(), visit(), visit(), wounds=closing)).wounds[0].judged
    assert [found.holds("open wound") for found in seen] == [True, False, False]


def test_a_closed_wound_without_a_day_was_open_at_all_notes_but_the_newest() -> None:
    seen = views(record(visit(), visit(), wounds=[{**WOUND, "status": "closed"}])).wounds[0].judged
    assert [found.holds("open wound") for found in seen] == [True, False]


@pytest.mark.parametrize("stage", ["stage 1", "deep tissue"])
def test_whole_skin_is_no_open_wound(stage: str) -> None:
    """Stage 1 and deep tissue injury are of intact skin (NPUAP 2016, Edsberg, as in the clinical notes)."""
    assert not one({"kind": "pressure injury"}, assessment={"pressure_injury_stage": stage}).holds("open wound")
    assert not one({"kind": "pressure injury", "stage": stage}).holds("open wound")


def test_a_discharge_with_closed_wounds_is_no_hand_over() -> None:
    closed = [{**WOUND, "status": "closed", "closed": "2026-02-01"}]
    assert not views(record(visit(purpose=["discharge"]), wounds=closed)).visits[0].holds("transfer")


def test_the_transfer_checklist_makes_the_newest_note_a_hand_over() -> None:
    seen = RecordView(record(visit(), visit()), load("ontario"), transfer=True)
    assert [found.holds("transfer") for found in seen.judged] == [False, True]
    assert seen.wounds[0].holds("transfer") and seen.holds("transfer") and seen.patient.holds("transfer")


def test_conditions_of_one_visit_hold_together_only_for_one_and_the_same_wound() -> None:
    wounds = [WOUND, {"id": "W2", "kind": "pressure injury", "site": "sacrum"}]
    there = visit(entry("W1", assessment={"length": "1 cm"}), entry("W2"))
    seen = views(record(there, wounds=wounds)).visits[0]
    assert holds(seen, "pressure injury") and holds(seen, "size written")
    assert not all_hold(seen, ("pressure injury", "size written"))
    assert all_hold(seen, ("venous ulcer", "size written"))
    here = seen.entries[0]
    assert all_hold(here, ()) and all_hold(here, ("venous ulcer", "size written", "open wound"))
    assert not all_hold(here, ("venous ulcer", "burn")) and not all_hold(here, ("burn", "venous ulcer"))


def test_every_condition_can_be_asked_of_every_view() -> None:
    seen = views(demo())
    every = [seen, seen.patient, *seen.wounds, *seen.visits, *(found for v in seen.visits for found in v.entries)]
    for view in every:
        assert all(isinstance(holds(view, name), bool) for name in CONDITIONS)
