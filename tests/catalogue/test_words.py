"""Answer lists know the words that nurses type, and no spelling changes a meaning.

The words stand in ``tests/data/nurse_words.tsv`` (common practice, no source), each with the answer that it means.
"""

from __future__ import annotations

import csv
import re
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.paths import DATA
from woundfhir.catalogue import AnswerList, Word, catalogue
from woundfhir.catalogue.spelling import same_form
from woundfhir.fhir.codecs import read_word

KNOWN = catalogue()
LISTS = list(KNOWN.answers.values())


def rows() -> list[dict[str, str]]:
    lines = (DATA / "nurse_words.tsv").read_text("utf-8").splitlines()
    return list(csv.DictReader((line for line in lines if not line.startswith("#")), delimiter="\t"))


ROWS = rows()


def listed(field: str) -> AnswerList:
    found = KNOWN.concept(field).answers
    assert found is not None, field
    return found


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['field']}-{row['word']}")
def test_each_word_means_what_a_nurse_means_by_it(row: dict[str, str]) -> None:
    found = listed(row["field"]).find(row["word"])
    assert (found.word if found else "-") == row["means"]


@pytest.mark.parametrize("origin", ["list", "own"])
def test_95_of_100_common_words_are_known(origin: str) -> None:
    """Issue 11, safety 3. Of the words handed over 106 of 191 were known before, of our own 136 of 294."""
    known = Counter(row["means"] != "-" for row in ROWS if row["from"] == origin)
    assert known.total() > 130
    assert known[True] / known.total() >= 0.95, known


def test_no_spelling_stands_for_two_words_of_a_list() -> None:
    for answers in LISTS:
        meant: dict[str, Word] = {}
        for word in answers.words:
            for spelling in (word.word, *word.also):
                assert meant.setdefault(same_form(spelling), word) is word, (answers.key, spelling)


@pytest.mark.parametrize("answers", LISTS, ids=lambda one: one.key)
def test_a_word_with_no_before_it_is_never_the_word(answers: AnswerList) -> None:
    for word in answers.words:
        for spelling in (word.word, *word.also):
            for no in ("no ", "No ", "not ", "non-", "non ", "without ", "un", "nil ", "denies ", "? ", "r/o "):
                assert answers.find(no + spelling) is not word or word.word == "none", (no, spelling)


@pytest.mark.parametrize("answers", LISTS, ids=lambda one: one.key)
def test_two_answers_in_one_are_neither_of_them_nor_a_third(answers: AnswerList) -> None:
    """ "I-II" is not stage 3, "mod/lg" not moderate; a list whose own words are made like this names both."""
    short = [spelling for word in answers.words for spelling in (word.word, *word.also) if len(spelling) < 9][:40]
    for one in short:
        for other in short:
            if one != other and answers.find(one) is not answers.find(other):
                for join in ("-", "/", " or ", ", ", " to ", "?"):
                    found = answers.find(one + join + other)
                    assert found is None or {one.casefold(), other.casefold()} <= set(_tokens(found)), (
                        one + join + other
                    )


def _tokens(word: Word) -> list[str]:
    """The parts of the spellings of a word, and short forms that are one known compound."""
    parts = [part for spelling in (word.word, *word.also) for part in re.split(r"[\s/,-]+", spelling.casefold())]
    return [*parts, *(spelling.casefold() for spelling in (word.word, *word.also))]


@pytest.mark.parametrize("answers", LISTS, ids=lambda one: one.key)
def test_case_hyphens_dots_spaces_and_plural_do_not_matter(answers: AnswerList) -> None:
    for word in answers.words:
        for spelling in (word.word, *word.also):
            typed = {spelling.upper(), spelling.title(), spelling.lower(), f" {spelling}.", spelling.replace(" ", "  ")}
            if not re.search(r"\d", spelling):
                typed |= {spelling.replace("-", " "), spelling.replace("-", "\u2011"), spelling.replace("-", " - ")}
            if re.fullmatch(r"[a-z -]*[a-z]{4}[b-df-hj-rt-xz]", spelling):
                typed.add(f"{spelling}s")
            for one in typed:
                assert answers.find(one) is word, one


@given(st.text(max_size=20), st.text(max_size=20))
def test_the_form_of_a_form_is_itself_and_numbers_stay(one: str, other: str) -> None:
    assert same_form(one) == same_form(f" {one} ")
    digits = [re.findall(r"[0-9]+", text) for text in (one, other)]
    if same_form(one) == same_form(other):
        assert digits[0] == digits[1]


def test_short_forms_mean_one_thing_in_their_own_field_only() -> None:
    side, amount, kind = (KNOWN.answers[key] for key in ("side", "exudate_amount", "wound_kind"))
    assert [side.find("L").word, amount.find("sm").word, kind.find("PI").word] == ["left", "small", "pressure injury"]  # type: ignore[union-attr]
    assert [amount.find("L"), side.find("sm"), amount.find("PI"), side.find("PI"), kind.find("L")] == [None] * 5


def test_no_odour_is_none_and_odour_is_not() -> None:
    odour = KNOWN.answers["odour"]
    assert {odour.find(typed).word for typed in ("no odour", "No Odor", "nil odor.", "odourless", "nil")} == {"none"}  # type: ignore[union-attr]
    assert odour.find("odour") is odour.find("present")


def test_a_word_that_a_list_has_learnt_to_tell_apart_is_read_as_it_was_written() -> None:
    """A phone visit stood under the code of a virtual one; the nurse's word is kept."""
    setting = KNOWN.answers["setting"]
    code = next(word for word in setting.words if word.word == "virtual").codings[0]
    assert read_word(setting, {"coding": [code.fhir()], "text": "phone"}) == "phone"
    assert read_word(setting, {"coding": [code.fhir()], "text": "teleconsultation"}) == "virtual"
