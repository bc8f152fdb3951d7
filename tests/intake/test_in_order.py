"""What others wrote is read by when it was so, then by when it was written, whatever the order in which it came.

R4: effective, performed, occurrence, onset and period say when it was so; recorded, created, authored, date and issued
when it was written down.
"""

from __future__ import annotations

import itertools
from datetime import datetime
from typing import Any

import pytest

from woundfhir.fhir.came import Came
from woundfhir.intake.order import in_order, name_key, time_key

Json = Any
WAS_SO = (
    *("effectiveDateTime", "effectiveInstant", "effectivePeriod", "performedDateTime", "performedPeriod"),
    *("occurrenceDateTime", "occurrencePeriod", "onsetDateTime", "onsetPeriod", "period"),
)
WRITTEN = ("recordedDate", "created", "authored", "date", "issued")
EARLY, LATE = "2026-03-02T10:05:00-05:00", "2026-03-03T09:00:00Z"


def said(key: str, at: str) -> Json:
    return {key: {"start": at, "end": "2026-01-01"} if key.endswith("eriod") else at}


def ids(*resources: Json) -> list[str]:
    return [one.original["id"] for one in in_order([Came(one, one) for one in resources])]


@pytest.mark.parametrize(("so", "written"), [*itertools.product(WAS_SO, WRITTEN)])
def test_when_it_was_so_goes_before_when_it_was_written(so: str, written: str) -> None:
    first = {"resourceType": "X", "id": "z", **said(written, LATE), **said(so, EARLY)}
    second = {"resourceType": "X", "id": "a", **said(written, EARLY), **said(so, LATE)}
    assert ids(first, second) == ids(second, first) == ["z", "a"]
    alone = [{"resourceType": "X", "id": name, **said(written, at)} for name, at in (("z", EARLY), ("a", LATE))]
    assert ids(*alone) == ids(*alone[::-1]) == ["z", "a"]


def test_of_one_time_it_is_read_by_type_then_name_then_content_and_no_time_is_last() -> None:
    at = {"effectiveDateTime": EARLY}
    came = [
        {"resourceType": "Condition", "id": "w10", **at},
        {"resourceType": "Observation", "id": "l2", **at, "a": 1},
        {"resourceType": "Observation", "id": "l2", **at, "b": 1},
        {"resourceType": "Observation", "id": "l10", **at},
        {"resourceType": "Observation", **at},
        {"resourceType": "Condition", "id": "w1"},
        {"resourceType": "Condition", "id": "w2", "onsetDateTime": "about noon"},
    ]
    for some in itertools.islice(itertools.permutations(came), 0, None, 501):
        assert [one.original for one in in_order([Came(one, one) for one in some])] == came


TIMES = ["0001-01-01", "2026-03-02T10:00:00-05:00", "2026-03-02T15:30:00Z", "2026-03-02T12:00:00-05:00", "2026-04"]


def test_times_are_compared_as_points_in_time() -> None:
    """RFC 3339: an offset says how far local time lies from UTC."""
    assert all(time_key(one) < time_key(later) for one, later in itertools.pairwise(TIMES))
    assert time_key("9999-12-31T23:30:00-05:00") < time_key(None)
    assert time_key("") == time_key(None) == (1, datetime.max, "")


def test_names_are_compared_with_their_numbers_as_numbers() -> None:
    names = ["2", "10", "W2", "W2a", "W2b", "W010", "W10", "W10-2", "W10-11", "Wa"]
    assert all(name_key(one) < name_key(later) for one, later in itertools.pairwise(names))
    assert name_key("z") < name_key(None) == name_key(5)


def test_of_one_name_at_several_addresses_it_is_read_by_the_address() -> None:
    one = {"resourceType": "Observation", "id": "l", "effectiveDateTime": EARLY}
    places = [(None, {"z": 1}), ("http://a.example.org/l", {"y": 1}), ("http://b.example.org/l", {"x": 1})]
    for some in itertools.permutations(places):
        came = in_order([Came({**one, **more}, {}, url) for url, more in some])
        assert [each.full_url for each in came] == [url for url, _ in places]
