"""What breaks R4 is found in every resource that came, and named by its place among them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.foreign.inputs import bundle, client
from woundfhir import InputError, validate

BAD, GOOD = client(birthDate="09/03/1948"), client("q")


@pytest.mark.parametrize(
    ("came", "paths"),
    [
        ([], []),
        (BAD, ["Patient.birthDate"]),
        ([BAD], ["Patient.birthDate"]),
        ([GOOD, BAD], ["[1].Patient.birthDate"]),
        ([BAD, GOOD], ["[0].Patient.birthDate"]),
        (bundle("collection", GOOD, BAD), ["Bundle.entry[1].resource.birthDate"]),
        ([GOOD, client("r")], []),
    ],
)
def test_each_resource_is_checked(came: Any, paths: list[str]) -> None:
    found = [one for one in validate(came) if one.severity == "error"]
    assert [one.path for one in found] == paths
    assert "1948" not in str(found)
    assert not paths or "09/03/1948" in str(validate(came, show_values=True))


@pytest.mark.parametrize("came", [{"woundfhir": 1}, [GOOD, {"id": "x"}], b'{"woundfhir": 1}', {"resourceType": 5}])
def test_what_is_no_fhir_is_refused(came: Any) -> None:
    with pytest.raises(InputError, match="A plain record is checked by"):
        validate(came)
