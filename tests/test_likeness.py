"""How alike two spellings are, against another implementation (RapidFuzz, a general-purpose library)."""

from __future__ import annotations

from difflib import SequenceMatcher

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from rapidfuzz import fuzz, process
from rapidfuzz.distance import LCSseq

from woundfhir.catalogue import catalogue
from woundfhir.likeness import nearest, shared, sorted_words
from woundfhir.tables.vocabulary import _sorted

WORDS = st.text("abcdeé ", max_size=12)


@given(WORDS, WORDS)
@example("", "")
def test_letters_in_common_are_those_of_rapidfuzz(one: str, other: str) -> None:
    assert shared(one, other) == shared(other, one) == LCSseq.similarity(one, other)


@given(st.text("abcd", min_size=1, max_size=9), st.lists(st.text("abcd", max_size=9), max_size=8), st.data())
def test_the_nearest_is_that_of_rapidfuzz(word: str, known: list[str], data: st.DataObject) -> None:
    alike = data.draw(st.sampled_from([51, 73, 82, 84, 97]))  # no share of so few letters is exactly so many per cent
    found = process.extractOne(word, known, scorer=fuzz.ratio, score_cutoff=alike)
    ours = nearest(word, known, alike)
    assert (None if found is None else found[0]) == (None if ours is None else ours[0])
    assert ours is None or found is None or abs(ours[1] - found[1]) < 1


def test_a_share_that_is_just_enough_is_enough() -> None:
    assert nearest("abcd", ["abcx"], 75) == ("abcx", 75) and nearest("abcd", ["abcx"], 76) is None


@pytest.mark.parametrize("swapped", range(3))
def test_our_own_words_misspelt_are_found_as_rapidfuzz_finds_them(swapped: int) -> None:
    """Each label of the catalogue with two letters exchanged, against all headers that we know."""
    for concept in catalogue().concepts():
        label = sorted_words(concept.label.casefold())
        if len(label) > swapped + 4:
            slip = label[:swapped] + label[swapped + 1] + label[swapped] + label[swapped + 2 :]
            found = process.extractOne(slip, list(_sorted()), scorer=fuzz.ratio, score_cutoff=82)
            ours = nearest(slip, _sorted(), 82)
            assert (found and found[0]) == (ours and ours[0]), slip


def test_difflib_would_depend_on_which_comes_first() -> None:
    """Why the standard library is not asked: its measure is not symmetric (its documentation says so)."""
    one, other = "tide", "diet"
    assert SequenceMatcher(None, one, other).ratio() != SequenceMatcher(None, other, one).ratio()
    assert shared(one, other) == shared(other, one)
