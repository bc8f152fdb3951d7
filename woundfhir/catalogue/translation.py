"""The entries in another language: labels, questions and answers as data, beside the entries themselves.

``data/<language>/concepts.toml`` holds what an entry says to a reader, by path; ``answers.toml`` the words of each
answer: the first is shown, all of them are read as the answer. Nothing here changes what is charted or coded.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from woundfhir.catalogue.data_file import data_file
from woundfhir.catalogue.spelling import folded, same_form
from woundfhir.language import ENGLISH, LANGUAGES, Language

#: Key of a translated entry -> the place of the same text in the entry.
PLACES: Mapping[str, tuple[str, ...]] = {
    "label": ("label",),
    "question": ("question",),
    "short": ("short",),
    "pattern": ("pattern",),
    "missing": ("front", "missing"),
    "why": ("asked", "why"),
    "example": ("asked", "example"),
}


@dataclass(frozen=True, slots=True)
class Translation:
    """What one language says.

    Attributes
    ----------
    language
        The language.
    concepts
        Path -> its texts, by the keys of ``PLACES``, and ``also``: other headers of a column that mean it.
    answers
        Key of a list -> answer -> its words, the one that is shown first.
    titles
        Key of a list -> its title.
    """

    language: Language
    concepts: Mapping[str, Mapping[str, Any]]
    answers: Mapping[str, Mapping[str, list[str]]]
    titles: Mapping[str, str]

    def entry(self, path: str, raw: Mapping[str, Any]) -> dict[str, Any]:
        """Return an entry as it is written, its texts in this language; what is not translated stays as it is."""
        out = dict(raw)
        out.setdefault("question", raw.get("label"))
        for key, place in PLACES.items():
            text = self.concepts.get(path, {}).get(key)
            if text is not None:
                out[place[0]] = text if len(place) == 1 else {**out[place[0]], place[1]: text}
        return out

    def words(self, key: str) -> list[str]:
        """Return the words of an answer, ``list/word``."""
        listed, _, word = key.partition("/")
        return self.answers.get(listed, {}).get(word, [])


@cache
def translations() -> Mapping[str, Translation]:
    """Return every translation by the key of its language."""
    return {language.key: _read(language) for language in LANGUAGES.values() if language is not ENGLISH}


def _read(language: Language) -> Translation:
    concepts, answers = (data_file(language.key, f"{name}.toml") for name in ("concepts", "answers"))
    titles = answers.pop("titles", {})
    return Translation(language, concepts, answers, titles)


def without_accents(form: str) -> str:
    """Return a word without accents and ligatures, as it is often typed.

    Examples
    --------
    >>> without_accents("modéré"), without_accents("œdème")
    ('modere', 'oedeme')
    """
    plain = unicodedata.normalize("NFD", form.replace("œ", "oe").replace("æ", "ae"))
    return "".join(char for char in plain if not unicodedata.combining(char))


def plain_words(text: str) -> str:
    """Return a text in small letters without accents, with blanks for dashes, in which whole words are looked for.

    Examples
    --------
    >>> plain_words("Fem-pop, DIABÉTIQUE")
    'fem pop, diabetique'
    """
    return without_accents(" ".join(re.sub(r"[-\u2010-\u2015]", " ", folded(text)).split()))


def spellings(written: str) -> tuple[str, ...]:
    """Return the forms in which a word is compared: as it is, and without accents."""
    form = same_form(written)
    plain = without_accents(form)
    return (form,) if plain == form else (form, plain)
