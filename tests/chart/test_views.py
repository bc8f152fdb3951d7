"""Views: what is written, none, absent and not written are four things; trends leave out what does not count."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from tests.checklist.samples import entry, record, visit
from woundfhir.chart.views import EntryView, RecordView, VisitView
from woundfhir.checklist.policy import load
from woundfhir.record import History


def views(history: History, **options: Any) -> RecordView:
    return RecordView(history, load("ontario"), **options)


def one(**groups: Any) -> EntryView:
    return views(record(visit(entry(**groups)))).visits[0].entries[0]


def test_the_states_of_an_answer_are_told_apart() -> None:
    seen = one(
        assessment={
            "odour": {"absent": "not assessed"},
            "exudate_amount": "nil",
            "edge": ["attached"],
            "exposed": ["none"],
            "undermining": "none",
            "tunnels": [{"clock": 4, "depth": "2 cm"}],
        }
    )
    table = {
        "odour": (True, "not assessed", False, False),
        "exudate_amount": (True, None, True, False),
        "edge": (True, None, False, True),
        "exposed": (True, None, True, False),
        "undermining": (True, None, True, False),
        "tunnels": (True, None, False, True),
        "shape": (False, None, False, False),
    }
    for key, expected in table.items():
        path = f"assessment.{key}"
        assert (seen.written(path), seen.absent(path), seen.none(path), seen.has(path)) == expected, key


def test_words_come_back_as_the_list_says_them_and_other_words_as_written() -> None:
    seen = one(
        assessment={
            "exudate_amount": "Scanty",
            "periwound": ["healthy", "sore to touch"],
            "tissue": {"sloughy": "60 %"},
        },
        care={"primary_dressing": [{"dressing": "honey"}, {"dressing": "our own pad"}, {"size": "10 x 10 cm"}]},
    )
    assert seen.word("assessment.exudate_amount") == "scant"
    assert seen.words("assessment.periwound") == ["intact", "sore to touch"]
    assert seen.words("assessment.tissue") == ["slough"]
    assert seen.words("care.primary_dressing") == ["honey dressing", "our own pad"]
    assert "honey" in seen.tags("care.primary_dressing")
    assert one(assessment={"periwound": ["redness", "macerated", "our word"]}).tags("assessment.periwound") == {
        *one(assessment={"periwound": ["erythema"]}).tags("assessment.periwound"),
        *one(assessment={"periwound": ["maceration"]}).tags("assessment.periwound"),
    }
    assert seen.items("care.primary_dressing")[1].tags("dressing") == frozenset()
    assert seen.word("assessment.shape") is None and seen.words("assessment.shape") == []
    for nothing in ({}, {"tissue": {"absent": "not assessed"}, "edge": {"absent": "not assessed"}}):
        blank = one(assessment=nothing)
        assert (
            blank.words("assessment.tissue") == blank.words("assessment.edge") == blank.named("assessment.tissue") == []
        )


def test_numbers_keep_their_unit_and_bare_numbers_are_not_guessed_at() -> None:
    seen = one(assessment={"length": "41.0 mm", "width": "4.10", "depth": "deep", "pain_at_rest": 3})
    assert seen.measure("assessment.length", "cm") == Decimal("4.10")
    assert seen.measure("assessment.width", "cm") is None and seen.number("assessment.width") == Decimal("4.10")
    assert seen.measure("assessment.depth", "cm") is None and seen.quantity("assessment.depth") is None
    assert seen.number("assessment.pain_at_rest") == 3
    assert seen.measure("assessment.length", "mL") is None
    length = seen.quantity("assessment.length")
    assert length is not None and (length.value, length.unit) == (Decimal("41.0"), "mm")


@pytest.mark.parametrize(("written", "flag"), [("yes", True), ("no", False), ("perhaps", None), (None, None)])
def test_yes_and_no_are_answers_and_other_words_are_neither(written: str | None, flag: bool | None) -> None:
    seen = one(assessment={} if written is None else {"probe_to_bone": written})
    assert seen.flag("assessment.probe_to_bone") is flag


def test_fields_of_a_step_and_items_of_a_list() -> None:
    seen = one(
        care={"cleansing": {"solution": "saline", "volume": "250 mL"}, "packing": [{"pieces_in": 2}, {"pieces_in": 1}]}
    )
    assert seen.word("care.cleansing.solution") == "normal saline"
    assert seen.measure("care.cleansing.volume", "mL") == 250
    assert [item.number("pieces_in") for item in seen.items("care.packing")] == [2, 1]
    assert seen.items("care.packing")[1].path("pieces_in") == "visits[0].wounds[0].care.packing[1].pieces_in"
    assert seen.items("care.cleansing")[0].path() == "visits[0].wounds[0].care.cleansing"
    nothing = one(assessment={"length": "4 cm"}, care={"packing": {"absent": "declined"}, "cleansing": "none"})
    paths = ("care.packing", "care.cleansing", "care.swab", "assessment.length")
    assert [nothing.items(path) for path in paths] == [[], [], [], []]
    with pytest.raises(KeyError, match="items"):
        seen.answer("care.packing.pieces_in")


@pytest.mark.parametrize("path", ["assessment.lenght", "nothing.at_all", "care.cleansing.colour", "assessment"])
def test_a_slip_in_a_path_is_an_error_and_never_not_written(path: str) -> None:
    with pytest.raises(KeyError):
        one().written(path)


def test_paths_name_the_place_in_the_record() -> None:
    seen = one()
    assert seen.path("assessment.length") == "visits[0].wounds[0].assessment.length"
    assert seen.path("client.consent") == "visits[0].client.consent"
    assert seen.path("visit.setting") == "visits[0].setting"
    assert seen.path("wound.kind") == "wounds[0].kind"
    assert seen.path() == "visits[0].wounds[0]"
    assert seen.visit.path("at") == "visits[0].at" and seen.wound.path() == "wounds[0]"


def test_an_entry_is_asked_for_its_visit_its_client_and_its_wound_too() -> None:
    seen = views(record(visit(entry(), setting="home", client={"diabetes": True}))).visits[0].entries[0]
    assert seen.word("visit.setting") == "home"
    assert seen.flag("client.diabetes") is True
    assert "venous" in seen.tags("wound.kind")


def history_of_statuses() -> History:
    return record(
        visit(id="late", at="2026-03-09"),
        visit(id="first", at="2026-03-01"),
        visit(id="draft", at="2026-03-05", status="draft"),
        visit(id="wrong", at="2026-03-04", status="entered in error"),
        visit(id="old", at="2026-03-03"),
        visit(id="new", at="2026-03-03", status="amended", replaces="old", replaces_reason="the side was wrong"),
    )


def test_notes_are_ordered_in_time_and_replaced_notes_and_errors_are_not_judged() -> None:
    seen = views(history_of_statuses())
    assert [found.id for found in seen.judged] == ["first", "new", "draft", "late"]
    assert [found.visit.id for found in seen.wounds[0].judged] == ["first", "new", "draft", "late"]
    assert len(seen.visits) == 6
    assert seen.newest is not None and seen.newest.id == "late"


def earlier(entry: EntryView) -> list[EntryView]:
    """The wound's entries that count before one, newest first."""
    return entry.wound.entries[: entry.nth][::-1]


