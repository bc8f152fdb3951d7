"""The known key nearest to a misspelt one, and the words of an answer list nearest to one that it does not know."""

from __future__ import annotations

import re
from difflib import get_close_matches

from woundfhir.catalogue import ENTRY_LISTS, AnswerList, catalogue, frame
from woundfhir.catalogue.spelling import same_form

_NUMBER = re.compile(r"\[\d+\]")
#: How alike two spellings must be: one letter in five may differ. "pain" is not "plan".
_ALIKE = 0.76
#: Words that turn a sentence round (English and French): one letter more or less there is the opposite, no slip.
#: Fewer than those of ``catalogue.denial``, which parts a phrase: "resolved" denies there, and is an answer here.
_DENIES = re.compile(
    r"\b(?:no|not|non|nil|none|never|without|neg|negative|den(?:y|ies|ied)|absent|pas|sans|aucune?|nie|jamais)\b"
    r"|^(?:not|non|nil|sans|aucun)"  # as the beginning of a word too: "nonpurulent"
)


def nearest(place: str) -> str | None:
    """Return the known key that a misspelt one is nearest to, or None where none is near.

    Parameters
    ----------
    place
        Where the key stands, such as ``visits[0].wounds[0].assessment.lenght``.

    Examples
    --------
    >>> nearest("visits[0].wounds[0].assessment.lenght"), nearest("visit"), nearest("favourite_colour")
    ('length', 'visits', None)
    >>> nearest("visits[0].wounds[0].assessment.undermining[0].dephth")
    'depth'
    """
    *above, key = _NUMBER.sub("", place).split(".")
    found = get_close_matches(key, _known(above[-1] if above else ""), n=1, cutoff=_ALIKE)
    return found[0] if found else None


def nearest_words(answers: AnswerList, word: str) -> list[str]:
    """Return the words of an answer list that an unknown one is nearest to, the nearest first; two at most.

    What denies is never near what does not: "not heavy" is no slip for "heavy", "?infection" none for "no infection".

    Examples
    --------
    >>> nearest_words(catalogue().answers["dressing"], "hony gell"), nearest_words(catalogue().answers["side"], "zzz")
    (['honey gel'], [])
    """
    written = same_form(word)
    denies = _DENIES.search(word.casefold()) is not None or _DENIES.search(written) is not None
    alike = [form for form in answers.by_word if (_DENIES.search(form) is not None) is denies]
    found = get_close_matches(written, alike, n=6, cutoff=_ALIKE)
    return list(dict.fromkeys(answers.by_word[form].shown for form in found))[:2]


def _known(holder: str) -> list[str]:
    """Return the keys that may stand in what a key holds."""
    known = catalogue()
    if not holder:
        return list(frame().record.keys)
    group = ENTRY_LISTS.get(holder, holder)
    keys = [key for part in frame().parts.values() for key in part.keys]
    fields = {key for one in known.concepts() if one.key == holder for key in one.fields}
    return sorted(fields) or [*known.groups.get(group, {**known.groups["wound"], **known.groups["visit"]}), *keys]
