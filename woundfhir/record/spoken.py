"""Answers in the language that holds: words, numbers with their units, yes and no, how often.

The record is not touched: what is said here is for the eyes alone. In English an answer is said as it is written.
"""

from __future__ import annotations

import re
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.catalogue.spelling import same_form
from woundfhir.language import ENGLISH, HARD_BLANK, decimal_mark, spoken
from woundfhir.record import quantity
from woundfhir.record.leaf import NONE
from woundfhir.record.rhythm import rhythm
from woundfhir.texts import tables

#: Sizes of things, as people write them: 10 x 10 cm, 2.5 cm by 4 cm.
_SIZED = re.compile(r"[\d.,]+(?: ?[a-z]+2?)?(?: ?(?:x|by|×) ?[\d.,]+(?: ?[a-z]+2?)?)+")


def _texts(table: str) -> dict[str, str]:
    found: dict[str, str] = tables("woundfhir.record")[table]
    return found


def _as_written() -> bool:
    """Whether answers are shown as they are written: in English, and in a language that has no words for them yet."""
    return spoken() is ENGLISH or "flags" not in tables("woundfhir.record")


def absent_words(reason: str) -> str:
    """Return in words that there is no answer, and why.

    Examples
    --------
    >>> absent_words("declined")
    'not given: declined'
    """
    listed = catalogue().answers["absent_reason"].find(reason)
    return _texts("answer")["absent"].format(reason=reason if listed is None else _word(reason, listed))


def word(concept: Concept, written: str) -> str:
    """Return one word of an answer; what its list does not know stays as it is written.

    Examples
    --------
    >>> from woundfhir.language import speaking
    >>> amount = catalogue().concept("assessment.exudate_amount")
    >>> with speaking("fr"):
    ...     word(amount, "moderate"), word(amount, "modéré"), word(amount, "medium")
    ('modéré', 'modéré', 'modéré («\\xa0medium\\xa0»)')
    """
    if concept.answers is None:
        return written
    # The concept may have been asked for before the language held: its list is that of the language.
    found = catalogue().answers.get(concept.answers.key, concept.answers).find(written)
    return written if found is None else _word(written, found)


def placed(side: Any, site: Any) -> str:
    """Return side and site of a wound in the order of the language; each may be missing.

    Examples
    --------
    >>> placed("left", "heel"), placed(None, "sacrum"), placed("left", None)
    ('left heel', 'sacrum', 'left')
    """
    group = catalogue().groups["wound"]
    there, where = (
        word(group[key], one) if isinstance(one, str) else "" for key, one in (("side", side), ("site", site))
    )
    if not there or not where:
        return there or where
    listed = group["side"].answers.find(side) if group["side"].answers else None
    texts = _texts("place")
    return texts.get(listed.word if listed else "", texts["other"]).format(side=there, site=where)


def labelled(label: str, words: str) -> str:
    """Return an answer behind its label."""
    return _texts("answer")["labelled"].format(label=label, words=words)


def is_one(number: object) -> bool:
    """Whether a number takes the form of one: in French so does 0."""
    return str(number) in tables("woundfhir.record")["answer"]["singular"]


def _word(written: str, found: Any) -> str:
    if _as_written() or found.shown == found.word:
        return written
    if same_form(written) in (same_form(found.word), same_form(found.shown)):
        return str(found.shown)
    if same_form(written) in map(same_form, found.forms):
        return written
    return _texts("answer")["own"].format(shown=found.shown, written=written)


def flag(written: str) -> str:
    """Return yes or no."""
    return written if _as_written() else _texts("flags").get(written, written)


def nothing(written: str) -> str:
    """Return the "none" of a group: looked for, and not there."""
    return written if _as_written() or written != NONE else _texts("answer")["none"]


def free(written: str) -> str:
    """Return a nurse's own words as they are written: only a bare "none", and a number, are said in the language."""
    if written == NONE and not _as_written():
        return _texts("answer")["none_at_all"]
    return number(written)


def number(written: str) -> str:
    """Return a number with its unit; digits stay as they are written.

    Examples
    --------
    >>> from woundfhir.language import speaking
    >>> with speaking("fr"):
    ...     number("4.10 cm"), number("1 d"), number("40 mm[Hg]"), number("60 %"), number("about 4 cm")
    ('4,10\\xa0cm', '1\\xa0jour', '40\\xa0mm\\xa0Hg', '60\\xa0%', 'about 4 cm')
    """
    if _as_written():
        return written
    found = quantity.parse(written)
    if found is None:
        return decimal_mark(written) if _SIZED.fullmatch(written) else written
    text = decimal_mark(f"{found.comparator or ''}{found.number}")
    return text if found.unit is None else f"{text}{HARD_BLANK}{unit_words(found.unit, many=found.value >= 2)}"


def unit_words(code: str, *, many: bool = False) -> str:
    """Return a unit, by its UCUM code, as people write it.

    Examples
    --------
    >>> unit_words("mm[Hg]"), unit_words("cm")
    ('mmHg', 'cm')
    """
    one, _, more = _texts("units").get(catalogue().units.get(code, code), code).partition("|")
    return more if many and more else one


def often(written: str) -> str:
    """Return a length of time, or how often.

    Examples
    --------
    >>> from woundfhir.language import speaking
    >>> with speaking("fr"):
    ...     often("3 times a week"), often("2-3 d"), often("Mon Wed Fri"), often("2 d"), often("as needed")
    ('3 fois par semaine', 'tous les 2 à 3 jours', 'lundi, mercredi, vendredi', '2\\xa0jours', 'as needed')
    """
    found = None if _as_written() else rhythm(written)
    if found is None:
        return number(written)
    texts = _texts("rhythm")
    if found.days:
        return ", ".join(texts[day] for day in found.days)
    one, _, more = texts[found.unit].partition("|")
    if found.longest is not None:
        return texts["range"].format(least=found.period, most=found.longest, period=more or one)
    return texts["times"].format(times=found.times, period=one)
