"""Cells from answers: numbers in one unit, words of the lists with their codes, reasons, days."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from woundfhir.catalogue import Coding, Concept, catalogue
from woundfhir.chart.words import NONE, canonical
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.flat.schema import DIGITS, PLACES, Column
from woundfhir.measures.timing import bounds
from woundfhir.record.quantity import parse
from woundfhir.record.shapes import shape_of
from woundfhir.record.units import MeasureError, to_unit

Json = Any
#: Shapes whose answer is a number.
NUMBERS = frozenset(("quantity", "interval", "score", "count"))


class Number(NamedTuple):
    """A number in the unit that the catalogue asks for, else in its own; no value behind a comparator."""

    value: Decimal | None
    unit: str | None
    comparator: str | None
    written_value: Decimal | None
    written_unit: str | None


def fitting(value: Decimal | None) -> Decimal | None:
    """Return a number that a decimal column holds exactly, else None.

    Examples
    --------
    >>> fitting(Decimal("4.10")), fitting(Decimal("1e-19")), fitting(Decimal("1e20"))
    (Decimal('4.10'), None, None)
    """
    if value is None or not value.is_finite():
        return None
    exponent = value.as_tuple().exponent
    fits = isinstance(exponent, int) and exponent >= -PLACES and value.adjusted() < DIGITS - PLACES
    return value if fits else None


def number(concept: Concept, text: str) -> Number | None:
    """Return what a written number says, None for other words.

    Examples
    --------
    >>> length = catalogue().concept("assessment.length")
    >>> found = number(length, "41.0 mm")
    >>> found.value, found.unit, found.written_value, found.written_unit
    (Decimal('4.10'), 'cm', Decimal('41.0'), 'mm')
    >>> bound = number(length, "<0.5 cm")
    >>> bound.value, bound.comparator, bound.written_value, number(length, "about 4 cm")
    (None, '<', Decimal('0.5'), None)
    """
    found = parse(text)
    if found is None:
        return None
    own = {"score": "{score}", "quantity": "1" if concept.ratio else None}.get(concept.shape)
    unit = own if found.unit is None else catalogue().units.get(found.unit, found.unit)
    value, written, wanted = found.value, unit, shape_of(concept).unit(concept)
    if wanted is not None and unit is not None:
        with suppress(MeasureError):  # a month is no number of days: it stands in its own unit
            value, unit = to_unit(value, unit, wanted), wanted
    plain = None if found.comparator else fitting(value)
    return Number(plain, unit, found.comparator, fitting(found.value), written)


def measured(concept: Concept, answer: Json, unit: str | None = None) -> Decimal | None:
    """Return the number of an answer in one unit (that of the catalogue), None for everything else."""
    found = number(concept, answer) if isinstance(answer, str) else None
    wanted = unit or shape_of(concept).unit(concept)
    return found.value if found is not None and (wanted is None or found.unit == wanted) else None


def whole(answer: Json) -> int | None:
    """Return a whole number that a column of integers holds.

    Examples
    --------
    >>> whole("2"), whole("two"), whole("2.5"), whole({"absent": "not known"})
    (2, None, None, None)
    """
    return (
        int(answer) if isinstance(answer, str) and answer.isascii() and answer.isdigit() and len(answer) < 10 else None
    )


def text(answer: Json) -> str | None:
    """Return an answer that is words."""
    return answer if isinstance(answer, str) else None


def reason(answer: Json) -> str | None:
    """Return why there is no answer, by the word of the list where it has one."""
    if not (isinstance(answer, dict) and len(answer) == 1 and "absent" in answer):
        return None
    given = str(answer["absent"])
    found = catalogue().answers["absent_reason"].find(given)
    return found.word if found else given


class Named(NamedTuple):
    """A word of an answer list, and its first code."""

    word: str | None
    system: str | None
    code: str | None


NOTHING = Named(None, None, None)


def named(concept: Concept, written: Json) -> Named:
    """Return the list's word for what is written, with its first code; the word as written where no list has it."""
    if not isinstance(written, str):
        return NOTHING
    codes = _codes(concept, written)
    return Named(canonical(concept, written), codes[0].system if codes else None, codes[0].code if codes else None)


def _codes(concept: Concept, written: str) -> tuple[Coding, ...]:
    """Return the codes of a word in the order of writing: of a list of the concept, or of the hours of the clock."""
    options = fhir_shape(concept).options(concept, catalogue())
    entry = options.find(written) if options is not None else None
    return entry.written if entry is not None else ()


def coding(concept: Concept, answers: Mapping[str, Json]) -> Coding | None:
    """Return the first code of a concept, as our FHIR writes it."""
    found = concept.written(answers) if concept.known_as else concept.codings
    return found[0] if found else None


def span(answer: Json) -> tuple[date | None, date | None]:
    """Return the first and the last day that a written date can mean; none for other words.

    Examples
    --------
    >>> [day.isoformat() for day in span("2026-02")], span("last spring")
    (['2026-02-01', '2026-02-28'], (None, None))
    """
    try:
        return bounds(answer) if isinstance(answer, str) else (None, None)
    except MeasureError:
        return None, None


# -- what a column takes of an answer --------------------------------------------------------------


def _number(concept: Concept, answer: Json, unit: str) -> Decimal | None:
    return measured(concept, answer, unit or None)


def _unit(concept: Concept, answer: Json, unit: str) -> str | None:
    found = parse(answer)
    return None if found is None else found.unit


def _count(concept: Concept, answer: Json, unit: str) -> int | None:
    """How many items are written: 0 for "none", None where nothing is or a reason stands."""
    return len(answer) if isinstance(answer, list) else 0 if answer == NONE else None


#: ``gives`` of a column -> what it takes of an answer, in the unit of the column.
GIVES: Mapping[str, Callable[[Concept, Json, str], Any]] = {
    "number": _number,
    "unit": _unit,
    "whole": lambda concept, answer, unit: whole(answer),
    "count": _count,
    "written": lambda concept, answer, unit: text(answer),
    "absent": lambda concept, answer, unit: reason(answer),
    "word": lambda concept, answer, unit: named(concept, answer).word,
    "system": lambda concept, answer, unit: named(concept, answer).system,
    "code": lambda concept, answer, unit: named(concept, answer).code,
    "earliest": lambda concept, answer, unit: span(answer)[0],
    "latest": lambda concept, answer, unit: span(answer)[1],
}


def filled(
    columns: Iterator[tuple[Column, str]], concepts: Mapping[str, Concept], answers: Mapping[str, Json]
) -> dict[str, Any]:
    """Return the columns of a group from its answers."""
    return {column.name: GIVES[column.gives](concepts[key], answers.get(key), column.unit) for column, key in columns}
