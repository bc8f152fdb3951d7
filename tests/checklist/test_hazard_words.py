"""The law of the hazards: each answer of the catalogue that names one, laid on a good note, raises a safety prompt.

Common practice, no source. The answers are found by their tags, so that a new one is held to it without a line here.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.checklist.casebook import findings
from woundfhir.catalogue import Concept, Word, catalogue
from woundfhir.catalogue.denial import has_denial

Json = Any
#: The notes on which an answer is tried: one on which it is asked about is enough.
BASES = ("full", "leg", "foot", "pressure", "burn", "packing", "change")
#: Answers that raise no safety prompt, each with the reason.
EXCUSED: dict[str, str] = {"care.response.tolerated: refused": "a refusal has questions of its own (RF01, RF02)"}


def _words(concept: Concept) -> list[Word]:
    words = concept.answers.words if concept.answers is not None else ()
    return [word for word in words if any(tag.startswith("hazard:") for tag in word.tags)]


def _answers() -> list[tuple[str, str]]:
    """Each path with each answer that names a hazard."""
    out = []
    for one in catalogue().concepts():
        for concept in (one, *one.fields.values()):
            path = f"{one.path}.{concept.key}" if concept is not one else one.path
            out += [(path, word.word) for word in _words(concept)]
            out += [(path, answer) for answer in concept.page.hazards]
    return sorted(set(out))


ANSWERS = _answers()


def _laid(path: str, answer: str) -> Json:
    """The answer where it belongs: in a list, a group or a field of a step."""
    group, key, *field = path.split(".")
    concept = catalogue().concept(f"{group}.{key}")
    inner = catalogue().concept(path)
    value: Json = [answer] if inner.shape == "choices" else answer
    if field:
        value = {field[0]: value}
        value = [value] if concept.many else value
    return {group: {key: value}}


def _cautions(base: str, change: Json) -> set[tuple[str, str]]:
    return {(one.rule, one.path) for one in findings({"base": base, **change}) if one.severity == "caution"}


def test_there_are_many_such_answers_in_several_lists() -> None:
    assert len(ANSWERS) >= 50 and len({path for path, _ in ANSWERS}) >= 8
    assert set(EXCUSED) <= {f"{path}: {answer}" for path, answer in ANSWERS}


@pytest.mark.parametrize(("path", "answer"), ANSWERS, ids=[f"{path}: {answer}" for path, answer in ANSWERS])
def test_each_answer_that_names_a_hazard_raises_a_safety_prompt(path: str, answer: str) -> None:
    asked = any(_cautions(base, _laid(path, answer)) for base in BASES)
    assert asked != (f"{path}: {answer}" in EXCUSED)


@pytest.mark.parametrize("path", sorted({path for path, _ in ANSWERS}))
def test_words_that_no_list_knows_hide_no_hazard_that_they_hold(path: str) -> None:
    """ "bone deep inside it" is in no list: it asks like the word it holds; the same denied does not ask about it."""
    concept = catalogue().concept(path)
    word = next((one for one in _words(concept) if "refused" not in one.tags), None)
    if word is None or concept.answers is None:
        return
    phrase = f"as last week {word.word} in the far corner"
    assert concept.answers.find(phrase) is None
    assert any(_cautions(base, _laid(path, phrase)) for base in BASES)
    # Where any unknown word is asked about, and where the answer is itself a denial ("absent"), it cannot be denied.
    if not has_denial(word.word) and not concept.answers.other:
        denied = _laid(path, f"looked for, without any {word.word}")
        assert not any(_cautions(base, denied) for base in BASES)
