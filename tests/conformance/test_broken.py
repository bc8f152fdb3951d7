"""Each profile of ours can refuse: what the demo writes, broken in one place, is refused for the stated reason.

Outside source: the HL7 validation engine (version in pom.xml), which judges by our package alone.
"""

from __future__ import annotations

from typing import Any

import pytest

from .allowed import refused
from .cases import patched, raw, says
from .engine import Engine
from .samples import story_bundles

Json = Any
_CASES = raw("broken_profiles")


@pytest.fixture(scope="module")
def written() -> dict[str, dict[str, Json]]:
    """The first resource of each profile that the stories write, by the profile's name."""
    found: dict[str, dict[str, Json]] = {}
    for made in story_bundles():
        for resource in (made, *(entry["resource"] for entry in made["entry"])):
            for profile in resource.get("meta", {}).get("profile", ()):  # resources of a transaction claim none
                found.setdefault(profile.rpartition("/")[2], resource)
    return found


@pytest.mark.parametrize("case", _CASES, ids=[case["name"] for case in _CASES])
def test_a_broken_resource_is_refused_for_its_reason(
    own_engine: Engine, written: dict[str, dict[str, Json]], case: dict[str, Json]
) -> None:
    found = own_engine.validate([patched(written[case["of"]], case["patch"])])
    assert says(case, found), [issue[1:] for issue in refused(found)]


def test_a_reference_to_the_wrong_profile_is_refused(own_engine: Engine) -> None:
    made = next(found for found in story_bundles() if found["type"] == "collection")
    urls = {entry["resource"]["meta"]["profile"][0].rpartition("/")[2]: entry["fullUrl"] for entry in made["entry"]}
    at = next(
        n for n, e in enumerate(made["entry"]) if e["resource"]["meta"]["profile"][0].endswith("/observation-size")
    )
    path = f"/entry/{at}/resource/focus/0/reference"
    broken = patched(made, [{"op": "set", "path": path, "value": urls["visit"]}])
    said = [issue.message for issue in refused(own_engine.validate([broken]))]
    assert any("Unable to find a match for profile" in text or "Invalid Resource target type" in text for text in said)
