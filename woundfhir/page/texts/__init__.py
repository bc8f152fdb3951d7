"""The words of the page: one folder a language, with named slots; and the catalogue's words as a reader sees them."""

from __future__ import annotations

import re
from typing import Any

from markupsafe import Markup, escape

from woundfhir.catalogue import Concept, catalogue
from woundfhir.language import clock, decimal_mark, speaking, spoken, weekday
from woundfhir.record import dates
from woundfhir.record.spoken import flag
from woundfhir.record.spoken import word as spoken_word
from woundfhir.texts import Joiners, Slot, TextError, fill, tables

_DAY = re.compile(r"\b\d{4}-\d\d(?:-\d\d)?\b")
_JOINERS = Joiners("", "")
_UNIT = re.compile(r"(?<=\d) (?=(?:cm[2²]?|mm[2²]?|mL|L|%|d|h|mmHg|°C|g|wk)(?!\w))")


def language() -> str:
    """Return the language that the page speaks here."""
    return spoken().key


def say(key: str, **slots: Slot) -> str:
    """Return a text of the page with its slots filled.

    Raises
    ------
    TextError
        When there is no such text, or one of its slots is not given.

    Examples
    --------
    >>> say("group.next")
    'Next change'
    """
    found: Any = tables("woundfhir.page")["page"]
    for step in key.split("."):
        if not isinstance(found, dict) or step not in found:
            raise TextError(f"page/texts/{language()}: no text '{key}'")
        found = found[step]
    return fill(found, slots, {}, _JOINERS)


def answer_word(concept: Concept, word: str) -> str:
    """Return a word of an answer list as a reader sees it."""
    return flag(word) if concept.shape == "flag" else spoken_word(concept, word)


def unit_word(unit: str) -> str:
    """Return a unit as a reader sees it.

    Examples
    --------
    >>> unit_word("cm2"), unit_word("[in_i]")
    ('cm²', 'in')
    """
    shown: dict[str, str] = tables("woundfhir.page")["units"]
    return shown.get(unit, unit)


def number(text: str) -> str:
    """Return words with numbers as the language writes them, none parted from its unit.

    Examples
    --------
    >>> number("4.1 cm x 3 cm") == "4.1\u00a0cm x 3\u00a0cm"
    True
    """
    return _UNIT.sub("\u00a0", decimal_mark(text))


def whole(text: str) -> Markup:
    """Return words in which no day is parted at the end of a line.

    Examples
    --------
    >>> whole("since 2026-04-05 <b>")
    Markup('since <span class="whole">2026-04-05</span> &lt;b&gt;')
    """
    return Markup(_DAY.sub(r'<span class="whole">\g<0></span>', str(escape(text))))


def day_words(text: str | None) -> str:
    """Return a day, or a time, with its weekday; a partial date as it is.

    Examples
    --------
    >>> day_words("2026-04-07"), day_words("2026-04-05T10:10:00-04:00"), day_words("2026-04"), day_words(None)
    ('Tue 2026-04-07', 'Sun 2026-04-05, 10:10', '2026-04', 'no date')
    """
    if text is None:
        return say("no_date")
    day = dates.day(text)
    if day is None:
        return text
    hour = f", {clock(text[11:16])}" if dates.has_clock(text) else ""
    return f"{weekday(day)} {text[:10]}{hour}"


def reasons() -> list[tuple[str, str]]:
    """Return the reasons why there is no answer that the checklist takes for one."""
    listed = catalogue().answers["absent_reason"]
    return [(word.word, word.shown) for word in listed.words if "reason" in word.tags]


__all__ = ["answer_word", "day_words", "language", "number", "reasons", "say", "speaking", "unit_word", "whole"]
