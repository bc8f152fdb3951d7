"""The small questions that rules ask of a note: what is written, what is not known, what an earlier note says."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.checklist.samples import entry, record, visit
from woundfhir.chart.views import EntryView, RecordView
from woundfhir.checklist.policy import load
from woundfhir.checklist.rules import helpers

Json = Any
SIZE = {"length": "3 cm", "width": "2 cm"}


def notes(*entries: Json, **more: Json) -> list[EntryView]:
    made = [visit(one, **more) for one in entries]
    return RecordView(record(*made), load("ontario")).wounds[0].judged


@pytest.mark.parametrize(
    ("earlier", "later", "days"),
    [
        ("2026-02-28", "2026-03-02", 2),
        ("2026-03-02T23:30:00-05:00", "2026-03-03T00:30:00-05:00", 1),
        ("2026-02", "2026-03-02", None),
        ("2026-03-02", "2026-04", None),
    ],
)
def test_days_between_two_notes_are_those_of_the_calendar_where_both_are_known(
    earlier: str, later: str, days: int | None
) -> None:
    made = RecordView(record(visit(at=earlier), visit(at=later)), load("ontario"))
    one, other = (next(note for note in made.visits if note.at == at).entries[0] for at in (earlier, later))
    assert helpers.gap_days(one, other) == days


@pytest.mark.parametrize(
    ("assessment", "area", "measured", "sized"),
    [
        (SIZE, "6", True, True),
        ({"length": "3 cm"}, None, False, False),
        ({"width": "3 cm"}, None, False, False),
        ({"length": "3 cm", "area": "5 cm2"}, "5", True, True),
        ({**SIZE, "area": "5 cm2"}, "6", True, True),  # what the sides give comes first
        ({"length": "0 cm", "width": "2 cm"}, "0", True, True),
        ({"length": "3 cm", "width": "0 cm"}, "0", True, True),
        ({"length": "30 mm", "width": "2 cm"}, "6", True, True),
        ({"length": "large", "width": "2 cm"}, None, False, True),  # written, and not to be read
        ({}, None, False, False),
    ],
)
def test_the_size_of_a_note(assessment: Json, area: str | None, measured: bool, sized: bool) -> None:
    (seen,) = notes(entry(assessment=assessment))
    assert helpers.area(seen) == (None if area is None else Decimal(area))
    assert (helpers.measured(seen), helpers.sized(seen)) == (measured, sized)


def test_each_share_of_the_bed_is_read_and_one_that_cannot_be_is_not_known() -> None:
    tissue = {"granulation": "60 %", "slough": "<10 %", "eschar": "some", "our word": "5 %"}
    (seen,) = notes(entry(assessment={"tissue": tissue}))
    found = {word: share for word, _, share in helpers.tissues(seen)}
    assert found == {"granulation": 60, "slough": None, "eschar": None, "our word": 5}
    tags = {word: tags for word, tags, _ in helpers.tissues(seen)}
    assert "devitalised" in tags["slough"] & tags["eschar"] and not tags["our word"]
    for nothing in ({"tissue": {"absent": "not assessed"}}, {"tissue": "none"}, {}):
        assert list(helpers.tissues(notes(entry(assessment=nothing))[0])) == []


@pytest.mark.parametrize(
    ("care", "put", "out", "filled"),
    [
        ({"packing": [{"material": "gauze", "pieces_in": 2, "pieces_out": 1}]}, 2, 1, True),
        ({"packing": [{"pieces_in": 2}, {"pieces_in": 1, "pieces_out": 4}]}, 3, 4, True),
        ({"packing": [{"material": "gauze"}]}, None, None, True),
        ({"packing": [{"pieces_in": 0, "pieces_out": 1}]}, 0, 1, False),
        ({"packing": [{"pieces_out": 1}]}, None, 1, False),
        # A count under what came off holds where packing is named there, and none stands under packing.
        ({"removed": {"dressing": "packing strip", "pieces": 2}}, None, 2, False),
        ({"removed": {"dressing": "foam dressing", "pieces": 2}}, None, None, False),
        ({"packing": [{"pieces_out": 0}], "removed": {"dressing": "packing strip", "pieces": 2}}, None, 0, False),
        ({"packing": "none"}, None, None, False),
    ],
)
def test_pieces_of_packing_in_and_out(care: Json, put: int | None, out: int | None, filled: bool) -> None:
    (seen,) = notes(entry(care=care))
    assert (helpers.packed_in(seen), helpers.taken_out(seen), helpers.filled(seen)) == (put, out, filled)


@pytest.mark.parametrize(
    ("compression", "on"),
    [
        ({"system": "short stretch bandage"}, True),
        ({"system": "none"}, False),
        ({"system": {"absent": "unknown"}}, False),
        ({"system": {"absent": "unknown"}, "layers": 2}, True),
        ({"target_pressure": "40 mmHg"}, True),
        ("none", False),
        (None, False),
    ],
)
def test_compression_is_on_where_anything_but_none_is_charted_of_it(compression: Json, on: bool) -> None:
    (seen,) = notes(entry(care={} if compression is None else {"compression": compression}))
    assert (helpers.compressed(seen) is not None) is on


PRESSURES = {"dorsalis_pedis": "120 mmHg", "brachial_left": "125 mmHg", "toe_pressure": "50 mmHg"}


@pytest.mark.parametrize(
    ("one", "index", "toe"),
    [
        (PRESSURES, "0.96", "0.4"),  # 120/125 and 50/125
        ({**PRESSURES, "index": "0.9", "toe_index": "0.5"}, "0.9", "0.5"),  # as written
        ({**PRESSURES, "index": {"absent": "unknown"}}, "0.96", "0.4"),
        ({key: value for key, value in PRESSURES.items() if key != "brachial_left"}, None, None),
        ({"brachial_left": "125 mmHg"}, None, None),
        ({"brachial_left": "0 mmHg", "dorsalis_pedis": "120 mmHg", "toe_pressure": "50 mmHg"}, None, None),
    ],
)
def test_an_index_is_as_written_else_what_the_pressures_give(one: Json, index: str | None, toe: str | None) -> None:
    """The ankle pressure over the higher arm pressure (HEIW Wales); the toe pressure over the same."""
    (item,) = notes(entry(assessment={"limb_pressure": [one]}))[0].items("assessment.limb_pressure")
    for found, expected in ((helpers.index_of(item), index), (helpers.toe_index_of(item), toe)):
        assert (None if found is None else found.value) == (None if expected is None else Decimal(expected))


def test_what_an_earlier_note_of_the_episode_says() -> None:
    honey = {"primary_dressing": [{"dressing": "honey alginate"}]}
    closed = {"healing_trend": "resolved"}
    first, *_, opened, plain, laid, last = notes(
        entry(assessment=SIZE, care=honey),
        entry(assessment=closed),
        entry(assessment=SIZE),
        entry(assessment=SIZE),
        entry(care=honey),
        entry(care=honey),
    )
    assert [helpers.opened(one) for one in (first, opened, last)] == [first.visit, opened.visit, opened.visit]
    assert [helpers.honey_since(one) for one in (opened, plain, laid, last)] == [
        opened.visit,
        plain.visit,
        laid.visit,
        laid.visit,
    ]
    assert list(helpers.since(last)) == [last, laid, plain, opened]
    assert helpers.first_with(last, helpers.measured) is opened.visit
    assert helpers.first_with(last, lambda one: one.has("plan.goal")) is last.visit
    assert helpers.here_or_before(last, helpers.measured) and not helpers.here_or_before(laid, helpers.filled)
    assert helpers.last_change(first) is None and helpers.last_change(last) is laid


def test_a_draft_that_begins_an_episode_is_its_own_first_note() -> None:
    (draft,) = notes(entry(assessment=SIZE), status="draft")
    assert helpers.opened(draft) is helpers.honey_since(draft) is draft.visit
    assert helpers.first_with(draft, helpers.measured) is draft.visit and list(helpers.since(draft)) == [draft]


@pytest.mark.parametrize(
    ("client", "conditions", "kind", "diabetic"),
    [
        ([{}, {}], None, "burn", False),
        ([{}, {"diabetes": True}], None, "burn", True),
        ([{"diabetes": True}, {}], None, "burn", True),
        ([{"diabetes": True}, {"diabetes": False}], None, "burn", False),  # the newest that says
        ([{}, {}], ["diabetes mellitus type 2"], "burn", True),
        ([{}, {"diabetes": False}], ["diabetes mellitus type 2"], "burn", False),
        ([{}, {}], None, "diabetic foot ulcer", True),
    ],
)
def test_whether_the_client_has_diabetes(client: Json, conditions: Json, kind: str, diabetic: bool) -> None:
    more = {} if conditions is None else {"conditions": conditions}
    wounds = [{"id": "W1", "status": "open", "kind": kind}]
    made = record(*(visit(client=one) for one in client), wounds=wounds, **more)
    assert helpers.diabetic(RecordView(made, load("ontario")).visits[1].entries[0]) is diabetic


@pytest.mark.parametrize(
    ("written", "level"),
    [("none", 0), ("scant", 1), ("small", 2), ("moderate", 3), ("large", 4), ("loads", None), (None, None)],
)
def test_an_amount_of_exudate_is_one_of_five_steps(written: str | None, level: int | None) -> None:
    (seen,) = notes(entry(assessment={} if written is None else {"exudate_amount": written}))
    assert helpers.exudate_level(seen) == level
