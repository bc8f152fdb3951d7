"""French answers are read as the same concepts, and the record keeps the nurse's own word.

Outside check: the terms of tests/data/french.tsv (RNAO, OIIQ, OQLF pages where one was found; each row names its source
and mark), accents and ligatures left out as people type (line 8 there).
"""

from __future__ import annotations

import csv
import unicodedata
from typing import Any

import pytest

from tests.paths import DATA
from woundfhir import to_fhir
from woundfhir.catalogue import catalogue
from woundfhir.checklist import check
from woundfhir.fhir.terms import has_code
from woundfhir.intake.resources import from_fhir
from woundfhir.language import speaking
from woundfhir.record import History


def terms(kind: str) -> list[list[str]]:
    lines = (line for line in (DATA / "french.tsv").read_text("utf-8").splitlines() if not line.startswith("#"))
    rows = csv.reader(lines, delimiter="\t", quoting=csv.QUOTE_NONE)
    # What stands in brackets behind a term is a remark.
    return [[*row[:3], row[3].partition(" (")[0], *row[4:]] for row in rows if row[0] == kind]


#: Labels that say more than the term, because the concept does, or because two fields had the same.
OURS = {
    "plan.escalation",
    "care.compression.taught_removal",
    "assessment.push_exudate",
    "assessment.push_tissue",
    "assessment.undermining.to",
}


def test_the_terms_are_those_that_stood_there() -> None:
    assert (len(terms("answer")), len(terms("label"))) == (567, 236)


@pytest.mark.parametrize("row", terms("answer"), ids=lambda row: f"{row[1]}/{row[2]}")
def test_each_term_is_read_as_its_answer(row: list[str]) -> None:
    answers = catalogue().answers[row[1]]
    found = answers.find(row[3])
    assert found is not None and answers.find(row[2]) is found
    plain = unicodedata.normalize("NFD", row[3].replace("œ", "oe"))
    bare = "".join(char for char in plain if not unicodedata.combining(char))
    assert answers.find(bare) is found


@pytest.mark.parametrize("row", terms("label"), ids=lambda row: row[1])
def test_each_label_is_that_term(row: list[str]) -> None:
    with speaking("fr"):
        try:
            label = catalogue().concept(row[1]).label
        except KeyError:
            pytest.skip("a label of the frame, or of what is named otherwise now")
    assert label.casefold() == row[3].casefold() or row[1] in OURS


#: Traps (french.tsv, lines 1, 12 and 15).
TRAPS = [
    ("wound_kind", "escarre", "pressure injury"),
    ("tissue", "escarre", "eschar"),
    ("tissue", "fibrine", "fibrin"),
    ("exudate_amount", "Modérée", "moderate"),
    ("wound_kind", "plaie de pression", "pressure injury"),
    ("exposed", "aucune", "none"),
    ("told", "IPS", "nurse practitioner"),
]


@pytest.mark.parametrize(("listed", "word", "answer"), TRAPS)
def test_traps(listed: str, word: str, answer: str) -> None:
    found = catalogue().answers[listed].find(word)
    assert found is not None and found.word == answer


def _note(**assessment: Any) -> History:
    entry = {"wound": "W1", "assessment": assessment}
    return History.of(
        {
            "woundfhir": 1,
            "patient": {"identifiers": [{"system": "urn:example:clinic", "value": "1"}]},
            "wounds": [{"id": "W1", "kind": "plaie de pression", "site": "talon", "side": "gauche"}],
            "visits": [{"id": "V1", "at": "2026-03-02T10:05:00-05:00", "status": "final", "wounds": [entry]}],
        }
    )


def test_a_french_word_keeps_its_spelling_and_carries_the_code() -> None:
    history = _note(exudate_amount="modéré", tunnels="aucun sinus", undermining="aucun", odour="aucune")
    assessment = history.visits[0]["wounds"][0]["assessment"]
    assert assessment == {"undermining": "none", "tunnels": "none", "exudate_amount": "modéré", "odour": "aucune"}
    amount = catalogue().concept("assessment.exudate_amount")
    assert amount.answers is not None
    coding = amount.answers.words[4].codings[0]
    values = [one["valueCodeableConcept"] for one in to_fhir(history) if "valueCodeableConcept" in one]
    assert any(value["text"] == "modéré" and has_code(value, coding.key) for value in values)
    assert from_fhir(to_fhir(history)).history.data == history.data


def test_a_rule_finds_the_same_in_french_words_as_in_english() -> None:
    english = _note(exudate_amount="large", periwound=["macerated"], infection_signs=["none"], pain_at_change="8")
    french = _note(
        exudate_amount="grande quantité", periwound=["macérée"], infection_signs=["aucun"], pain_at_change="8"
    )
    found = [[(one.rule, one.path) for one in check(one)] for one in (english, french)]
    assert found[0] == found[1]
    assert "CH16" in {rule for rule, _ in found[0]}


def test_yes_and_no() -> None:
    assessment = _note(probe_to_bone="oui", mucosal="non").visits[0]["wounds"][0]["assessment"]
    assert (assessment["probe_to_bone"], assessment["mucosal"]) == ("yes", "no")


def test_a_place_on_the_clock_face_is_no_time_of_day() -> None:
    """Trap: french.tsv, line 6 (a clock position is written "à 3 h")."""
    hollow = [{"from": "à 3 h", "to": "5h", "depth": "2\u00a0cm"}]
    assessment = _note(undermining=hollow, tunnels=[{"clock": "12 heures", "depth": "1.5 cm"}]).visits[0]["wounds"][0]
    assert assessment["assessment"]["undermining"] == [{"from": "3", "to": "5", "depth": "2 cm"}]
    assert assessment["assessment"]["tunnels"] == [{"clock": "12", "depth": "1.5 cm"}]
    written = _note(undermining=[{"from": "14 h", "to": "15 h"}]).visits[0]["wounds"][0]["assessment"]["undermining"]
    assert written == [{"from": "14 h", "to": "15 h"}]  # a time of day is no place, and stays as it was written


def test_numbers_as_french_writes_them() -> None:
    """Traps: french.tsv, lines 2, 3 and 12: comma (asked about), blank before a unit, 7 sur 10."""
    history = _note(length="2,5 cm", pain_at_change="7 sur 10", tissue={"granulation": "70\u00a0%", "fibrine": "30 %"})
    assessment = history.visits[0]["wounds"][0]["assessment"]
    assert (assessment["length"], assessment["pain_at_change"]) == ("2,5 cm", "7")
    assert assessment["tissue"]["granulation"] == "70 %"
    with speaking("fr"):
        found = {one.rule: one.message for one in check(history)}
    assert "SE10" in found  # the comma is asked about
    assert not {"SE08", "WD01"} & found.keys()


def test_none_agrees_with_what_there_is_none_of_and_is_read_in_both_genders() -> None:
    for word in ("aucun", "aucune", "Aucun"):
        assessment = _note(undermining=word, exposed=[word], odour=word).visits[0]["wounds"][0]["assessment"]
        assert assessment["undermining"] == "none"
        for key, name in (("odour", "odour"), ("exposed", "exposed")):
            value = assessment[key][0] if isinstance(assessment[key], list) else assessment[key]
            listed = catalogue().concept(f"assessment.{name}").answers
            found = None if listed is None else listed.find(value)
            assert found is not None and found.word == "none", (word, key)
