"""The same fact in other words gives the same questions; a denied, past or family fact gives those of "none".

Phrases as nurses write them (common practice, no source), each beside the answer of the list that it means. They were
written before the code that reads them. WD01 and WD02 may ask for a word of the list beside: they take nothing away.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.casebook import findings, record
from woundfhir.catalogue import catalogue
from woundfhir.handover.summary.client import summary
from woundfhir.handover.texts import say
from woundfhir.record import History

#: field, base, the answer, phrases that say the same.
SAME: list[tuple[str, str, str, tuple[str, ...]]] = [
    (
        "assessment.exposed",
        "full",
        "none",
        (
            "no bone or tendon visible",
            "no bone, tendon or muscle seen",
            "bone not visible",
            "tendon not exposed",
            "nil exposed",
            "no longer bone",
            "pas d'os ni de tendon visible",
            "os non visible",
        ),
    ),
    (
        "assessment.exposed",
        "full",
        "bone",
        (
            "?bone",
            "possible bone",
            "Bone visible",
            "no tendon but bone visible",
            "not just fat, bone too",
            "no doubt bone",
            "no change, bone still visible",
            "no change - bone still visible",
            "no bone last week, bone seen today",
            "bone palpable, not visible",
        ),
    ),
    (
        "assessment.bleeding",
        "full",
        "none",
        ("no active bleeding", "not bleeding", "nil active bleeding", "pas de saignement", "aucun saignement actif"),
    ),
    (
        "assessment.bleeding",
        "full",
        "active",
        ("bleeding", "actively bleeding", "ooze", "no change, still oozing", "saigne encore", "Active Bleeding"),
    ),
    (
        "assessment.bleeding",
        "full",
        "heavy",
        ("bleeding heavily", "bleeding not controlled", "would not stop bleeding", "saigne abondamment"),
    ),
    ("assessment.bleeding", "full", "spots", ("minimal bleeding", "slight bleeding on removal", "spotting")),
    (
        "assessment.infection_signs",
        "full",
        "none",
        (
            "not infected",
            "no s/sx of infection",
            "no overt signs of infection",
            "no fever or chills",
            "denies fever, chills",
            "afebrile",
            "no redness, no warmth",
            "cellulitis resolved",
            "hx of cellulitis, resolved",
            "pas de rougeur ni de chaleur",
        ),
    ),
    (
        "assessment.infection_signs",
        "full",
        "infection suspected",
        ("?infection", "query infection", "infected", "looks infected", "r/o infection", "plaie infectée"),
    ),
    (
        "assessment.infection_signs",
        "full",
        "pus",
        ("pus++", "green pus", "not improving, pus", "no better, pus", "no change, pus as before", "no fever but pus"),
    ),
    (
        "assessment.infection_signs",
        "full",
        "redness and swelling spreading",
        ("cellulitis to mid calf", "cellulitis not resolved", "no improvement in cellulitis", "cellulite"),
    ),
    ("assessment.burn_depth", "burn", "full thickness", ("full thickness in the centre", "3e degré au centre")),
    ("assessment.periwound", "full", "fragile", ("very fragile skin", "peau très fragile")),
    (
        "client.systemic_signs",
        "full",
        "fever",
        ("fever not resolved", "fever has not gone", "denies chills, fever 38.9", "fait de la fièvre", "temp 38.9"),
    ),
    ("client.systemic_signs", "full", "none", ("denies fever or chills", "feels well", "nie fièvre ou frissons")),
    (
        "assessment.red_flags",
        "leg",
        "none",
        ("no s/s DVT", "DVT ruled out", "denies rest pain, no DVT", "hx of DVT, resolved"),
    ),
    (
        "assessment.red_flags",
        "leg",
        "suspected deep vein thrombosis",
        ("r/o DVT", "?DVT", "DVT not ruled out", "cannot rule out DVT"),
    ),
    ("assessment.pulses", "leg", "not found", ("no pedal pulses", "pulseless", "unable to locate", "pouls absents")),
    ("assessment.pulses", "leg", "not felt", ("no palpable pulses", "could not feel", "pedal pulses not palpable")),
    ("assessment.exudate_amount", "full", "large", ("mod to large", "large amt", "moderate-large", "grande qté")),
    ("assessment.exudate_type", "full", "purulent", ("thick yellow pus", "serosanguineous to purulent")),
    ("assessment.odour", "full", "offensive", ("very offensive", "foul after cleansing", "odeur nauséabonde")),
    ("assessment.odour", "full", "none", ("no foul odour", "pas d'odeur")),
    (
        "assessment.probe_to_bone",
        "foot",
        "yes",
        ("PTB+", "+", "Positive", "yes, at 3 o'clock", "contact osseux positif"),
    ),
    ("assessment.probe_to_bone", "foot", "no", ("PTB neg", "negative", "does not probe to bone", "no - not reached")),
]
#: What asks for a word of the list, or for "yes" or "no" without more.
_OF_WORDS = {"WD01", "WD02", "SE19"}
#: What says more than the answer: a bone that is felt is asked about as one that a probe reaches.
_MORE = {"bone palpable, not visible": {("SF06", "visits[0].wounds[0].assessment.exposed")}}


def _laid(field: str, answer: str) -> dict[str, Any]:
    group, key = field.split(".")
    concept = catalogue().concept(field)
    return {group: {key: [answer] if concept.shape == "choices" else answer}}


def _asked(base: str, change: dict[str, Any]) -> set[tuple[str, str]]:
    return {(one.rule, one.path) for one in findings({"base": base, **change}) if one.rule not in _OF_WORDS}


def _on_the_sheet(base: str, change: dict[str, Any]) -> list[str]:
    """The hazards in the box on the sheet's first page that answers name, not free words alone."""
    shown = summary(History.of(record({"base": base, **change}))).attention
    return [one.hazard.key for one in shown if any(fact.label != say("attention.in_words") for fact in one.facts)]


