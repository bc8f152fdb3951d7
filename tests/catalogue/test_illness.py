"""An illness that the client has is never read as denied: words of charts, common practice, no source."""

from __future__ import annotations

import pytest

from woundfhir.catalogue.illness import names

#: A denial of something else, before or behind.
HAS = {
    "diabetes": (
        *("not well controlled diabetic", "non compliant diabetic", "non-insulin dependent diabetes"),
        *("non smoker diabetic", "never smoked diabetic", "diabetic with off-loading boot", "T2DM insulin stopped"),
        *("no insulin diabetic", "insulin no longer needed for diabetes", "completed diabetes teaching"),
        *("diabetes dx 2010, resolved foot ulcer", "not on insulin for his diabetes", "no fever diabetic"),
        *(
            "non-adherent to diabetic diet",
            "no CHF, diabetic",
            "diabetes without complications",
            "no diabetes education",
        ),
        *("no change in diabetes meds", "father died; pt diabetic", "wife does dressings T2DM", "not only diabetic"),
        *("diabétique non insulinodépendant", "diabète non contrôlé", "n'est pas suivi pour son diabète"),
    ),
    "blood thinner": (
        *("on warfarin off-loading boot", "warfarin not stopped", "warfarin, ASA stopped", "warfarin no INR done"),
        *("never misses warfarin", "not missing apixaban doses", "does not take apixaban with food"),
        *("ASA stopped and apixaban started", "switched off warfarin to apixaban", "warfarin - no bleeding"),
    ),
    "heart failure": ("CHF not decompensated", "CHF off diuretics", "no chest pain with CHF", "CHF - no oedema"),
}
#: A denial of the illness itself, or of the client's.
HAS_NOT = {
    "diabetes": (
        *("no diabetes", "not diabetic", "non-diabetic", "no known diabetes", "no hx of diabetes", "denies diabetes"),
        *("denies CHF, diabetes", "no CHF or diabetes", "no CHF, no DM", "neither CHF nor diabetes", "diabetes: no"),
        *("no history of CHF, DM or PVD", "diabetes ruled out", "mother had diabetes", "pas de diabète"),
        *("non diabétique", "n'est pas diabétique", "sans diabète"),
    ),
    "blood thinner": (
        *("no anticoagulants", "warfarin stopped in May", "not on warfarin", "apixaban discontinued 2024"),
        *("no longer on warfarin", "off warfarin since May", "pas d'anticoagulant"),
    ),
}


@pytest.mark.parametrize(("key", "text"), [(key, text) for key, texts in HAS.items() for text in texts])
def test_what_is_denied_beside_an_illness_does_not_deny_it(key: str, text: str) -> None:
    assert names(key, text)


@pytest.mark.parametrize(("key", "text"), [(key, text) for key, texts in HAS_NOT.items() for text in texts])
def test_what_denies_an_illness_is_heard(key: str, text: str) -> None:
    assert not names(key, text)