def test_drafts_stay_out_of_trends() -> None:
    seen = views(history_of_statuses())
    wound = seen.wounds[0]
    assert [found.visit.id for found in wound.entries] == ["first", "new", "late"]
    before = {found.visit.id: found.previous.visit.id if found.previous else None for found in wound.judged}
    assert before == {"first": None, "new": "first", "draft": "new", "late": "new"}
    assert [found.visit.id for found in earlier(wound.judged[-1])] == ["new", "first"]
    assert {v.id: v.previous.id if v.previous else None for v in seen.judged} == before


def test_the_newest_note_is_the_newest_that_counts_else_the_newest_draft() -> None:
    days = {"a": "2026-03-02", "b": "2026-03-04", "c": "2026-03-06"}

    def newest(**statuses: str) -> str | None:
        notes = [visit(id=name, at=days[name], status=status) for name, status in statuses.items()]
        found = views(record(*notes)).newest
        return None if found is None else found.id

    assert newest(a="final", b="final", c="draft") == "b"
    assert newest(c="draft", a="draft", b="draft") == "c"
    assert newest(a="entered in error") is None


def test_a_note_that_a_draft_or_an_error_would_replace_still_counts() -> None:
    for status in ("draft", "entered in error"):
        seen = views(record(visit(id="old"), visit(id="new", status=status, replaces="old")))
        assert seen.visit_by_id["old"].counts


