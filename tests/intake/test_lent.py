"""Files of a folder that hold and name no Patient: each resource goes to whom names it, or whose facts it names.

R4: a Practitioner is named by what it did; a Provenance names its targets.
"""

from __future__ import annotations

from typing import Any

from tests.intake.two_clients import ref
from woundfhir.intake.lent import Lent

Json = Any


def one(kind: str, name: str, *named: str) -> Json:
    return {"resourceType": kind, "id": name, "about": [ref(to) for to in named]}


GROUPS = [
    [one("Observation", "a", "Practitioner/n", "Organization/z")],
    [one("Observation", "b", "Practitioner/n", "PractitionerRole/r")],
]
EVERYBODYS = [
    one("Practitioner", "n", "Organization/o"),
    one("PractitionerRole", "r"),
    one("Organization", "o"),
    one("Provenance", "of-a", "Observation/a", "Practitioner/none"),
    one("Provenance", "of-b", "Observation/b"),
    one("Provenance", "of-both", "Observation/a", "Observation/b"),
    one("Provenance", "of-none", "Observation/c"),
    one("AuditEvent", "of-that", "Provenance/of-a"),
    one("Location", "l"),
]


def shared(folders: list[int], *more: list[Json]) -> tuple[list[set[str]], set[str]]:
    """Return what each of the two groups is lent, and what none is."""
    files = [*GROUPS, EVERYBODYS, *more]
    numbers = [0, 1, *(-3 for _ in files[2:])]
    lent = Lent([lambda found=found: found for found in files], numbers, folders)
    left = {item["id"] for _, resources in lent.left() for item in resources}
    return [{item["id"] for _, _, item in lent.of_group(number)} for number in (0, 1)], left


def test_each_goes_to_whom_it_is_about() -> None:
    groups, left = shared([0, 0, 0])
    assert groups == [{"n", "o", "of-a", "of-that"}, {"n", "o", "r", "of-b"}]
    assert left == {"of-both", "of-none", "l"}


def test_a_name_in_another_folder_or_in_two_files_is_nobodys() -> None:
    """An id is a name within one export."""
    groups, left = shared([0, 1, 0])
    assert groups == [{"n", "o", "of-a", "of-that", "of-both"}, set()]
    assert left == {"r", "of-b", "of-none", "l"}
    groups, left = shared([0, 0, 0, 0], [one("Practitioner", "n")])
    assert groups == [{"of-a", "of-that"}, {"r", "of-b"}]
    assert "n" in left and "o" in left
