"""Sense of single answers: units, numbers, dates, clock positions, placeholders, unknown keys. ``form.py`` looks."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import RecordView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.form import decimal_comma, odd
from woundfhir.checklist.rules.helpers import listed
from woundfhir.record.canonical import UNKNOWN
from woundfhir.record.nearest import nearest
from woundfhir.record.shapes import shape_of

#: UCUM codes as people write them.
_SPOKEN = {"mm[Hg]": "mmHg", "Cel": "°C", "[degF]": "°F", "[in_i]": "in", "[psi]": "psi"}


@rule("SN05", "clock-position", severity="sense", scope="record", group="sense")
def clock_position(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """A clock position is not one of the hours 1 to 12.

    Why: Undermining and tunnels are found again by the hour, head of the client at 12. There is no other hour.
    Wrong: tunnels: [{clock: 14, depth: 2 cm}]
    Right: tunnels: [{clock: 2, depth: 2 cm}]
    Fix: Write one hour, 1 to 12, with the client's head at 12.
    Source: RNAO, Assessment and Management of Pressure Injuries, 3rd edition, 2016, wound assessment (clock face)
        (seen)
    """
    for one in odd(record, "clock"):
        yield Problem(one.path, f"{one.label}: not an hour from 1 to 12", value=one.value)


@rule("SN08", "number-without-unit", severity="sense", scope="record", group="sense")
def number_without_unit(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """A number stands without its unit.

    Why: Four can be centimetres or millimetres; nobody guesses.
    Wrong: length: 4.1
    Right: length: 4.1 cm
    Fix: Write the unit behind the number: cm, mL, mmHg, %, d.
    Source: common practice (common practice, no source)
    """
    for one in odd(record, "bare"):
        wanted = shape_of(one.concept).unit(one.concept) if one.concept is not None else None
        unit = _SPOKEN.get(wanted or "", wanted) or "cm"
        yield Problem(
            one.path,
            f"{one.label}: a number without its unit",
            f"Write the unit behind the number, for example {unit}.",
            one.value,
        )


@rule("SN09", "unit-does-not-fit", severity="sense", scope="record", group="sense")
def unit_does_not_fit(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """A unit is not known, or does not fit what is measured.

    Why: A length in millilitres, or a unit that nobody else writes, is lost at the next system.
    Wrong: length: 4.1 mL
    Right: length: 4.1 cm
    Fix: Write a unit that fits.
    Source: The Unified Code for Units of Measure (published standard)
    """
    for one in odd(record, "unit"):
        units = shape_of(one.concept).units(one.concept) if one.concept is not None else ()
        yield Problem(
            one.path,
            f"{one.label}: the unit is not known or does not fit",
            f"Write {listed((_SPOKEN.get(one, one) for one in units), 'or')}.",
            one.value,
        )


@rule("SN10", "number-not-readable", severity="sense", scope="record", group="sense")
def number_not_readable(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """Where a number with its unit should stand, other words stand, or a decimal comma.

    Why: "About four" and "4,1" cannot be compared next week, and a comma can turn 4.1 into 41.
    Wrong: length: 4,1 cm
    Right: length: 4.1 cm
    Fix: Write one number with a decimal point and its unit; words go into the note.
    Source: HL7 FHIR R4, data type decimal (published standard)
    """
    for one in odd(record, "number"):
        what = "a decimal comma" if decimal_comma(one.value) else "not readable as a number with a unit"
        fix = "Write a decimal point: 4.1, not 4,1." if decimal_comma(one.value) else ""
        yield Problem(one.path, f"{one.label}: {what}", fix, one.value)


@rule("SN11", "date-not-readable", severity="sense", scope="record", group="sense")
def date_not_readable(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """A date cannot be read.

    Why: 03/04 is March to one reader and April to another; a day that does not exist was never written on it.
    Wrong: onset: 03/04/26
    Right: onset: 2026-04-03; or 2026-04; or 2026
    Fix: Write year-month-day; leave out what you do not know.
    Source: ISO 8601, as HL7 FHIR R4 uses it in dateTime (published standard)
    """
    for one in odd(record, "date"):
        yield Problem(one.path, f"{one.label}: not readable as a date", value=one.value)


@rule("SN12", "time-without-offset", severity="sense", scope="record", group="sense")
def time_without_offset(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """A clock time stands without the offset of its time zone.

    Why: The record travels; ten o'clock is another moment in the next province, and twice a year at home.
    Wrong: at: 2026-03-02T10:05
    Right: at: 2026-03-02T10:05-05:00; or zone: America/Toronto once for the whole record
    Fix: Write the offset behind the time, or 'zone' at the top of the record.
    Source: HL7 FHIR R4, dateTime: a clock time carries an offset (published standard)
    """
    found = odd(record, "offset")
    # One missing zone is one cause, however many times it shows.
    if found:
        others = f", and {len(found) - 1} more" if len(found) > 1 else ""
        yield Problem(found[0].path, f"{found[0].label}: a clock time without its offset{others}")


@rule("SN16", "placeholder", severity="sense", scope="record", group="sense")
def placeholder(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """A field is filled with something that says nothing: "n/a", "xxx", or 0 cm for "not measured".

    Why: A blank is honest, a filler looks like an answer. "Not there", "not looked for" and "not written" are three
        things.
    Wrong: odour: n/a, length: 0 cm
    Right: odour: none; or odour: {absent: not assessed}
    Fix: Write the answer, or {absent: reason}, or leave it blank.
    Source: common practice: a blank is not a negative (common practice, no source)
    """
    for one in odd(record, "placeholder"):
        yield Problem(one.path, f"{one.label}: a filler, not an answer", value=one.value)
    for one in odd(record, "reason"):
        yield Problem(
            one.path,
            f"{one.label}: a reason stands where the answer should",
            "Write it as {absent: reason}, so that nobody takes it for a finding.",
            one.value,
        )
    for one in odd(record, "zero"):
        yield Problem(
            one.path,
            f"{one.label}: nought on an open wound",
            "Measure it; if it was not measured, write {absent: not performed}; if it has closed, say so.",
            one.value,
        )


@rule("SN17", "key-not-understood", severity="sense", scope="record", group="sense")
def key_not_understood(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """Something in the record has no place in it, and is kept under "extra".

    Why: What stands under a misspelt key is not lost, but nobody who reads the wound finds it.
    Wrong: assessment: {lenght: 4.1 cm}
    Right: assessment: {length: 4.1 cm}
    Fix: Look at the place, and write it under the right key; `woundfhir catalogue` lists them all.
    Source: arithmetic of the record itself (arithmetic)
    """
    for index, one in enumerate(record.data.get("extra", ())):
        if one.get("from") == "record" and one.get("why") == UNKNOWN:
            # A key that is not known may hold anything: the place shown is the one around it.
            place = one.get("place", "").rpartition(".")[0]
            near = nearest(one.get("place", ""))
            found = "A key that is not known; what stood there is kept under 'extra'"
            fix = f"Did you mean '{near}'? Write it under the right key." if near else ""
            yield Problem(place or f"extra[{index}]", found, fix, one.get("place"))


@rule("SN18", "number-out-of-range", severity="sense", scope="record", group="sense")
def number_out_of_range(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """A number lies outside what the scale or the body allows.

    Why: A pain of 14, a length of 410 cm, a share of 130 % is a slip of the pen.
    Wrong: pain_at_rest: 14
    Right: pain_at_rest: 4
    Fix: Correct the number.
    Source: the limits that the catalogue gives for each concept (arithmetic)
    """
    for one in odd(record, "range"):
        low, high = shape_of(one.concept).limits(one.concept) if one.concept is not None else (None, None)
        limits = f"from {low or 0} to {high}" if high is not None else f"of {low or 0} or above"
        yield Problem(
            one.path, f"{one.label}: outside its range", f"Correct it: a number {limits} belongs here.", one.value
        )


@rule("SN19", "answer-of-another-kind", severity="sense", scope="record", group="sense")
def answer_of_another_kind(record: RecordView, policy: Policy) -> Iterator[Problem]:
    """Where a whole number, or yes or no, should stand, something else stands.

    Why: "A lot" under a pain score and "partly" under yes or no cannot be compared or counted.
    Wrong: pain_at_rest: bad, end_felt: maybe
    Right: pain_at_rest: 7, end_felt: no
    Fix: Write a whole number, or yes or no; other words go into the note.
    Source: common practice (common practice, no source)
    """
    for one in odd(record, "whole"):
        yield Problem(
            one.path,
            f"{one.label}: not a whole number",
            "Write a whole number; other words go into the note.",
            one.value,
        )
    for one in odd(record, "flag"):
        yield Problem(
            one.path, f"{one.label}: neither yes nor no", "Write yes or no; other words go into the note.", one.value
        )
