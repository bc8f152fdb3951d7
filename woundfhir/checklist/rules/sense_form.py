"""Sense of single answers: units, numbers, dates, clock positions, placeholders, unknown keys. ``form.py`` looks."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import RecordView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.form import decimal_comma, odd
from woundfhir.record.canonical import UNKNOWN
from woundfhir.record.nearest import nearest
from woundfhir.record.shapes import shape_of
from woundfhir.record.spoken import unit_words
from woundfhir.texts import AsWritten

#: UCUM codes as people write them.


@rule("SE05", "clock-position", severity="sense", scope="record", group="sense")
def clock_position(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for one in odd(record, "clock"):
        yield Problem(one.path, field=one.label, value=one.value)


@rule("SE08", "number-without-unit", severity="sense", scope="record", group="sense")
def number_without_unit(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for one in odd(record, "bare"):
        wanted = shape_of(one.concept).unit(one.concept) if one.concept is not None else None
        unit = unit_words(wanted or "cm")
        yield Problem(one.path, "bare", field=one.label, unit=unit, value=one.value)


@rule("SE09", "unit-does-not-fit", severity="sense", scope="record", group="sense")
def unit_does_not_fit(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for one in odd(record, "unit"):
        units = shape_of(one.concept).units(one.concept) if one.concept is not None else ()
        fitting = AsWritten(unit_words(unit) for unit in units)
        yield Problem(one.path, "unit", field=one.label, units=fitting, value=one.value)


@rule("SE10", "number-not-readable", severity="sense", scope="record", group="sense")
def number_not_readable(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for one in odd(record, "number"):
        key = "comma" if decimal_comma(one.value) else "words"
        yield Problem(one.path, key, field=one.label, value=one.value)


@rule("SE11", "date-not-readable", severity="sense", scope="record", group="sense")
def date_not_readable(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for one in odd(record, "date"):
        yield Problem(one.path, field=one.label, value=one.value)


@rule("SE12", "time-without-offset", severity="sense", scope="record", group="sense")
def time_without_offset(record: RecordView, policy: Policy) -> Iterator[Problem]:
    found = odd(record, "offset")
    # One missing zone is one cause, however many times it shows.
    if found:
        key = "one" if len(found) == 1 else "several"
        yield Problem(found[0].path, key, field=found[0].label, more=len(found) - 1)


@rule("SE16", "placeholder", severity="sense", scope="record", group="sense")
def placeholder(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for one in odd(record, "placeholder"):
        yield Problem(one.path, "placeholder", field=one.label, value=one.value)
    for one in odd(record, "reason"):
        yield Problem(one.path, "reason", field=one.label, value=one.value)
    for one in odd(record, "zero"):
        yield Problem(one.path, "zero", field=one.label, value=one.value)


@rule("SE17", "key-not-understood", severity="sense", scope="record", group="sense")
def key_not_understood(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for index, one in enumerate(record.data.get("extra", ())):
        if one.get("from") == "record" and one.get("why") == UNKNOWN:
            # A key that is not known may hold anything: the place shown is the one around it.
            place = one.get("place", "").rpartition(".")[0]
            near = nearest(one.get("place", ""))
            yield Problem(
                place or f"extra[{index}]", "near" if near else "unknown", near=near or "", value=one.get("place")
            )


@rule("SE18", "number-out-of-range", severity="sense", scope="record", group="sense")
def number_out_of_range(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for one in odd(record, "range"):
        low, high = shape_of(one.concept).limits(one.concept) if one.concept is not None else (None, None)
        key = "above" if high is None else "between"
        yield Problem(one.path, key, field=one.label, low=str(low or 0), high=str(high), value=one.value)


@rule("SE19", "answer-of-another-kind", severity="sense", scope="record", group="sense")
def answer_of_another_kind(record: RecordView, policy: Policy) -> Iterator[Problem]:
    for one in odd(record, "whole"):
        yield Problem(one.path, "whole", field=one.label, value=one.value)
    for one in odd(record, "flag"):
        yield Problem(one.path, "flag", field=one.label, value=one.value)
