"""The known key nearest to a misspelt one, and the words of an answer list nearest to one that it does not know."""

from __future__ import annotations

import re
from difflib import get_close_matches

from woundfhir.catalogue import AnswerList, catalogue, frame
from woundfhir.catalogue.spelling import same_form

_NUMBER = re.compile(r"\[\d+\]")
#: How alike two spellings must be: one letter in five may differ. "pain" is not "plan".
_ALIKE = 0.76


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

    Examples
    --------
    >>> nearest_words(catalogue().answers["dressing"], "hony gell"), nearest_words(catalogue().answers["side"], "zzz")
    (['honey gel'], [])
    """
    found = get_close_matches(same_form(word), answers.by_word, n=6, cutoff=_ALIKE)
    return list(dict.fromkeys(answers.by_word[form].shown for form in found))[:2]


def _known(holder: str) -> list[str]:
    """Return the keys that may stand in what a key holds."""
    known = catalogue()
    if not holder:
        return list(frame().record.keys)
    group = {"supplies": "supply", "photos": "photo"}.get(holder, holder)
    keys = [key for part in frame().parts.values() for key in part.keys]
    fields = {key for one in known.concepts() if one.key == holder for key in one.fields}
    return sorted(fields) or [*known.groups.get(group, {**known.groups["wound"], **known.groups["visit"]}), *keys]
