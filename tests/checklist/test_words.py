"""No word of a nurse is taken in silence: a list knows it, or the checklist asks and says what could not look.

The words stand in ``tests/data/strange_words.tsv`` (common practice, no source); they were not taken from our lists.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.checklist.casebook import base, findings, record
from tests.paths import DATA
from woundfhir.catalogue import catalogue
from woundfhir.chart.words import names_nothing
from woundfhir.checklist import check, judge
from woundfhir.cli import run
from woundfhir.record import History
from woundfhir.report.text import verdict

LINES = (DATA / "strange_words.tsv").read_text("utf-8").splitlines()
ROWS = [(row["field"], row["word"]) for row in csv.DictReader((x for x in LINES if x[0] != "#"), delimiter="\t")]
#: Fields that only some kinds of wound have, and notes of such a wound.
BASES = {
    "assessment.pulses": "leg",
    "assessment.sensation": "foot",
    "assessment.burn_depth": "burn",
    "assessment.skin_tear_type": "tear",
    "assessment.pressure_injury_stage": "pressure",
    "assessment.limb_signs": "leg",
    "care.compression.system": "leg",
}
#: Lists whose words no rule tells apart today.
NOT_LEANT_ON = ("assessment.skin_tear_type", "assessment.sensation", "assessment.limb_signs")


def _note(field: str, word: str) -> dict[str, Any]:
    """A complete note in which the answer to a field is a word."""
    group, key, *inner = field.split(".")
    concept = catalogue().concept(field)
    answer: Any = {"share": {word: "100 %"}, "choices": [word]}.get(concept.shape, word)
    change: dict[str, Any] = {"base": BASES.get(field, "change")}
    if inner:
        old = base(change["base"]).get(group, {}).get(key, {})
        item = {**(old[0] if isinstance(old, list) else old if isinstance(old, dict) else {}), inner[0]: answer}
        answer = [item] if catalogue().concept(f"{group}.{key}").many else item
    if concept.shape == "share":
        answer = {**dict.fromkeys(base(change["base"])["assessment"]["tissue"], "~"), **answer}
    change[group] = {key: answer}
    return change


@pytest.mark.parametrize(("field", "word"), ROWS, ids=[f"{field}-{word}" for field, word in ROWS])
def test_a_word_is_known_or_asked_about(field: str, word: str) -> None:
    concept = catalogue().concept(field)
    assert concept.answers is not None
    asked = [one for one in findings(_note(field, word)) if one.rule in ("WD01", "WD02")]
    if concept.answers.find(word) is not None or names_nothing(concept, word):
        assert asked == []
        return
    if not asked:  # No rule asks for a word of this list, in this note or any other.
        assert field in NOT_LEANT_ON
        return
    assert len(asked) == 1, word
    said = re.sub(r"Did you mean .*|`.*?`", "", f"{asked[0].message} {asked[0].fix}")
    assert re.search(rf"\b{re.escape(word)}\b", said, re.IGNORECASE) is None


def test_no_note_with_a_word_that_rules_lean_on_is_complete() -> None:
    silent = [one for one in ROWS if one[0] not in NOT_LEANT_ON and verdict(findings(_note(*one))) == "Complete."]
    assert silent == [(f, w) for f, w in silent if catalogue().concept(f).answers.find(w)]  # type: ignore[union-attr]


def test_what_is_reported_of_a_word_counts_the_rules_that_asked_for_it() -> None:
    """The more depends on an answer, the more rules: the kind of a wound is asked for by most."""
    numbers = {}
    for field in ("wound.kind", "assessment.exudate_amount", "assessment.tissue"):
        (found,) = [one for one in findings(_note(field, "qqq")) if one.rule == "WD01"]
        numbers[field] = int(re.search(r"(\d+) rules", found.message)[1])  # type: ignore[index]
    assert numbers["wound.kind"] > numbers["assessment.exudate_amount"] > numbers["assessment.tissue"] > 0


def test_a_word_of_an_earlier_note_is_a_finding_of_that_note() -> None:
    case = {"before": [{"visit": {"at": "2026-03-02T10:00:00-05:00"}, "assessment": {"exudate_amount": "qqq"}}]}
    assert [one.visit for one in findings(case) if one.rule == "WD01"] == ["V1"]


@pytest.mark.parametrize(("word", "near"), [("qqq", ""), ("foam dresing", "Did you mean foam dressing")])
def test_one_word_at_two_places_of_a_note_is_one_finding_at_the_first(word: str, near: str) -> None:
    pad = [{"dressing": word, "size": "10 x 10 cm"}]
    care = {"primary_dressing": pad, "secondary_dressing": pad}
    before = [{"visit": {"at": "2026-03-02T10:00:00-05:00"}, "care": care}]
    later, earlier = [one for one in findings({"care": care, "before": before}) if one.rule == "WD01"]
    assert [one.path for one in (later, earlier)] == [
        f"visits[{number}].wounds[0].care.primary_dressing[0].dressing" for number in (1, 0)
    ]
    assert later.message.startswith("Primary dressing, dressing: not a word known here")
    assert (near or "Which class of product is it?") in later.message and ("Did you mean" in later.message) == bool(
        near
    )
    assert "`woundfhir explain care.primary_dressing.dressing`" in later.fix


def test_a_word_that_no_rule_needs_now_is_asked_about_where_it_may_be_another() -> None:
    (found,) = findings({"assessment": {"exudate_colour": "clera"}})
    assert (found.rule, found.message.endswith("Did you mean clear?")) == ("WD02", True)
    assert findings({"assessment": {"exudate_colour": "like weak tea"}}) == []


def test_listening_changes_no_other_finding() -> None:
    """A word of one's own where no rule asks makes the checklist listen; all else is found as before."""
    for name in ("change", "full", "leg", "pressure"):
        quiet = History.of(record({"base": name, "assessment": {"exudate_amount": "~"}}))
        heard = History.of(
            record({"base": name, "assessment": {"exudate_amount": "~", "exudate_colour": "like weak tea"}})
        )
        found = [(one.rule, one.path) for one in check(heard) if not one.rule.startswith("WD")]
        assert found == [(one.rule, one.path) for one in check(quiet)]


