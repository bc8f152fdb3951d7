"""Files of resources, one a line: which of them are one input, what it is called, and whose bytes are kept.

HL7 FHIR Bulk Data Access: an export is a folder of NDJSON files, in which one names the Patients of another.
"""

from __future__ import annotations

import pytest

from tests.intake.foreign.inputs import client, length
from tests.intake.foreign.test_laws import encode
from tests.intake.two_clients import ref
from woundfhir.intake.together import Decoded, Together

ONE, OTHER, SEEN = client("1"), client("2", birthDate="1950"), length("1", 4, of=ref("Patient/1"))
NURSE = {"resourceType": "Practitioner", "id": "n", "name": [{"text": "Ann RN"}]}


def read(files: dict[str, list[dict[str, object]]]) -> dict[str, tuple[int, bool]]:
    """Return of each history how many visits it has, and whether the bytes of one file are kept with it."""
    together, bytes_of = Together(), {}
    for name, resources in files.items():
        bytes_of[name] = b"".join(encode(one) + b" \n" for one in resources)
        assert together.take(Decoded(name, "ndjson", resources, content=bytes_of[name]))
    found = [one for group in together.groups() for one in group]
    made = {one.name: (len(one.history.visits), one.content in bytes_of.values()) for one in found}
    assert len(made) == len(found)
    return made


def test_a_file_of_a_client_of_its_own_keeps_its_name_and_its_bytes() -> None:
    came = {"in/a.ndjson": [ONE], "in/b.ndjson": [OTHER], "x/c.ndjson": [ONE], "x/d.ndjson": [SEEN]}
    assert read(came) == {"in/a.ndjson": (0, True), "in/b.ndjson": (0, True), "x": (1, False)}


def test_what_is_lent_a_resource_of_everybodys_file_is_no_file_as_it_came() -> None:
    seen = {**SEEN, "performer": [ref("Practitioner/n")]}
    came = {"a.ndjson": [ONE, seen], "b.ndjson": [OTHER], "c.ndjson": [NURSE]}
    assert read(came) == {"a.ndjson": (1, False), "b.ndjson": (0, True)}


def test_files_of_one_group_beside_another_go_by_the_name_of_the_first() -> None:
    came = {"a.ndjson": [ONE], "b.ndjson": [OTHER], "c.ndjson": [SEEN], "d.ndjson": [{**SEEN, "id": "2"}]}
    assert read(came) == {"a.ndjson and 2 more": (1, False), "b.ndjson": (0, True)}


def test_what_is_everybodys_is_of_the_one_group_wherever_it_stands() -> None:
    """Two files with one content are no group of their own: each holds the client; of one client all is one input."""
    seen = {**SEEN, "performer": [ref("Practitioner/n")]}
    for came in ({"a.ndjson": [NURSE], "b.ndjson": [ONE, seen]}, {"a.ndjson": [ONE, seen], "b.ndjson": [NURSE]}):
        assert read(came) == {".": (1, False)}


@pytest.mark.parametrize("kind", ["Organization", "Practitioner"])
def test_what_is_no_client_is_none_whatever_its_id(kind: str) -> None:
    other = {"resourceType": kind, "id": "1", "name": "x", "basedOn": ref("Patient/2")}
    came = {"a.ndjson": [ONE], "b.ndjson": [OTHER], "c.ndjson": [SEEN], "d.ndjson": [other]}
    assert read(came) == {"a.ndjson and 1 more": (1, False), "b.ndjson and 1 more": (0, False)}


def test_what_no_group_is_lent_is_read_by_itself() -> None:
    came = {"a.ndjson": [ONE], "b.ndjson": [OTHER], "c.ndjson": [{"resourceType": "Basic", "id": "x"}]}
    assert read(came) == {"a.ndjson": (0, True), "b.ndjson": (0, True), "c.ndjson": (0, False)}
