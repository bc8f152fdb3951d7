"""What a written word means in its answer list: the entry it names, the entries it holds, or "none"."""

from __future__ import annotations

import re
from functools import lru_cache

from woundfhir.catalogue import Concept, Word, catalogue, denial, nothing
from woundfhir.catalogue.spelling import folded
from woundfhir.record.shapes import shape_of

NONE = "none"
#: Shapes whose answer names things, of which there may be none.
_LISTS = frozenset(("choices", "share", "group", "step"))
#: Groups whose answers are found: to deny them is to say "none".
FINDINGS = frozenset(("assessment", "client"))


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
    whole = folded(text)
    plain = denial.undenied(whole, _known(concept))
    found: list[Word] = []
    for spelling, word in _by_length(concept):
        # "not felt" is an answer of its own, and no denial. What was read is gone: "minimal bleeding" is no "bleeding".
        pattern = rf"\b{re.escape(spelling)}s?\b"
        if re.search(pattern, whole if denial.has_denial(spelling) else plain) is not None:
            found.append(word)
            whole, plain = re.sub(pattern, " ", whole), re.sub(pattern, " ", plain)
    return tuple(word for word in concept.answers.words if word in found and word.word != NONE)


@lru_cache(maxsize=4096)
def _by_length(concept: Concept) -> tuple[tuple[str, Word], ...]:
    """The spellings of a list with what they name, the longest first."""
    words = concept.answers.words if concept.answers is not None else ()
    return tuple(sorted(((one, word) for word in words for one in _spellings(word)), key=lambda one: -len(one[0])))


@lru_cache(maxsize=4096)
def _known(concept: Concept) -> tuple[str, ...]:
    """The spellings of what a list names, "none" left out."""
    words = concept.answers.words if concept.answers is not None else ()
    return tuple(one for word in words if word.word != NONE for one in _spellings(word))


def _spellings(word: Word) -> tuple[str, ...]:
    """The spellings that can be recognised in a sentence, those of other languages too ("os" is bone)."""
    own = (one for one in (word.word, *word.also) if len(one) > 2)
    return tuple(one.casefold() for one in (*own, *(form for form in word.forms if form.isalpha() or len(form) > 2)))


@lru_cache(maxsize=65536)
def flag_of(concept: Concept, text: str) -> bool | None:
    """Return yes or no, with words behind it or not; None for other words.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> probe = catalogue().concept("assessment.probe_to_bone")
    >>> seal = catalogue().concept("care.negative_pressure.seal")
    >>> [flag_of(probe, text) for text in ("yes", "Oui, at 3 o'clock", "no - bone not reached", "+")]
    [True, True, False, None]
    >>> [flag_of(seal, text) for text in ("no, leaks", "nothing leaks", "yes and no", "no, but yes at the edge")]
    [False, None, None, None]
    """
    if text in ("yes", "no"):
        return text == "yes"
    parts = _FLAG.match(text.strip()) if _TURNS.search(text) is None else None
    begins = shape_of(concept).canonical(concept, parts[1], None, lambda path, value: None) if parts else None
    return begins == "yes" if begins in ("yes", "no") else None


#: What may turn a first word round.
_TURNS = re.compile(r"\b(?:but|however|except|unless|mais|sauf)\b", re.IGNORECASE)
#: A first word, and behind it nothing or more words of their own.
_FLAG = re.compile(r"([^\W\d_]+)\s*(?:$|[,;:.(\u2013\u2014]|-\s|!)")


@lru_cache(maxsize=65536)
def canonical(concept: Concept, text: str) -> str:
    """Return the word by which the catalogue knows what is written; "none" for what names nothing; else the text."""
    entry = entry_of(concept, text) or _side_in(concept, text)
    if entry is not None:
        return entry.word
    return NONE if names_nothing(concept, text) else text


def _side_in(concept: Concept, text: str) -> Word | None:
    """The one side that words name: "left leg" is left, and a limb pressure of it is no other leg's."""
    if concept.answers is None or concept.answers.key != "side":
        return None
    named = {
        word.word: word
        for spelling, word in _by_length(concept)
        if len(spelling) > 2 and re.search(rf"\b{re.escape(spelling)}\b", text.casefold())
    }
    return next(iter(named.values())) if len(named) == 1 else None


def names_nothing(concept: Concept, text: str) -> bool:
    """Whether words that are in no answer list mean "none": looked for and absent.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> exposed, side = catalogue().concept("assessment.exposed"), catalogue().concept("wound.side")
    >>> [names_nothing(exposed, text) for text in ("none", "Nil", "none seen", "no", "no bone, gut to be seen")]
    [True, True, True, True, False]
    >>> [names_nothing(exposed, text) for text in ("no bone or tendon visible", "bone not seen", "no problem")]
    [True, True, False]
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
    return (listed and nothing.names_nothing(text, *_names(concept))) or denies_some(concept, text)


def denies_some(concept: Concept, text: str) -> bool:
    """Whether a finding is some answers of its list denied: "no fever or chills", beside which others may stand.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> signs = catalogue().concept("assessment.infection_signs")
    >>> [denies_some(signs, text) for text in ("no fever or chills", "none", "no fever, pus")]
    [True, False, False]
    """
    listed = concept.shape in ("choice", "choices") and concept.of is None and concept.group in FINDINGS
    if not listed or concept.answers is None or concept.answers.find(text) is not None:
        return False
    if nothing.names_nothing(text, *_names(concept)) or (concept.shape == "choice" and not concept.answers.find(NONE)):
        return False
    return denial.denies(text, _known(concept), _names(concept))


def _names(concept: Concept) -> tuple[str, ...]:
    return concept.label, concept.key.replace("_", " ")