PHRASES = [(field, base, answer, phrase) for field, base, answer, phrases in SAME for phrase in phrases]


@pytest.mark.parametrize(("field", "base", "answer", "phrase"), PHRASES, ids=[f"{p[0]}: {p[3]}" for p in PHRASES])
def test_other_words_for_the_same_ask_the_same(field: str, base: str, answer: str, phrase: str) -> None:
    assert _asked(base, _laid(field, phrase)) == _asked(base, _laid(field, answer)) | _MORE.get(phrase, set())
    assert _on_the_sheet(base, _laid(field, phrase)) == _on_the_sheet(base, _laid(field, answer))


def test_one_sign_denied_beside_another_denies_only_itself() -> None:
    with_pus = _asked("full", {"assessment": {"infection_signs": ["pus"]}})
    assert _asked("full", {"assessment": {"infection_signs": ["no fever or chills", "pus"]}}) == with_pus


#: illness, a base in which one rule depends on it, that rule, who has it, who has not.
HEALTH: list[tuple[str, str, tuple[str, ...], tuple[str, ...]]] = [
    (
        "honey",
        "DR12",
        ("T2DM", "NIDDM", "Type II Diabetic", "hx of diabetes", "diabétique", "diabete type 2"),
        ("not diabetic", "no diabetes", "mother diabetic", "diabetes in her father", "FHx of DM", "prediabetes"),
    ),
    (
        "leg",
        "LL11",
        ("CHF", "congestive heart failure", "insuffisance cardiaque", "history of heart failure"),
        ("no CHF", "father had heart failure", "denies heart failure"),
    ),
    ("leg", "LL32", ("fem-pop 2019", "bypass left leg", "pontage"), ("coronary artery bypass", "no bypass")),
    ("negative", "NP03", ("osteo", "r/o osteomyelitis"), ("AV fistula left arm", "osteomyelitis ruled out")),
]
HAS = [(base, rule, text) for base, rule, those, _ in HEALTH for text in those]
HAS_NOT = [(base, rule, text) for base, rule, _, those in HEALTH for text in those]


def _rules(base: str, change: dict[str, Any]) -> set[str]:
    return {one.rule for one in findings({"base": base, **change})}


@pytest.mark.parametrize(("base", "rule", "text"), HAS)
def test_an_illness_is_heard_wherever_it_is_written(base: str, rule: str, text: str) -> None:
    assert rule in _rules(base, {"patient": {"conditions": [text]}})
    assert rule in _rules(base, {"client": {"history": text}})
    # Words of a later note about other things do not take it back.
    earlier = {"visit": {"at": "2026-03-02T10:00:00-05:00"}, "client": {"history": text}}
    assert rule in _rules(base, {"before": [earlier], "client": {"history": "spoke about the weather"}})


@pytest.mark.parametrize(("base", "rule", "text"), HAS_NOT)
def test_an_illness_of_others_or_denied_is_not_the_clients(base: str, rule: str, text: str) -> None:
    assert rule not in _rules(base, {"patient": {"conditions": [text]}})
    assert rule not in _rules(base, {"client": {"history": text}})


@pytest.mark.parametrize(
    ("medicines", "asked"),
    [
        ("warfarin 5 mg OD", True),
        ("ramipril, apixaban 5 mg BID", True),
        ("warfarine", True),
        ("warfarin stopped yesterday", True),
        ("warfarin stopped in May", False),
        ("no blood thinners", False),
        ("acetaminophen", False),
    ],
)
def test_a_list_of_medicines_names_a_blood_thinner(medicines: str, asked: bool) -> None:
    assert ("NP03" in _rules("negative", {"client": {"medicines": medicines}})) is asked
    assert ("DB11" in _rules("full", {"client": {"medicines": medicines}, "care": {"debridement": "sharp"}})) is asked


def test_a_phrase_is_held_against_the_stage_and_negative_pressure() -> None:
    """Rules that set two answers against each other hear a phrase as the words that it holds."""
    stage = {"pressure_injury_stage": "stage 2", "tissue": {"granulation": "100 %", "slough": "~"}}
    for exposed in ("bone", "bone visible at the base"):
        assert "PI03" in _rules("pressure", {"assessment": {**stage, "exposed": [exposed]}})
    for bleeding in ("active", "oozing from the edge"):
        assert "NP03" in _rules("negative", {"assessment": {"bleeding": bleeding}})
        assert "DR04" in _rules("honey", {"assessment": {"bleeding": bleeding}})


@pytest.mark.parametrize("side", ["L", "left", "Lt", "left leg", "jambe gauche", "G", "bilat"])
def test_a_pressure_of_the_wounds_own_limb_is_heard_however_its_side_is_written(side: str) -> None:
    def low(of: str) -> dict[str, Any]:
        return {"assessment": {"limb_pressure": [{"side": of, "index": "0.45", "date": "2026-01-27"}]}}

    assert "LL04" in _rules("leg", low(side))
    assert "LL04" not in _rules("leg", low("right leg"))
