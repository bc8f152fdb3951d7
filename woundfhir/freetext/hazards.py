"""Hazards that a text names: asked about, whether anything is coded or not. In doubt it is asked."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.freetext.excused import excepted, excused
from woundfhir.freetext.figures import find_figures
from woundfhir.freetext.language import Language, alternatives, language
from woundfhir.freetext.model import Alarm
from woundfhir.freetext.note import WORD, Note

_DENIAL = re.compile(r"\b(?:not|no longer|no|never|without)\b")


def hazards_in(text: str, lang: str = "en") -> list[Alarm]:
    """Return the hazards that a text names, most urgent first; what ``read_text`` asks about, and nothing else.

    Parameters
    ----------
    text
        What a nurse wrote beside the answers of a note.
    lang
        The language it is written in; there is ``en``.

    Examples
    --------
    >>> [one.hazard.key for one in hazards_in("chest pain this am, temp 38.9")]
    ['sudden', 'infection']
    >>> hazards_in("denies chest pain. Hx of chest pain 2019. Told to call if fever.")
    []
    """
    return find_alarms(Note(text, language(lang)))


def find_alarms(note: Note) -> list[Alarm]:
    """Return the hazards of a text, most urgent first, each once at its first words."""
    phrases = _candidates(note)
    quiet = [found.span() for found in _bystanders(note.words).finditer(note.low)] if phrases else []
    first: dict[str, tuple[int, int]] = {}
    for one in phrases:
        for found in one.pattern.finditer(note.low):
            start, end = found.span()
            if (start, end) >= first.get(one.hazard, (start, end + 1)):
                break
            if any(begin < end and start < finish for begin, finish in quiet) and not excepted(note, end):
                continue
            if not one.denies and _DENIAL.search(found[0]):
                continue  # "mesh not visible" stands where "mesh ... visible" is looked for
            if not excused(note, one.hazard, start, end):
                first[one.hazard] = (start, end)
    for key, start, end in find_figures(note):
        if key not in first and not excused(note, key, start, end):
            first[key] = (start, end)
    alarms = [Alarm(catalogue().hazards[key], *note.origin(*span)) for key, span in first.items()]
    return sorted(alarms, key=lambda one: one.hazard.rank)


@per_catalogue()
def _bystanders(words: Language) -> re.Pattern[str]:
    return re.compile(alternatives(words.raw["bystanders"]["words"]))


class _Phrase(NamedTuple):
    """One phrase of a hazard: its pattern, whether it holds a denial itself, and the words that it cannot do without.

    ``needs``: of each of these sets of words one must stand in the text; to look there first costs far less.
    """

    hazard: str
    pattern: re.Pattern[str]
    denies: bool
    needs: tuple[frozenset[str], ...]

    def may_stand(self, tokens: frozenset[str]) -> bool:
        return all(not one.isdisjoint(tokens) for one in self.needs)


def _candidates(note: Note) -> list[_Phrase]:
    """The phrases all whose words stand in the text, each only there where its first one does."""
    by_word = _by_first_word(note.words)
    found = {id(one): one for token in note.tokens for one in by_word.get(token, ()) if one.may_stand(note.tokens)}
    return list(found.values())


@per_catalogue()
def _by_first_word(words: Language) -> dict[str, list[_Phrase]]:
    found: dict[str, list[_Phrase]] = {}
    for one in _phrases(words):
        for word in one.needs[0]:
            found.setdefault(word, []).append(one)
    return found


@per_catalogue()
def _phrases(words: Language) -> list[_Phrase]:
    """Every phrase of every hazard (``{redness} ... spreading``)."""
    named = words.raw["hazard_words"]
    return [_phrase(key, text, named) for key, texts in words.raw["hazard_phrases"].items() for text in texts]


def _first_words(text: str) -> list[str]:
    """The first word of a phrase, and how it is written without its apostrophe."""
    found = WORD.findall(text)[:1]
    joined = WORD.findall(text.replace("'", ""))[:1]
    return [*found, *joined]


def _phrase(key: str, text: str, words: Mapping[str, list[str]]) -> _Phrase:
    parts: list[str] = []
    needs: list[frozenset[str]] = []
    names_of_all: list[list[str]] = []
    for part in text.split(" ... "):
        pieces = [piece.strip() for piece in re.split(r"(\{\w+\})", part) if piece.strip()]
        names = [words[piece[1:-1]] if piece.startswith("{") else [piece] for piece in pieces]
        names_of_all += names
        parts.append(r"\s*".join(alternatives(each) for each in names))
        needs += [frozenset(word for one in each for word in _first_words(one)) for each in names]
    # up to four words, not over the end of a sentence
    pattern = re.compile(r"(?:\s+(?:[^\s.;\n]+\s+){0,4}?)".join(parts))
    denies = any(_DENIAL.search(one) for each in names_of_all for one in each)
    return _Phrase(key, pattern, denies, tuple(one for one in needs if one))
