"""How far a denial reaches in an answer in other words: phrases of charts, common practice, no source."""

from __future__ import annotations

import pytest

from woundfhir.catalogue import catalogue
from woundfhir.chart.words import held

THERE = {
    "exposed": (
        *("non viable bone exposed", "no pain bone visible", "not healing bone visible", "no slough bone exposed"),
        *("without debridement bone seen", "not granulating over bone", "no coverage over bone", "bone not covered"),
        *("no dressing over bone", "no granulation on bone", "bone no longer covered", "no change bone visible"),
    ),
    "infection_signs": (
        *("not on antibiotics for pus", "not responding fever continues", "no swab taken pus noted"),
        *("non-blanching redness spreading", "fever not coming down", "no relief from fever", "no abx, pus"),
    ),
}
NOT_THERE = {
    "exposed": (
        *("no bone or tendon visible", "does not probe to bone", "no visible or palpable bone", "bone not visible"),
        *("no bone, tendon or muscle seen", "no visible tendon/bone", "pas d'os visible", "aucun os exposé"),
    ),
    "infection_signs": (
        *("no s/s of infection", "denies fever, chills", "no purulent drainage", "no blood or pus", "no undue redness"),
        *("no heat, swelling or pus", "no c/o fever", "does not have fever", "no concerns for infection", "pas de pus"),
    ),
}


@pytest.mark.parametrize(("key", "text"), [(key, text) for key, texts in THERE.items() for text in texts])
def test_a_denial_of_something_else_denies_no_finding(key: str, text: str) -> None:
    assert held(catalogue().concept(f"assessment.{key}"), text)


@pytest.mark.parametrize(("key", "text"), [(key, text) for key, texts in NOT_THERE.items() for text in texts])
def test_a_denial_of_findings_is_heard(key: str, text: str) -> None:
    assert not held(catalogue().concept(f"assessment.{key}"), text)
