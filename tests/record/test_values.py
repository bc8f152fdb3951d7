"""Values as Python programs, database drivers, numpy and pandas hold them: in a record, and in FHIR."""

from __future__ import annotations

import json
from collections import OrderedDict
from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal
from enum import Enum
from types import MappingProxyType
from typing import Any
from uuid import UUID

import pytest

import woundfhir
from woundfhir.errors import InputError
from woundfhir.record.values import plain

np = pytest.importorskip("numpy")  # comes with scipy, an outside library of the tests


class Side(Enum):
    LEFT = "left"


class NAType:
    """Like the NA of pandas: it does not say whether it equals anything."""

    def __ne__(self, other: object) -> Any:
        return self

    def __bool__(self) -> bool:
        raise TypeError("boolean value of NA is ambiguous")


class NaTType(datetime):
    """Like the NaT of pandas: a datetime that equals nothing."""

    def __ne__(self, other: object) -> bool:
        return True

    def __eq__(self, other: object) -> bool:
        return False

    __hash__ = datetime.__hash__


TORONTO = timezone(timedelta(hours=-5))
#: A value -> what it means, as the text of a record.
MEANS: list[tuple[Any, Any]] = [
    (4.2, "4.2"),
    (4.0, "4.0"),
    (0.1 + 0.2, "0.30000000000000004"),
    (1e22, "10000000000000000000000"),
    (4, "4"),
    (True, "yes"),
    (Decimal("4.10"), "4.10"),
    (Decimal("NaN"), None),
    (float("nan"), None),
    (None, None),
    (date(2026, 3, 2), "2026-03-02"),
    (datetime(2026, 3, 2, 10, 5, tzinfo=TORONTO), "2026-03-02T10:05:00-05:00"),
    (datetime(2026, 3, 2, 10, 5, tzinfo=UTC), "2026-03-02T10:05:00+00:00"),
    (time(10, 5), "10:05:00"),
    (UUID("2e6d6d5e-6666-59c1-9e19-50cf8d02d579"), "2e6d6d5e-6666-59c1-9e19-50cf8d02d579"),
    (Side.LEFT, "left"),
    (NAType(), None),
    (NaTType(2026, 1, 1), None),
    (np.float64(4.2), "4.2"),
    (np.float32(4.2), "4.2"),
    (np.float16(4.2), "4.2"),
    (np.float64("nan"), None),
    (np.float32("nan"), None),
    (np.int64(4), "4"),
    (np.uint8(4), "4"),
    (np.bool_(True), "yes"),
    (np.str_("4.10 cm"), "4.10 cm"),
    (np.datetime64("2026-03-02"), "2026-03-02"),
    (np.datetime64("2026-03-02T10:05:00.500000000"), "2026-03-02T10:05:00.5"),
    (np.datetime64("2026-03-02T10:05:00.000000000"), "2026-03-02T10:05:00"),
    (np.datetime64("NaT"), None),
    (np.array(4.2, dtype="float32"), "4.2"),
]


def in_a_note(value: Any) -> Any:
    visit = {"id": "V1", "wounds": [{"wound": "W1", "assessment": {"length": value}}]}
    history = woundfhir.History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})
    return history.visits[0].get("wounds", [{}])[0].get("assessment", {}).get("length")


@pytest.mark.parametrize(("value", "text"), MEANS, ids=lambda one: type(one).__name__)
def test_a_value_means_what_it_means(value: Any, text: str | None) -> None:
    assert in_a_note(value) == text


def test_boxes_of_other_kinds() -> None:
    boxes = OrderedDict(a=(1, 2), b=MappingProxyType({"c": np.array([4.2, np.nan]), 3: [np.float32(0.1)]}))
    assert plain(boxes) == {"a": [1, 2], "b": {"c": [Decimal("4.2"), None], "3": [Decimal("0.1")]}}


@pytest.mark.parametrize("value", [b"x", {1}, object(), 1j, np.complex64(1), np.bytes_(b"x"), range, Ellipsis])
def test_what_means_nothing_is_refused_with_its_place(value: Any) -> None:
    with pytest.raises(InputError, match=r"^record, visits\[0\]\.wounds\[0\]\.assessment\.length: a value is of type "):
        in_a_note(value)


@pytest.mark.parametrize("value", [4.2, 0.3, 12.75, 1.1, 100.0])
def test_the_floats_of_an_ordinary_json_decoder_are_read_in_their_shortest_form(value: float) -> None:
    """json.loads of the standard library makes floats; the text that it read is the shortest form (IEEE 754)."""
    entry = {"wound": "W1", "assessment": {"length": f"{value} cm"}}
    note = {"woundfhir": 1, "wounds": [{"id": "W1"}], "visits": [{"id": "V1", "wounds": [entry]}], "patient": {}}
    sent = woundfhir.to_fhir(woundfhir.History.of(note))
    text = woundfhir.dumps(woundfhir.History.of(note), format="ndjson")
    assert f'"value":{value},"unit":"cm"' in text
    for came in (sent, [json.loads(line) for line in text.splitlines()]):
        found, report = woundfhir.from_fhir(came)
        assert found.visits[0]["wounds"][0]["assessment"]["length"] == f"{value} cm"
        assert not report.items
