"""A time in HL7's digits (v3 TS, v2 DTM) as members of a FHIR element, which remember where it stood."""

from __future__ import annotations

import re
from typing import Any

from woundfhir.fhir.elements import write_date
from woundfhir.fhir.terms import terms
from woundfhir.r4.origin import Leaf, Source, tagged
from woundfhir.r4.times import from_digits

Json = Any
_NO_DATE = "expected a day of the calendar, in digits"
_HOUR = "an hour without minutes, that FHIR cannot say: read as the day"
#: A clock time without seconds, which R4 asks for; it lets them be zero-filled.
_NO_SECONDS = re.compile(r"(T\d\d:\d\d)(?=$|[+-])")


def time_in_digits(source: Source, key: str, said: Leaf | None, *, day: bool = False) -> dict[str, Json]:
    """Return the members that say a time; what is no time is reported, and not read.

    Parameters
    ----------
    source
        Takes what is reported.
    key
        Name of the element.
    said
        The digits, and where they stood.
    day
        Whether the element holds a day alone.
    """
    if said is None:
        return {}
    text = from_digits(said.value)
    if text is None:
        source.report(said, "not-understood", _NO_DATE)
        return {}
    if len(text) == len("2026-03-02") and re.match(r"\d{10}", said.value):
        source.report(said, "not-understood", _HOUR)
    shown = text[:10] if day else _NO_SECONDS.sub(r"\1:00", text)
    made: dict[str, Json] = tagged(write_date(key, shown, terms().written_as), said.at)
    return made
