"""Which language a text or a sentence is in, by the small words that only one language has."""

from __future__ import annotations

import re

from woundfhir.catalogue import per_catalogue
from woundfhir.freetext.language import LANGUAGES, language
from woundfhir.freetext.spelling import forms

#: A word as languages are known by; "l'" and "d'" are words of their own.
SMALL = re.compile(r"\w+'?")


def language_of(text: str) -> str | None:
    """Return the language of a text or sentence by its small words, else by its other words; None where neither tells.

    Parameters
    ----------
    text
        As ``spelling.plain`` gives it.

    Examples
    --------
    >>> language_of("pas de pus dans la plaie"), language_of("no pus in the wound"), language_of("pus")
    ('fr', 'en', None)
    """
    tokens = SMALL.findall(text)
    for words_of in (marks, _own):
        counted = [(sum(one in words_of(name) for one in tokens), name) for name in LANGUAGES]
        most = max(count for count, _ in counted)
        names = [name for count, name in counted if count == most]
        if most and len(names) == 1:
            return names[0]
    return None


@per_catalogue(4)
def _own(name: str) -> frozenset[str]:
    """Every word that only this language has."""
    return language(name).own.difference(*(language(one).own for one in LANGUAGES if one != name))


@per_catalogue(4)
def marks(name: str) -> frozenset[str]:
    """Return the small words of a language, by which it is known."""
    words = language(name).raw["marks"]["words"]
    return frozenset(form for word in words for form in forms(word))
