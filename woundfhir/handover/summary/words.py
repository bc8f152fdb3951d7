"""A fact with its day, and times and people as a reader sees them; answers print themselves (``record.shapes``)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from woundfhir.handover.texts import say
from woundfhir.language import clock, weekday
from woundfhir.record import dates


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that is known.

    Attributes
    ----------
    label, text
        Its name, and its words.
    at
        When it was noted, as written, or None.
    about
        The wound that it is about.
    path
        Its concept.
    known
        Whether it is an answer; else the words say why there is none.
    """

    label: str
    text: str
    at: str | None = None
    about: str | None = None
    path: str = ""
    known: bool = True

    @property
    def dated(self) -> str:
        """The words with their day.

        Examples
        --------
        >>> Fact("Pain", "3 of 10", "2026-03-02T10:05:00-05:00").dated
        '3 of 10 (2026-03-02)'
        """
        return f"{self.text} ({short(self.at)})" if self.at else self.text


def short(at: str | None) -> str:
    """Return the day of a time; partial dates and other words as they are.

    Examples
    --------
    >>> short("2026-03-02T10:05:00-05:00"), short("2026-03"), short(None)
    ('2026-03-02', '2026-03', 'no date')
    """
    return say("fact.no_date") if at is None else at[:10] if dates.has_clock(at) and dates.moment(at) else at


def long(at: str | None) -> str:
    """Return a time with its weekday, and the clock where it is written.

    Examples
    --------
    >>> long("2026-04-07"), long("2026-04-05T10:10:00-04:00"), long("2026-04")
    ('Tue 2026-04-07', 'Sun 2026-04-05, 10:10', '2026-04')
    """
    day: date | None = dates.day(at)
    if at is None or day is None:
        return short(at)
    hour = f", {clock(at[11:16])}" if dates.has_clock(at) else ""
    return f"{weekday(day)} {at[:10]}{hour}"


def people(by: Mapping[str, str] | None) -> str | None:
    """Return an author in words.

    Examples
    --------
    >>> people({"name": "Nurse One", "designation": "RN", "organisation": "Invented Community Nursing"})
    'Nurse One, RN, Invented Community Nursing'
    """
    if not by:
        return None
    found = [by[key] for key in ("name", "designation", "role", "organisation", "phone") if key in by]
    return ", ".join(found) or by.get("id")
