"""What is known of the blood flow at a visit is what a walk through the notes that count before it finds."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir.chart import EntryView, open_record
from woundfhir.chart.asking import Item
from woundfhir.checklist import check
from woundfhir.checklist.policy import load
from woundfhir.checklist.rules.blood_flow import MEASURED, BloodFlow, blood_flow
from woundfhir.checklist.rules.helpers import index_of
from woundfhir.measures.timing import bounds
from woundfhir.record import History, dates

BRACHIAL = {"brachial_left": "120 mmHg", "brachial_right": "110 mmHg"}
days = st.sampled_from(
    ["2026-03-01", "2026-03-04", "2026-03-20", "2026-02", "2025", "2026-03-05T10:00:00-05:00", "May"]
)
pressures = st.fixed_dictionaries(
    {},
    optional={
        "side": st.sampled_from(["left", "right", "both"]),
        "index": st.sampled_from(["0.9", "1.4", "not heard"]),
        "toe_pressure": st.just("60 mmHg"),
        "date": st.one_of(days, st.just({"absent": "unknown"})),
    },
)
notes = st.lists(
    st.tuples(st.sampled_from(["final", "final", "draft"]), st.lists(pressures, max_size=2), st.booleans()), max_size=8
)


def record(seen: list[tuple[str, list[dict[str, Any]], bool]], side: str | None) -> History:
    visits = [
        {
            "id": f"V{number}",
            **({"at": f"2026-03-{number + 1:02d}"} if dated else {}),
            "status": status,
            "wounds": [{"wound": "W1", "assessment": {"limb_pressure": items}}] if items else [{"wound": "W1"}],
        }
        for number, (status, items, dated) in enumerate(seen)
    ]
    wound = {"id": "W1", **({"side": side} if side else {})}
    return History.of({"woundfhir": 1, "patient": {}, "wounds": [wound], "visits": visits})


def walked(entry: EntryView) -> BloodFlow:
    earlier = [visit for visit in entry.record.counted if visit.rank < entry.visit.rank]
    items: list[Item] = [
        item
        for visit in [entry.visit, *reversed(earlier)]
        for other in visit.entries
        for item in reversed(other.items("assessment.limb_pressure"))
        if None in (side := item.word("side"), wound := entry.wound.word("wound.side"))
        or "both" in (side, wound)
        or side == wound
    ]
    items = [item for item in items if any(item.written(name) for name in MEASURED)]
    index = [(item, found) for item in items if (found := index_of(item)) is not None]
    texts = [text for item in items if isinstance(text := item.answer("date"), str) and dates.moment(text) is not None]
    past = [(bounds(text), text) for text in texts if entry.day is not None and bounds(text)[0] <= entry.day]
    others = ("toe_pressure", "toe_index", "waveform")
    toes = [(item, found) for item in items if (found := item.amount("toe_pressure", "mm[Hg]")) is not None]
    return BloodFlow(
        bool(items),
        any(item.written("date") for item in items),
        any(item.written(name) for item in items for name in others),
        index[0] if index else None,
        toes[0] if toes else None,
        taken=max(past)[1] if past else None,
        toe_pressure=next((item for item in items if item.has("toe_pressure")), None),
    )


@pytest.mark.property
@given(notes, st.sampled_from([None, "left", "right", "both"]))
def test_it_is_what_a_walk_finds(seen: list[tuple[str, list[dict[str, Any]], bool]], side: str | None) -> None:
    for entry in open_record(record(seen, side)).wounds[0].judged:
        found, expected = blood_flow(entry), walked(entry)
        apart = {"ankle": None, "toe": None, "toe_pressure": None}
        assert found._replace(**apart) == expected._replace(**apart)
        of = (found.toe_pressure, expected.toe_pressure)
        assert (of[0] and of[0].place) == (of[1] and of[1].place)
        for one, other in ((found.ankle, expected.ankle), (found.toe, expected.toe)):
            assert (one and (one[0].place, one[1])) == (other and (other[0].place, other[1]))


def test_a_date_that_lies_ahead_of_the_visit_is_not_its_last() -> None:
    seen = [
        ("final", [{"index": "0.9", "date": "2026-03-01"}, {"index": "0.9", "date": "2026-03-20"}], True),
        ("final", [], True),
    ]
    assert [blood_flow(entry).taken for entry in open_record(record(seen, None)).wounds[0].judged] == ["2026-03-01"] * 2


@pytest.mark.parametrize("order", [("01", "02", "03", "04"), ("04", "02", "01", "03")])
def test_of_many_dates_the_newest_is_the_last_however_they_stand(order: tuple[str, ...]) -> None:
    seen = [("final", [{"index": "0.9", "date": f"2026-02-{day}"}], True) for day in order]
    assert blood_flow(open_record(record(seen, None)).wounds[0].judged[-1]).taken == "2026-02-04"


@pytest.mark.parametrize(
    ("item", "index"),
    [
        ({"index": "0.9"}, "0.9"),
        ({"posterior_tibial": "108 mmHg", "dorsalis_pedis": "96 mmHg", **BRACHIAL}, "0.9"),
        ({"index": "0.7", "posterior_tibial": "108 mmHg", "dorsalis_pedis": "96 mmHg", **BRACHIAL}, "0.7"),
        ({"posterior_tibial": "108 mmHg"}, None),
    ],
)
def test_an_ankle_index_is_what_is_written_else_what_the_pressures_give(
    item: dict[str, str], index: str | None
) -> None:
    """The higher pressure at the ankle over the higher of both arms (108 / 120); arithmetic by hand."""
    ankle = blood_flow(open_record(record([("final", [item], True)], None)).wounds[0].judged[0]).ankle
    assert (None if ankle is None else ankle[1].value) == (None if index is None else Decimal(index))


@pytest.mark.parametrize(
    ("pressures", "source"),
    [
        ({"posterior_tibial": "50 mmHg"}, "limb_pressure.ankle_severe"),
        ({"toe_pressure": "20 mmHg"}, "limb_pressure.toe_severe"),
        ({"posterior_tibial": "50 mmHg", "toe_pressure": "20 mmHg"}, "limb_pressure.ankle_severe"),
    ],
)
def test_compression_on_a_limb_in_danger_cites_the_source_of_the_first_pressure_that_is_too_low(
    pressures: dict[str, str], source: str
) -> None:
    made = record([("final", [{"date": "2026-03-01", **pressures}], True)], "left")
    made.data["visits"][0]["wounds"][0]["care"] = {"compression": {"system": "multi-component system"}}
    (found,) = [one for one in check(made) if one.rule == "LL32"]
    assert found.source is not None and found.source.endswith(load("ontario").source(source))
