"""Several records as resources, one a line: written where each comes back as it was, and refused where not.

An NDJSON file has no envelope: a resource says itself whose it is, or nobody can tell (R4, Observation.subject).
"""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir import History, InputError, read_many
from woundfhir.intake.formats import FORMATS

NDJSON = FORMATS["ndjson"]


def record(number: str | None = None, **patient: Any) -> History:
    named = {"identifiers": [{"system": "urn:example:card", "value": number}]} if number else {}
    return History.of({"woundfhir": 1, "patient": {**named, **patient}, "wounds": [{"id": "W1"}]})


@pytest.mark.parametrize(
    "histories", [[record("1")], [record()], [record("1"), record("2")], [record(born="1948"), record(born="1950")]]
)
def test_records_that_say_whose_they_are_come_back_as_they_were(histories: list[History]) -> None:
    content = NDJSON.write_many(histories)
    assert content == b"".join(NDJSON.write(one) for one in histories)
    assert [one.history.data for one in read_many(content)] == [one.data for one in histories]


@pytest.mark.parametrize("histories", [[record(), record()], [record("1"), record("1", born="1948")]])
def test_records_that_would_not_come_back_are_refused(histories: list[History]) -> None:
    with pytest.raises(InputError, match="a format that keeps these clients apart"):
        NDJSON.write_many(histories)
