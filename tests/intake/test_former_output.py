"""What the toolkit wrote before is read to the same record today.

``tests/data/before_codes_2/`` was written before codes that others know stood beside ours, and while what belongs to an
answer still stood in Observations of its own; the records are invented.
"""

from __future__ import annotations

import gzip

import pytest

import woundfhir
from tests.paths import DATA
from woundfhir.intake.source import parse
from woundfhir.output import render

FOLDER = DATA / "before_codes_2"
WRITTEN = ("leg-and-sacrum.ndjson", "skin-tear.fhir.json")


@pytest.mark.parametrize("name", WRITTEN)
def test_what_was_written_before_is_read_to_the_same_record(name: str) -> None:
    record = woundfhir.read(FOLDER / f"{name.partition('.')[0]}.yaml").history
    found = parse(gzip.decompress((FOLDER / f"{name}.gz").read_bytes()), name).history
    assert found.data == record.data


@pytest.mark.parametrize("name", WRITTEN)
def test_it_goes_out_as_it_is_written_today(name: str) -> None:
    record = woundfhir.read(FOLDER / f"{name.partition('.')[0]}.yaml").history
    found = parse(gzip.decompress((FOLDER / f"{name}.gz").read_bytes()), name).history
    assert render(found, "ndjson") == render(record, "ndjson")
