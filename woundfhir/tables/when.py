"""Dates and times as people write them in tables; the order of day and month is that of the mapping, never a guess."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from decimal import Decimal

from woundfhir.record import dates
from woundfhir.tables.layout import folded
from woundfhir.tables.sheet import Stamp

#: First letters of the months, without accents: English, then French. Source: common words, no source needed.
_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            ("jan", "january", "janv", "janvier"),
            ("feb", "february", "fev", "fevr", "fevrier"),
            ("mar", "march", "mars"),
            ("apr", "april", "avr", "avril"),
            ("may", "mai"),
            ("jun", "june", "juin"),
            ("jul", "july", "juil", "juillet"),
            ("aug", "august", "aou", "aout"),
            ("sep", "sept", "september", "septembre"),
            ("oct", "october", "octobre"),
            ("nov", "november", "novembre"),
            ("dec", "december", "decembre"),
        ),
        1,
    )
    for name in names
}
_NUMERIC = re.compile(r"(\d{1,4})\s*[-/. ]\s*(\d{1,2})\s*[-/. ]\s*(\d{1,4})")
_DAY_NAMED = re.compile(r"(\d{1,2})(?:er|st|nd|rd|th)?\s*[-/. ]?\s*([a-z]+)\.?,?\s*[-/. ]?\s*(\d{2,4})")
_NAMED_DAY = re.compile(r"([a-z]+)\.?\s*(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{2,4})")
#: A day whose year has two digits: read only where the mapping says so.
SHORT_YEAR = re.compile(r"\s*\d{1,2}\s*[-/. ]\s*(?:\d{1,2}|[^\W\d_]+\.?)\s*[-/. ]\s*\d{2}(?:\D.*)?")
#: A day as spreadsheets count it, of the years 1927 to 2173, with a part of it: fewer digits could be a year.
DAY_NUMBER = re.compile(r"(\d{5})(?:[.,](\d+))?")
#: Where they count from (ECMA-376 part 1, 18.17.4.1): day 60 of the first is a 29 February that never was.
_FIRST_DAYS = {"1900": datetime(1899, 12, 30), "1904": datetime(1904, 1, 1)}
_COMPACT = re.compile(r"(\d{4})(\d\d)(\d\d)")
_CLOCK = re.compile(r"(\d{1,2})\s*(?:[:h.]|heures?)\s*([0-5]\d)?(?::([0-5]\d)(?:\.\d+)?)?\s*([ap])?\.?(?:m\.?)?", re.I)
_WITH_CLOCK = re.compile(
    r"(.+?)(?:\s*[,T]\s*|\s+(?:(?:à|a|at)\s+)?)(\d{1,2}\s*(?:[:h]|heures?)\s*(?:\d\d)?(?::\d\d(?:\.\d+)?)?\s*(?:[ap]\.?m\.?)?)",
    re.IGNORECASE,
)
_ORDER = {"day first": (2, 1, 0), "month first": (2, 0, 1), "year first": (0, 1, 2)}
#: How each form is written, for messages.
SHOWN = {"day first": "dd/mm/yyyy", "month first": "mm/dd/yyyy", "year first": "yyyy/mm/dd"}


def read_day(text: str, form: str | None, *, short_years: bool = False) -> str | None:
    """Return a day in ISO 8601, None for what is none in this form.

    Parameters
    ----------
    text
        The day: in numbers, or with the name of its month in English or French.
    form
        ``day first``, ``month first``, ``year first``, or None: then only what has one meaning is read.
    short_years
        Whether 26 is 2026.

    Examples
    --------
    >>> read_day("02/03/2026", "day first"), read_day("02/03/2026", None), read_day("2 mars 2026", None)
    ('2026-03-02', None, '2026-03-02')
    >>> read_day("02/03/26", "month first", short_years=True), read_day("31/02/2026", "day first")
    ('2026-02-03', None)
    """
    plain = folded(text).strip(" .")
    if dates.moment(plain) is not None and not dates.has_clock(plain):
        return plain
    if (found := _COMPACT.fullmatch(plain)) is not None:
        return _day(found[1], found[2], found[3], False) if form == "year first" else None
    if (found := _NUMERIC.fullmatch(plain)) is not None:
        parts = found.groups()
        if len(parts[0]) > 2:
            return _day(parts[0], parts[1], parts[2], short_years)
        if form not in _ORDER or len(parts[2]) == 3:
            return None
        year, month, day = (parts[place] for place in _ORDER[form])
        return _day(year, month, day, short_years)
    if (found := _DAY_NAMED.fullmatch(plain)) is not None and found[2] in _MONTHS:
        return _day(found[3], str(_MONTHS[found[2]]), found[1], short_years)
    if (found := _NAMED_DAY.fullmatch(plain)) is not None and found[1] in _MONTHS:
        return _day(found[3], str(_MONTHS[found[1]]), found[2], short_years)
    return None


def _day(year: str, month: str, day: str, short_years: bool) -> str | None:
    if len(year) == 2 and short_years:
        year = f"20{year}"
    if len(year) != 4 or len(day) > 2:
        return None
    try:
        return date(int(year), int(month), int(day)).isoformat()
    except ValueError:
        return None


def read_clock(text: str) -> str | None:
    """Return a time of day as ``HH:MM``, None for what is none.

    Examples
    --------
    >>> read_clock("14 h 30"), read_clock("2:05 PM"), read_clock("8h"), read_clock("0930"), read_clock("25:00")
    ('14:30', '14:05', '08:00', '09:30', None)
    """
    bare = text.strip()
    if re.fullmatch(r"\d{4}", bare):
        bare = f"{bare[:2]}:{bare[2:]}"
    found = _CLOCK.fullmatch(bare)
    if found is None or (found[2] is None and not re.search("h", bare, re.I)):
        return None
    hour, half = int(found[1]), (found[4] or "").lower()
    if half and not 1 <= hour <= 12:
        return None
    hour = hour % 12 + 12 if half == "p" else hour % 12 if half == "a" else hour
    if hour > 23:
        return None
    return f"{hour:02d}:{found[2] or '00'}" + (f":{found[3]}" if found[3] else "")


def read_time(text: str, form: str | None, zone: str | None, *, short_years: bool = False) -> str | None:
    """Return a day, or a day with its clock time, in the form of the record; None for what is neither.

    Examples
    --------
    >>> read_time("02/03/2026 14h05", "day first", "America/Toronto")
    '2026-03-02T14:05:00-05:00'
    """
    if isinstance(text, Stamp):
        found = dates.tidy(str(text), zone)
        return found if dates.moment(found) is not None else None
    whole = dates.tidy(text.strip(), zone)
    if dates.moment(whole) is not None:
        return whole
    if (day := read_day(text, form, short_years=short_years)) is not None:
        return day
    parts = _WITH_CLOCK.fullmatch(text.strip())
    if parts is None:
        return None
    day, clock = read_day(parts[1], form, short_years=short_years), read_clock(parts[2])
    return None if day is None or len(day) < 10 or clock is None else dates.tidy(f"{day}T{clock}", zone)


def read_day_number(text: str, counted_from: str | None, zone: str | None) -> str | None:
    """Return the day, or the instant, that a spreadsheet's number stands for; None for what is no such number.

    Source: ECMA-376 part 1, 18.17.4.1: days since a first day, the part behind the point is the time of day.

    Examples
    --------
    >>> [read_day_number(text, year, None) for text, year in (("46083", "1900"), ("44621", "1904"), ("46083", None))]
    ['2026-03-02', '2026-03-02', None]
    >>> read_day_number("46083.4375", "1900", "America/Toronto"), read_day_number("2026", "1900", None)
    ('2026-03-02T10:30:00-05:00', None)
    """
    found = DAY_NUMBER.fullmatch(text.strip())
    if found is None or counted_from not in _FIRST_DAYS:
        return None
    part = Decimal(f"0.{found[2] or 0}")
    seconds = round(part * 86_400)
    instant = _FIRST_DAYS[counted_from] + timedelta(days=int(found[1]), seconds=seconds)
    if not part:
        return instant.date().isoformat()
    shown = instant.isoformat() if instant.second else instant.isoformat(timespec="minutes")
    return dates.tidy(shown, zone)
