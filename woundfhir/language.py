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
from datetime import date, datetime, time

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
    locale
        By which days and numbers are written (Unicode CLDR, through Babel).
    """

    key: str
    tag: str
    code: str
    locale: str


#: English, in which entries, answers and rules are written first.
ENGLISH = Language("en", "en", "en", "en")
FRENCH = Language("fr", "fr-CA", "fr", "fr_CA")
LANGUAGES = {one.key: one for one in (ENGLISH, FRENCH)}
_SPOKEN: ContextVar[Language] = ContextVar("language that holds", default=ENGLISH)
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
_CLOCK = re.compile(r"(\d\d):(\d\d)")
#: A blank at which no line ends.
HARD_BLANK = "\u00a0"

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
    if spoken() is ENGLISH or "." not in text:
        return text
    from babel.numbers import get_decimal_symbol

    return _POINT.sub(get_decimal_symbol(spoken().locale), text)


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
    if spoken() is ENGLISH:
        return f"{number:,}"
    from babel.numbers import format_decimal

    return str(format_decimal(number, locale=spoken().locale))


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
    from babel.dates import format_date

    return str(format_date(day, "EEE", locale=spoken().locale))


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
    if spoken() is ENGLISH or found is None:
        return written
    from babel.dates import format_time

    try:
        at = time(int(found[1]), int(found[2]))
    except ValueError:
        return written
    return str(format_time(datetime.combine(date.min, at), "short", locale=spoken().locale)).replace(" ", HARD_BLANK)
