"""Dates as written: partial dates stay partial, a clock time carries seconds and an offset.

FHIR R4 (datatypes, dateTime) asks for seconds and an offset with every clock time; it lets minutes be
zero-filled, and so the canonical form does. An offset that is not written is taken from the record's
``zone``; without a zone nothing is added, and ``check`` says so.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from woundfhir.errors import InputError
from woundfhir.precedence import precedes

_DATE = re.compile(r"(\d{4})(?:-(0[1-9]|1[0-2])(?:-(0[1-9]|[12]\d|3[01]))?)?")
_CLOCK = re.compile(
    r"(\d{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01]))[T ]([01]\d|2[0-3]):([0-5]\d)(?::([0-5]\d|60)(\.\d+)?)?"
    r"\s?(Z|[+-](?:0\d|1[0-4]):[0-5]\d)?"
)
_OFFSET = re.compile(r"Z|[+-](?:0\d|1[0-4]):[0-5]\d")
#: R4 dateTime: a partial date, or a date with clock time, seconds and offset.
DATETIME = re.compile(
    r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01])(T([01]\d|2[0-3]):[0-5]\d:([0-5]\d|60)(\.\d+)?(Z|[+-](0\d|1[0-4]):[0-5]\d))?)?)?"
)


def given_day(text: str | None, where: str) -> date | None:
    """Return the day that a user gives, such as the one to judge on; None for none.

    Raises
    ------
    InputError
        For what is no date; ``where`` says what it was given for.
    """
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        raise InputError(where, "a date such as 2026-03-31", "Write year, month and day") from None


def _real_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return text >= "0001"


def tidy(text: str, zone: str | None = None) -> str:
    """Return the canonical form of a date or date and time; other text comes back as it was.

    Parameters
    ----------
    text
        ``YYYY``, ``YYYY-MM``, ``YYYY-MM-DD`` or a date with clock time, with ``T`` or a space between.
    zone
        IANA zone or fixed offset of the record, used only where no offset is written. A local time that the zone
        has twice or not at all (a night on which the clocks change) stays without one: nobody knows which it was.

    Examples
    --------
    >>> tidy("2026-03-02T10:05-05:00"), tidy("2026-03"), tidy("last spring")
    ('2026-03-02T10:05:00-05:00', '2026-03', 'last spring')
    >>> tidy("2026-03-02 10:05", "America/Toronto"), tidy("2026-03-02 10:05")
    ('2026-03-02T10:05:00-05:00', '2026-03-02T10:05:00')
    """
    found = _CLOCK.fullmatch(text)
    if not found or not _real_day(found[1]):
        return text
    day, hour, minute, second, fraction, offset = found.groups()
    clock = f"{day}T{hour}:{minute}:{second or '00'}{fraction or ''}"
    if offset is None and zone:
        offset = _offset(zone, f"{day}T{hour}:{minute}:00")
    return clock + (offset or "")


@lru_cache(maxsize=256)
def named_zone(name: object) -> tzinfo | None:
    """Return a zone by its IANA name or fixed offset; None where the text is neither.

    Examples
    --------
    >>> named_zone("America/Toronto").key, str(named_zone("-05:00")), named_zone("Nowhere/Town")
    ('America/Toronto', 'UTC-05:00', None)
    """
    if not isinstance(name, str) or not name:
        return None
    if _OFFSET.fullmatch(name):
        return datetime.fromisoformat(f"2000-01-01T00:00:00{name}").tzinfo
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


@lru_cache(maxsize=4096)
def _offset(name: str, local: str) -> str:
    """The offset of a local time in a zone; none for an hour that the zone has twice or not at all."""
    if _OFFSET.fullmatch(name):
        return name
    found = named_zone(name)
    try:
        here = [datetime.fromisoformat(local).replace(tzinfo=found, fold=fold).utcoffset() for fold in (0, 1)]
    except (ValueError, OverflowError):
        return ""
    shift = here[0]
    if shift is None or here[0] != here[1]:
        return ""
    minutes = int(shift.total_seconds() // 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


@lru_cache(maxsize=65536)
def is_fhir(text: str) -> bool:
    """Whether the text can stand as an R4 dateTime as it is.

    Examples
    --------
    >>> is_fhir("2026-03"), is_fhir("2026-03-02T10:05:00"), is_fhir("2026-02-30")
    (True, False, False)
    """
    return bool(DATETIME.fullmatch(text)) and (len(text) < 10 or _real_day(text[:10]))


def fault(text: str) -> str | None:
    """Return what keeps a text from being a date: ``date`` (not readable, or no such day), ``offset``, or None.

    Examples
    --------
    >>> fault("2026-02-30"), fault("2026-03-02T10:05:00"), fault("2026-03")
    ('date', 'offset', None)
    """
    if moment(text) is None:
        return "date"
    return "offset" if has_clock(text) and not is_fhir(text) else None


def has_clock(text: str) -> bool:
    """Whether a clock time is written."""
    return len(text) > 10 and text[10] == "T"


@lru_cache(maxsize=65536)
def moment(text: object) -> datetime | None:
    """Return a point in time for ordering: the start of a partial date, in the offset written or none.

    Examples
    --------
    >>> moment("2026-03").isoformat(), moment("unknown")
    ('2026-03-01T00:00:00', None)
    """
    if not isinstance(text, str):
        return None
    found = _DATE.fullmatch(text)
    try:
        if found:
            return datetime(int(found[1]), int(found[2] or 1), int(found[3] or 1))
        clock = _CLOCK.fullmatch(text)
        if clock and clock[4] == "60":  # A leap second, which Python does not know: the second after it.
            return datetime.fromisoformat(text.replace(" ", "T").replace(":60", ":59")) + timedelta(seconds=1)
        if clock:
            return datetime.fromisoformat(text.replace(" ", "T"))
    except (ValueError, OverflowError):
        return None
    return None


def day(text: object) -> date | None:
    """Return the calendar day as written (no change of zone), or None for a partial date or other words.

    Examples
    --------
    >>> day("2026-03-02T23:30:00-05:00").isoformat(), day("2026-03")
    ('2026-03-02', None)
    """
    if not isinstance(text, str) or len(text) < 10:
        return None
    return date.fromisoformat(text[:10]) if moment(text) is not None else None


def earlier(one: object, other: object) -> bool | None:
    """Whether one time lies before the other; None where that is not known (partial, or offset missing).

    Examples
    --------
    >>> earlier("2026-03-02T10:00:00-05:00", "2026-03-02T15:30:00Z"), earlier("2026-03", "2026-03-15")
    (True, None)
    """
    if not isinstance(one, str) or not isinstance(other, str):
        return None
    return precedes(one, moment(one), other, moment(other))


def same_day(one: object, other: object) -> bool | None:
    """Whether two times are of one calendar day, where the first was written; None where one of them has no day.

    Examples
    --------
    >>> same_day("2026-03-02T20:30:00-05:00", "2026-03-03T01:30:00Z"), same_day("2026-03-02", "2026-03-03T01:30:00Z")
    (True, False)
    """
    days = day(one), day(other)
    here, there = moment(one), moment(other)
    if None in days or here is None or there is None:
        return None
    if here.tzinfo is None or there.tzinfo is None:
        return days[0] == days[1]
    try:
        return days[0] == there.astimezone(here.tzinfo).date()
    except OverflowError:
        return days[0] == days[1]


def instant(text: str) -> str:
    """Return a time by which what is at one instant is held together: in UTC where it has an offset, else as it is.

    Examples
    --------
    >>> instant("2026-03-02T10:00:00-05:00") == instant("2026-03-02T15:00:00Z"), instant("2026-03-02")
    (True, '2026-03-02')
    """
    found = moment(text)
    try:
        return text if found is None or found.tzinfo is None else found.astimezone(UTC).isoformat()
    except OverflowError:
        return text
