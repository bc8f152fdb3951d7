"""Patients that say that one replaces the other: a person must know, and nobody is joined.

R4, Patient.link.type: "replaces" is said by the one that stands, "replaced-by" by the one that must no longer be used;
"refer" and "seealso" replace nothing.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.foreign.inputs import client
from tests.intake.foreign.test_laws import decode, encode
from tests.intake.two_clients import ref
from woundfhir.intake.resources import from_fhir_many

Json = Any
REPLACES = "a Patient here says that it replaces another that came: they are two clients until a person joins them"
CIRCLE = "Patients here say that they replace each other: nothing says which of them holds"


def person(name: str, kind: str | None = None, other: str = "") -> Json:
    link = {"link": [{"type": kind, "other": ref(other)}]} if kind else {}
    return client(name, birthDate="1948" if name == "a" else "1950", **link)


@pytest.mark.parametrize(
    ("came", "notice"),
    [
        ([person("a", "replaces", "Patient/b"), person("b")], REPLACES),
        ([person("a"), person("b", "replaces", "Patient/a")], REPLACES),
        ([person("a"), person("b", "replaced-by", "Patient/a")], REPLACES),
        ([person("a", "replaces", "Patient/b"), person("b", "replaced-by", "Patient/a")], REPLACES),
        ([person("a", "replaces", "Patient/b"), person("b", "replaces", "Patient/a")], CIRCLE),
        ([person("a", "refer", "Patient/b"), person("b")], None),
        ([person("a", "seealso", "Patient/b"), person("b")], None),
        ([person("a", "seealso", "Patient/b"), person("b", "replaces", "Patient/c")], None),
        ([person("a", "replaces", "Patient/a"), person("b")], None),
        ([person("a"), person("b")], None),
    ],
)
def test_a_person_is_told_that_one_client_replaces_another(came: list[Json], notice: str | None) -> None:
    for given in (came, came[::-1], decode(encode(came))):
        said = [part.losses.notices for part in from_fhir_many(given)]
        assert len(said) == 2
        found = {one for some in said for one in some if one in (REPLACES, CIRCLE)}
        assert found == ({notice} if notice else set())
