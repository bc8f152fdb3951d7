"""Hazards that a text names: asked about, whether anything is coded or not. In doubt it is asked."""

from __future__ import annotations

import re
from collections.abc import Mapping
from hashlib import blake2b
from typing import NamedTuple

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.freetext.counted import find_counts
from woundfhir.freetext.excused import denied_beside, excepted, excused
from woundfhir.freetext.figures import figure_words, find_figures
from woundfhir.freetext.language import LANGUAGES, Language, alternatives, language
from woundfhir.freetext.languages import SMALL, language_of, marks
from woundfhir.freetext.model import Alarm
from woundfhir.freetext.note import WORD, Note
from woundfhir.freetext.spelling import forms, plain_text

#: Of so many texts it is known what they name.
_KEPT = 10_000


def hazards_in(text: str) -> list[Alarm]:
    """Return the hazards that a text names, most urgent first; what ``read_text`` asks about, and nothing else.

    Parameters
    ----------
    text
        What a nurse wrote beside the answers of a note, in English, French or both.

    Examples
    --------
    >>> [one.hazard.key for one in hazards_in("chest pain this am, temp 38.9")]
    ['sudden', 'infection']
    >>> hazards_in("denies chest pain. Hx of chest pain 2019. Told to call if fever.")
    []
    >>> [one.hazard.key for one in hazards_in("pas de fièvre, douleur thoracique depuis 6 h")]
    ['sudden']
    """
    known, digest = _known(), blake2b(text.encode("utf-8", "surrogatepass"), digest_size=16).digest()
    named = known.get(digest)
    if named is None:
        if len(known) >= _KEPT:
            known.clear()
        named = known[digest] = _spans(text)
    alarms = [Alarm(catalogue().hazards[key], *span) for key, span in named.items()]
    return sorted(alarms, key=lambda one: one.hazard.rank)


@per_catalogue()
def _known() -> dict[bytes, dict[str, tuple[int, int]]]:
    """What texts name that were heard before: the page checks a record at each touch. Of a text its digest is kept."""
    return {}


def _spans(text: str) -> dict[str, tuple[int, int]]:
    """Return each hazard that a text names, and where."""
    heard = _Heard(text)
    first: dict[str, tuple[int, int]] = {}
    for note in heard.notes.values():
        for key, span in _of_language(heard, note).items():
            first[key] = min(span, first.get(key, span))
    return first


class _Heard:
    """A text in each language that it may hold; a hazard is excused in the language of its sentence.

    Attributes
    ----------
    notes
        The text as each language reads it.
    """

    def __init__(self, text: str) -> None:
        low = plain_text(text)
        self.whole = language_of(low)
        tokens = frozenset(WORD.findall(low))
        self.notes = {
            name: Note(text, language(name)) for name in LANGUAGES if name == LANGUAGES[0] or _speaks(low, tokens, name)
        }

    def excused(self, note: Note, key: str, start: int, end: int) -> bool:
        """Whether the words of a hazard at a place of a note ask nothing, in their language or their sentence's."""
        begin, finish = note.sentence(start)
        spoken = language_of(note.low[begin:finish]) or self.whole or note.words.name
        judge = self.notes.get(spoken, note)
        if judge is note:
            return excused(note, key, start, end)
        if note.slipped(start, end) or denied_beside(note, start, end):
            return True  # a word of another language is no slip of the pen
        start, end = judge.place(*note.origin(start, end))
        return _quiet(judge, start, end) or excused(judge, key, start, end)


def _speaks(low: str, tokens: frozenset[str], name: str) -> bool:
    """Whether a text may hold words of a language."""
    words = language(name)
    return (
        not marks(name).isdisjoint(SMALL.findall(low))
        or not figure_words(words).isdisjoint(tokens)
        or any(one.may_stand(tokens) for token in tokens for one in _by_first_word(words).get(token, ()))
    )


def _of_language(heard: _Heard, note: Note) -> dict[str, tuple[int, int]]:
    """Return each hazard that the words of one language name, at its first words in the text."""
    first: dict[str, tuple[int, int]] = {}
    for one in _candidates(note):
        for found in one.pattern.finditer(note.low):
            start, end = found.span()
            if (start, end) >= first.get(one.hazard, (start, end + 1)):
                break
            if _quiet(note, start, end):
                continue
            if not one.denies and note.words.holds.search(found[0]):
                continue  # "mesh not visible" stands where "mesh ... visible" is looked for
            if not heard.excused(note, one.hazard, start, end):
                first[one.hazard] = (start, end)
    for key, start, end in (*find_figures(note), *find_counts(note)):
        if key not in first and not heard.excused(note, key, start, end):
            first[key] = (start, end)
    return {key: note.origin(*span) for key, span in first.items()}


def _quiet(note: Note, start: int, end: int) -> bool:
    """Whether a phrase that holds the word of a hazard, and is none, stands there."""
    around = _bystanders(note.words).finditer(note.low)
    return any(one.start() < end and start < one.end() for one in around) and not excepted(note, end)


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
    phrases = words.raw["hazard_phrases"].items()
    return [_phrase(key, text, named, words.holds) for key, texts in phrases for text in texts]


def _first_words(text: str) -> list[str]:
    """The forms of the first word of a phrase, and how each is written without its apostrophe."""
    out: list[str] = []
    for form in forms(next(one for one in text.split() if WORD.search(one))):
        out += [*WORD.findall(form)[:1], *WORD.findall(form.replace("'", ""))[:1]]
    return out


def _phrase(key: str, text: str, words: Mapping[str, list[str]], holds: re.Pattern[str]) -> _Phrase:
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
    denies = any(holds.search(one) for each in names_of_all for one in each)
    return _Phrase(key, pattern, denies, tuple(one for one in needs if one))
