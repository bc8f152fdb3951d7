"""How often in words that are no single length of time: so many times a week, named days, two to three days."""

from __future__ import annotations

import re
from typing import NamedTuple

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_LONG = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_NUMBERS = {"once": 1, "twice": 2, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6}
_UNITS = {"day": "d", "d": "d", "week": "wk", "wk": "wk", "month": "mo", "mo": "mo"}
_TIMES = re.compile(
    r"(?:(\d{1,2}|one|two|three|four|five|six) ?(?:x|times)|(once|twice))"
    r" ?(?:a|per|/|each|every)? ?(day|d|week|wk|month|mo)"
)
_RANGE = re.compile(r"(?:every |q ?)?(\d{1,2}) ?(?:-|\u2013|to) ?(\d{1,2}) ?(day|d|week|wk|month|mo)s?")


class Rhythm(NamedTuple):
    """So many times in a period (a UCUM unit), at most every ``longest`` periods, on the named days."""

    times: int
    period: int
    unit: str
    longest: int | None = None
    days: tuple[str, ...] = ()


def rhythm(text: str) -> Rhythm | None:
    """Return the rhythm that words say; None for other words.

    Examples
    --------
    >>> rhythm("3 times a week")
    Rhythm(times=3, period=1, unit='wk', longest=None, days=())
    >>> rhythm("2-3 d")
    Rhythm(times=1, period=2, unit='d', longest=3, days=())
    >>> rhythm("Mon, Wed and Fri").days, rhythm("3-2 d"), rhythm("when wet")
    (('mon', 'wed', 'fri'), None, None)
    """
    plain = " ".join(text.casefold().split()).rstrip(".")
    if found := _TIMES.fullmatch(plain):
        word = found[1] or found[2]
        times = _NUMBERS.get(word) or int(word)
        return Rhythm(times, 1, _UNITS[found[3]]) if times else None
    if found := _RANGE.fullmatch(plain):
        least, most = int(found[1]), int(found[2])
        return Rhythm(1, least, _UNITS[found[3]], most) if 0 < least < most else None
    words = [word for word in re.split(r"[ ,/;+&]+", plain) if word and word not in ("and", "on", "every")]
    days = [_day(word) for word in words]
    if days and None not in days and len(set(days)) == len(days):
        return Rhythm(len(days), 1, "wk", days=tuple(day for day in DAYS if day in days))
    return None


def _day(word: str) -> str | None:
    single = word.removesuffix("s")
    return next((short for short, long in zip(DAYS, _LONG, strict=True) if single in (short, long)), None)