def test_a_note_without_time_is_never_the_newest_and_offsets_are_compared() -> None:
    seen = views(
        record(
            visit(id="b", at="2026-03-02T23:00:00-05:00"),
            visit(id="timeless", at=None),
            visit(id="c", at="2026-03-03T09:00:00Z"),
            visit(id="a", at="2026-03-02T10:00:00Z"),
            visit(id="unclear", at="last week", written="2026-03-01"),
        )
    )
    assert [found.id for found in seen.judged] == ["timeless", "unclear", "a", "b", "c"]


def test_the_day_judged_on_is_given_or_that_of_the_newest_note_and_never_the_clock() -> None:
    assert views(history_of_statuses()).today == date(2026, 3, 9)
    assert views(history_of_statuses(), today=date(2026, 4, 1)).today == date(2026, 4, 1)
    assert views(record(visit(at="2026-03"))).today is None


def test_the_client_is_asked_for_allergies_and_conditions() -> None:
    allergies = [{"to": "Bee venom", "status": "resolved"}, {"to": "medical HONEY"}, {"reaction": "rash"}]
    client = views(record(allergies=allergies, conditions=["Type 2 Diabetes"])).patient
    assert client.allergic_to("honey") == ["patient.allergies[1]"]
    assert client.has_condition("diabetes") == ["patient.conditions[0]"]
    nothing = views(record(allergies={"none": "known"}, conditions={"absent": "asked but unknown"})).patient
    assert nothing.says_absent("conditions") and nothing.allergic_to("honey") == []


def test_leaves_name_every_answer_with_its_place() -> None:
    seen = one(
        assessment={"length": "4 cm", "tunnels": [{"clock": 4}], "undermining": "none"},
        care={"cleansing": {"volume": "1 L"}},
        supplies=[{"item": "gauze", "quantity": 2}],
    )
    found = {leaf.path.removeprefix("visits[0].wounds[0]."): leaf.value for leaf in seen.leaves()}
    assert found == {
        "assessment.length": "4 cm",
        "assessment.undermining": "none",
        "assessment.tunnels[0].clock": "4",
        "care.cleansing.volume": "1 L",
        "supplies[0].item": "gauze",
        "supplies[0].quantity": "2",
    }


def test_an_answer_that_stands_is_one_of_an_earlier_note_that_counts() -> None:
    scale = {"assessment": {"exudate_scale": "PUSH"}}
    drafted = views(record(visit(), visit(entry(**scale), status="draft"), visit()))
    final = views(record(visit(), visit(entry(**scale)), visit()))
    path = "assessment.exudate_scale"
    assert [found.answered_before(path) for found in drafted.wounds[0].judged] == [False, False, False]
    assert [found.answered_before(path) for found in final.wounds[0].judged] == [False, False, True]


def measured(entry: EntryView) -> bool:
    return entry.has("assessment.length")


def with_note(visit_view: VisitView) -> bool:
    return "note" in visit_view.data


def test_the_newest_earlier_note_that_passes_is_that_of_looking_at_each() -> None:
    """``latest`` keeps what it looked at; it must say the same as a walk over ``earlier``, in any order of asking."""
    sizes = [None, "4 cm", None, None, "3 cm", None]
    visits = [
        visit(
            entry(assessment={"length": size} if size else {}),
            status="draft" if number == 4 else "final",
            note="x" if number in (1, 3) else None,
        )
        for number, size in enumerate(sizes)
    ]
    for order in (1, -1):
        seen = views(record(*visits)).wounds[0].judged
        for one in seen[::order]:
            assert one.latest(measured) is next((e for e in earlier(one) if measured(e)), None)
            before = (other.visit for other in earlier(one))
            assert one.visit.latest(with_note) is next((v for v in before if with_note(v)), None)


def test_released_views_are_freed_at_once() -> None:
    import gc
    import weakref

    gc.disable()
    try:
        seen = views(history_of_statuses())
        held = [weakref.ref(seen), weakref.ref(seen.wounds[0]), weakref.ref(seen.visits[0].entries[0])]
        seen.release()
        del seen
        assert [one() for one in held] == [None, None, None]
    finally:
        gc.enable()
