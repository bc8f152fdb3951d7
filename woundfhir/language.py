"""The language that people read: which there are, which one holds here, and how it writes numbers, days and times.

A language holds in one context (``contextvars``), as a site's catalogue does: in a ``with`` block and what it calls,
for no other thread, and not after the block. The functions that make something for people take it as an argument and
open the block; what is below them asks ``spoken``. The record and its FHIR are the same in every language.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, time

from woundfhir.errors import InputError


@dataclass(frozen=True, slots=True)
class Language:
    """A language that everything for people is written in.

    Attributes
    ----------
    key
        The name of its folders of texts.
    tag
        As pages name it (BCP 47).
    code
        As FHIR resources name it: R4's common languages (http://hl7.org/fhir/ValueSet/languages) hold ``fr`` and no
        ``fr-CA``, and a validator without a terminology server refuses others.
    decimal, thousands, weekdays, hour
        How numbers, days (from Monday) and hours (``strftime``) are written: Unicode CLDR of the tag, to which the
        tests hold them through Babel. Babel itself, with every language there is, would be a third of what is
        installed.
    """

    key: str
    tag: str
    code: str
    decimal: str
    thousands: str
    weekdays: tuple[str, ...]
    hour: str


#: A blank at which no line ends.
HARD_BLANK = "\u00a0"
#: English, in which entries, answers and rules are written first; its hours stand as in a chart, by 24.
ENGLISH = Language("en", "en", "en", ".", ",", ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), "%H:%M")
_DAYS_FR = ("lun.", "mar.", "mer.", "jeu.", "ven.", "sam.", "dim.")
FRENCH = Language("fr", "fr-CA", "fr", ",", HARD_BLANK, _DAYS_FR, f"%H{HARD_BLANK}h{HARD_BLANK}%M")
LANGUAGES = {one.key: one for one in (ENGLISH, FRENCH)}
_SPOKEN: ContextVar[Language] = ContextVar("language that holds", default=ENGLISH)
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
_CLOCK = re.compile(r"(\d\d):(\d\d)")

spoken = _SPOKEN.get


def named(tag: str) -> Language:
    """Return a language by its tag, or by the name of a locale.

    Raises
    ------
    InputError
        Where there are no texts in it.

    Examples
    --------
    >>> named("fr-CA").key, named("fr").key, named("fr_CA.UTF-8").key, named("EN").key
    ('fr', 'fr', 'fr', 'en')
    """
    found = LANGUAGES.get(re.split(r"[-_.@]", tag.strip().casefold())[0])
    if found is None:
        raise InputError("the language", f"one of {', '.join(LANGUAGES)}", "Choose one of them")
    return found


@contextmanager
def speaking(tag: str | Language) -> Iterator[Language]:
    """Let a language hold until the block ends.

    Examples
    --------
    >>> with speaking("fr"):
    ...     spoken().tag
    'fr-CA'
    >>> spoken().tag
    'en'
    """
    language = tag if isinstance(tag, Language) else named(tag)
    token = _SPOKEN.set(language)
    try:
        yield language
    finally:
        _SPOKEN.reset(token)


def decimal_mark(text: str) -> str:
    """Return text with the decimal sign of the language; digits stay as they are written.

    Examples
    --------
    >>> with speaking("fr"):
    ...     decimal_mark("4.10 cm x 3 cm")
    '4,10 cm x 3 cm'
    """
    return _POINT.sub(spoken().decimal, text)


def grouped(number: int) -> str:
    """Return a whole number with its thousands apart.

    Examples
    --------
    >>> grouped(1250)
    '1,250'
    >>> with speaking("fr"):
    ...     grouped(1250)
    '1\xa0250'
    """
    return f"{number:,}".replace(",", spoken().thousands)


def weekday(day: date) -> str:
    """Return the short name of a day of the week.

    Examples
    --------
    >>> weekday(date(2026, 4, 7))
    'Tue'
    >>> with speaking("fr"):
    ...     weekday(date(2026, 4, 7))
    'mar.'
    """
    return spoken().weekdays[day.weekday()]


def clock(written: str) -> str:
    """Return a time of day, written as ``10:05``, as the language writes it.

    Examples
    --------
    >>> clock("14:30")
    '14:30'
    >>> with speaking("fr"):
    ...     clock("14:30")
    '14\xa0h\xa030'
    """
    found = _CLOCK.fullmatch(written)
    if found is None:
        return written
    try:
        return time(int(found[1]), int(found[2])).strftime(spoken().hour)
    except ValueError:
        return written
