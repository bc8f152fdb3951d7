"""R4's date, dateTime and instant: whether the day exists, and which of two comes first.

The form of a text is R4's own regular expression (``definitions.pattern``); it lets 2026-02-30 pass, the calendar
does not.
"""

from __future__ import annotations

import re
from datetime import date, datetime

from woundfhir.precedence import precedes

#: The types that name a day.
DATES = frozenset(("date", "dateTime", "instant"))
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
_LEAP = re.compile(r"(T\d\d:\d\d:)60")


def is_real(text: str) -> bool:
    """Whether the day of a date exists; a year or a month alone always does.

    Parameters
    ----------
    text
        A date, dateTime or instant of R4's form.

    Examples
    --------
    >>> is_real("2026-02-30"), is_real("2028-02-29T23:59:60Z"), is_real("2026-02")
    (False, True, True)
    """
    try:
        return len(text) < 10 or bool(date.fromisoformat(text[:10]))
    except ValueError:
        return False


def without_leap(text: str) -> str:
    """Return the same text with the second before a leap second: Python has none, R4 does."""
    return _LEAP.sub(r"\g<1>59", text)


def instant(text: object) -> datetime | None:
    """Return an R4 instant (date, clock time with seconds, offset), or None for anything else.

    A leap second is read as the second before it.

    Examples
    --------
    >>> instant("2026-03-02T10:05:00Z").isoformat(), instant("2026-03-02"), instant("2026-02-30T10:05:00Z")
    ('2026-03-02T10:05:00+00:00', None, None)
    """
    return point(text) if isinstance(text, str) and _INSTANT.fullmatch(text) else None


def point(text: object) -> datetime | None:
    """Return the point in time that a text of others names, with or without seconds; None where it has no offset.

    Examples
    --------
    >>> point("2026-03-02T10:05-05:00").isoformat(), point("2026-03-02T10:05:00"), point("2026-03-02")
    ('2026-03-02T10:05:00-05:00', None, None)
    """
    found = _moment(text) if isinstance(text, str) else None
    return found if found is not None and found.tzinfo is not None else None


def is_before(one: object, other: object) -> bool | None:
    """Whether one time certainly lies before the other.

    Parameters
    ----------
    one, other
        Texts of R4's dateTime; anything else cannot be compared.

    Returns
    -------
    bool or None
        None where it cannot be known: partial dates that overlap, a clock time without offset, words.

    Examples
    --------
    >>> is_before("2026-03-02T10:00:00-05:00", "2026-03-02T15:30:00Z"), is_before("2026-03", "2026-03-15")
    (True, None)
    >>> is_before("2025", "2026-03-15"), is_before("2026-03-15", "last spring")
    (True, None)
    """
    if not (isinstance(one, str) and isinstance(other, str)):
        return None
    return precedes(one, _moment(one), other, _moment(other))


def _moment(text: str) -> datetime | None:
    """Return the first moment of a date, or None for what is none."""
    if not re.fullmatch(r"\d{4}(-\d\d(-\d\d(T.+)?)?)?", text, re.DOTALL):
        return None
    try:
        return datetime.fromisoformat(without_leap(text + "-01-01"[len(text) - 4 :] if len(text) < 10 else text))
    except ValueError:
        return None


#: HL7's TS (v3) and DTM (v2): digits as far as they are known, and an offset.
_DIGITS = re.compile(r"(\d{4})(\d\d)?(\d\d)?(?:(\d\d)(?:(\d\d)(?:(\d\d)(\.\d{1,9})?)?)?)?([+-]\d{4})?")


def from_digits(text: str) -> str | None:
    """Return a time in HL7's digits as R4 writes it, as precise as it is; None for what is no time of the calendar.

    An hour without minutes is no time in R4: the day is returned. A clock time without seconds, or without an offset,
    stays without: that is no R4 dateTime, and whoever writes it says so.

    Examples
    --------
    >>> from_digits("202603"), from_digits("202603021005-0500"), from_digits("20260302100512.5+0000")
    ('2026-03', '2026-03-02T10:05-05:00', '2026-03-02T10:05:12.5+00:00')
    >>> from_digits("20260230"), from_digits("00000000"), from_digits("2026030210")
    (None, None, '2026-03-02')
    """
    found = _DIGITS.fullmatch(text)
    if found is None:
        return None
    year, month, day, hour, minute, second, fraction, offset = found.groups()
    date_text = "-".join(part for part in (year, month, day) if part)
    if year == "0000" or (month or "01") == "00" or (month or "01") > "12" or not is_real(date_text):
        return None
    if (hour or "00") > "23" or (minute or "00") > "59" or (second or "00") > "60" or (hour and not day):
        return None
    if offset and (offset[1:3] > "14" or offset[3:] > "59"):
        return None
    if minute is None:
        return date_text
    clock = f"{date_text}T{hour}:{minute}{f':{second}' if second else ''}{fraction or ''}"
    return f"{clock}{offset[:3]}:{offset[3:]}" if offset else clock
