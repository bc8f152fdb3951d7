"""What is certainly earlier is found without a walk: the same notes as by asking each of them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from woundfhir.chart import EntryView, open_record
from woundfhir.record import History

times = st.one_of(
    st.none(),
    st.builds(
        lambda day, rest: f"2026-03-{day:02d}{rest}",
        st.integers(1, 9),
        st.sampled_from(["", "T10:00", "T10:00:00-05:00", "T23:30:00-05:00", "T02:00:00Z", "T18:00"]),
    ),
    st.sampled_from(["2026", "2026-03", "2026-02", "some day"]),
)
visits = st.lists(
    st.tuples(times, times, st.sampled_from(["final", "final", "draft"]), st.sampled_from(["2 cm", "0 cm", None])),
    max_size=12,
)


def sized(entry: EntryView) -> bool:
    return entry.has("assessment.length")


def record(notes: list[tuple[str | None, str | None, str, str | None]], zone: str | None) -> History:
    made = []
    for number, (at, written, status, length) in enumerate(notes):
        times = {key: text for key, text in (("at", at), ("written", written)) if text}
        size = {"length": length, "width": length} if length else {}
        made.append(
            {"id": f"V{number}", "status": status, **times, "wounds": [{"wound": "W1", "assessment": dict(size)}]}
        )
    return History.of({"woundfhir": 1, "zone": zone, "patient": {}, "wounds": [{"id": "W1"}], "visits": made})


@pytest.mark.property
@given(visits, st.sampled_from([None, "America/Toronto"]))
def test_it_finds_what_a_walk_finds(notes: list[tuple[str | None, str | None, str, str | None]], zone: str) -> None:
    for entry in open_record(record(notes, zone)).wounds[0].judged:
        before = entry.wound.entries[entry.episode_start : entry.nth]
        walked = [one for one in reversed(before) if sized(one) and one.before(entry)]
        assert list(entry.comparables(sized)) == walked
        assert entry.comparable(sized) is (walked[0] if walked else None)
        assert entry.oldest_comparable(sized) is (walked[-1] if walked else None)
