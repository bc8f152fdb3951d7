"""What a written word means in its answer list: the entry it names, the entries it holds, or "none"."""

from __future__ import annotations

import re
from functools import lru_cache

from woundfhir.catalogue import Concept, Word, catalogue, nothing
from woundfhir.record.shapes import shape_of

NONE = "none"
#: Shapes whose answer names things, of which there may be none.
_LISTS = frozenset(("choices", "share", "group", "step"))


@lru_cache(maxsize=65536)
def entry_of(concept: Concept, text: str) -> Word | None:
    """Return the catalogue's entry for a word as written."""
    return concept.answers.find(text) if concept.answers is not None else None


@lru_cache(maxsize=65536)
def held(concept: Concept, text: str) -> tuple[Word, ...]:
    """Return the entries of the answer list whose words stand within words that it does not know, none denied.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> exposed = catalogue().concept("assessment.exposed")
    >>> [word.word for word in held(exposed, "femoral artery and some bone")]
    ['bone', 'blood vessel']
    >>> held(exposed, "no tendon"), held(exposed, "tendonitis"), held(exposed, "pas d'os visible")
    ((), (), ())
    >>> [word.word for word in held(exposed, "os visible au fond")]
    ['bone']

    Shorthand of two letters is read only where it stands alone, as a word of the list:

    >>> [word.word for word in held(catalogue().concept("wound.kind"), "burn, at St. Example Street")]
    ['burn']
    """
    if concept.answers is None:
        return ()
    whole = " ".join(text.casefold().split())
    plain = nothing.DENIED.sub(" ", whole)

    def stands(spelling: str) -> bool:
        # "not felt" is an answer of its own, and no denial.
        there = whole if nothing.DENIED.match(spelling) else plain
        return re.search(rf"\b{re.escape(spelling)}s?\b", there) is not None

    return tuple(
        word for word in concept.answers.words if word.word != NONE and any(stands(one) for one in _spellings(word))
    )


def _spellings(word: Word) -> tuple[str, ...]:
    """The spellings that can be recognised in a sentence, those of other languages too ("os" is bone)."""
    own = (one for one in (word.word, *word.also) if len(one) > 2)
    return tuple(one.casefold() for one in (*own, *(form for form in word.forms if form.isalpha() or len(form) > 2)))


@lru_cache(maxsize=65536)
def canonical(concept: Concept, text: str) -> str:
    """Return the word by which the catalogue knows what is written; "none" for what names nothing; else the text."""
    entry = entry_of(concept, text)
    if entry is not None:
        return entry.word
    return NONE if names_nothing(concept, text) else text


def names_nothing(concept: Concept, text: str) -> bool:
    """Whether words that are in no answer list mean "none": looked for and absent.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> exposed, side = catalogue().concept("assessment.exposed"), catalogue().concept("wound.side")
    >>> [names_nothing(exposed, text) for text in ("none", "Nil", "none seen", "no", "no bone, gut to be seen")]
    [True, True, True, True, False]
    >>> names_nothing(side, "no"), names_nothing(side, "none")
    (False, True)
    """
    if text.casefold() == NONE:
        return True
    if concept.of is not None:
        group = catalogue().concept(f"{concept.group}.{concept.of}")
        if group.main == concept.key and shape_of(group).says_none(group, text):
            return True
    listed = concept.shape in _LISTS or (concept.answers is not None and concept.answers.find(NONE) is not None)
    return listed and nothing.names_nothing(text, concept.label, concept.key.replace("_", " "))