def test_a_rule_that_is_left_out_does_not_hide_the_word() -> None:
    history = History.of(record(_note("assessment.exudate_amount", "qqq")))
    found = judge(history, ignore={"WD01": "words of our own"})
    assert [one.code for one in found.left_out if one.findings] == ["WD01"]


FORMS = ("record", "record-json", "record-ndjson", "csv", "fhir-json", "fhir-xml", "ndjson")


@pytest.mark.parametrize("form", FORMS)
def test_an_unknown_word_is_asked_about_in_whatever_form_it_came(form: str, tmp_path: Path, capfd: Any) -> None:
    """The same word in a list, a step, a share and the wound's kind, through every format of ours."""
    case = {
        "wound": {"kind": "hole in the belly"},
        "visit": {"purpose": ["dressing change", "quick look-in"]},
        "assessment": {"exudate_amount": "bucketfuls", "tissue": {"slough": "~", "mud": "20 %"}},
        "care": {"primary_dressing": [{"dressing": "Invented Foamex", "size": "10 x 10 cm"}]},
    }
    history = History.of(record(case))
    expected = {(one.rule, one.path) for one in check(history) if one.rule in ("WD01", "WD02")}
    assert len(expected) == 5
    plain = tmp_path / "record.json"
    plain.write_text(json.dumps(history.data), "utf-8")
    made = tmp_path / ("made.csv" if form == "csv" else "made.txt")
    assert run(["convert", str(plain), "--to", form, "-o", str(made)]) == 0
    capfd.readouterr()
    run(["check", str(made), "--format", "json"])
    found = json.loads(capfd.readouterr().out)["findings"]
    assert {(one["rule"], one["path"]) for one in found if one["rule"] in ("WD01", "WD02")} == expected


def test_a_product_that_no_list_knows_could_be_what_the_client_does_not_tolerate() -> None:
    case = {"supplies": [{"item": "Invented Klens", "quantity": "1"}]}
    assert {one.rule for one in findings(case)} == {"WD02"}
    case["patient"] = {"allergies": [{"to": "iodine"}]}  # type: ignore[assignment]
    assert {one.rule for one in findings(case)} == {"WD01"}
