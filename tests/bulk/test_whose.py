"""Whose a line is: what names a client in another way, and what names two."""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import Any

import pytest

from tests.bulk.clients import ODD, with_line
from woundfhir.bulk.grouping import Grouping
from woundfhir.bulk.lines import Files
from woundfhir.bulk.whose import NotPlain

Json = Any


@pytest.mark.parametrize("more", ODD.values(), ids=ODD)
def test_what_names_a_client_in_another_way_is_read_as_a_whole(
    said: Any, many: Path, tmp_path: Path, more: dict[str, Json]
) -> None:
    odd = {"resourceType": "Observation", "id": "odd", "status": "final", "code": {"text": "length"}, **more}
    with_line(many, 3, json.dumps(odd).encode())
    with Files([many]) as files, Grouping(files) as grouping, pytest.raises(NotPlain):
        grouping.read()
    whole = said("convert", many, "--to", "record-ndjson", "-o", tmp_path / "whole")
    streamed = said("convert", many, "--to", "record-ndjson", "-o", tmp_path / "streamed", "--workers", 2)
    assert streamed[0] == whole[0]
    assert (tmp_path / "streamed").read_bytes() == (tmp_path / "whole").read_bytes()


def test_everybody_is_given_to_each_client_who_names_them(tmp_path: Path) -> None:
    house = {"resourceType": "Organization", "id": "h", "name": "North Clinic (invented)"}
    person = {"resourceType": "PractitionerRole", "id": "r", "organization": {"reference": "Organization/h"}}
    seen = [
        {
            "resourceType": "Encounter",
            "id": f"e{n}",
            "status": "finished",
            "class": {"code": "HH"},
            "subject": {"reference": f"Patient/{n}"},
            "participant": [{"individual": {"reference": "PractitionerRole/r"}}],
        }
        for n in (1, 2)
    ]
    path = tmp_path / "a.ndjson"
    path.write_text("".join(json.dumps(one) + "\n" for one in (seen[0], house, person, seen[1])))
    with Files([path]) as files, Grouping(files) as grouping:
        grouping.read()
        ids = [{json.loads(line)["id"] for line in group.content.splitlines()} for group in grouping.groups()]
    assert ids == [{"e1", "h", "r"}, {"e2", "h", "r"}]


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_what_points_at_two_clients_brings_both_together_whatever_the_order(tmp_path: Path, order: tuple[int]) -> None:
    """Neither is given what may be the other's: whose it is, the reader decides who sees both."""
    seen = [{"resourceType": "Patient", "id": name} for name in "ab"]
    pointing = [
        {"resourceType": "Provenance", "id": "of-a", "target": [{"reference": "Patient/a"}]},
        {"resourceType": "Provenance", "id": "of-both", "target": [{"reference": f"{to}"} for to in _BOTH]},
        {"resourceType": "Provenance", "id": "of-b", "target": [{"reference": "Patient/b"}]},
    ]
    path = tmp_path / "a.ndjson"
    path.write_text("".join(json.dumps(one) + "\n" for one in (*seen, *(pointing[number] for number in order))))
    with Files([path]) as files, Grouping(files) as grouping:
        grouping.read()
        assert [len(group.places) for group in grouping.groups()] == [5]


_BOTH = ("Provenance/of-a", "Patient/b")


def _line(**resource: Any) -> bytes:
    return json.dumps(resource).encode() + b"\n"


def test_one_id_for_two_clients_is_the_conflict_that_it_is_as_a_whole(said: Any, tmp_path: Path) -> None:
    """Exports of two servers in one file: an id that stands twice says which value is whose to nobody."""
    size = {"status": "final", "code": {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]}}
    source = tmp_path / "two.ndjson"
    source.write_bytes(
        b"".join(
            _line(resourceType="Patient", id=name, identifier=[{"system": "urn:example:card", "value": name}])
            + _line(
                **{"resourceType": "Observation", "id": "o1", **size},
                subject={"reference": f"Patient/{name}"},
                effectiveDateTime="2026-03-02",
                valueQuantity={"value": value, "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"},
            )
            for name, value in (("a", 3), ("b", 9))
        )
    )
    whole, streamed = tmp_path / "whole.record.ndjson", tmp_path / "streamed.record.ndjson"
    assert said("convert", source, "-o", whole)[0] == said("convert", source, "--workers", "1", "-o", streamed)[0] == 1
    assert whole.read_bytes() == streamed.read_bytes()
