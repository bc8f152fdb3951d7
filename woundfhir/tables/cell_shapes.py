"""A cell read by the shape of the answer that its column is for: one function each, in one table."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

from woundfhir.catalogue import catalogue
from woundfhir.limits import ID_LENGTH
from woundfhir.record.leaf import NONE
from woundfhir.record.shapes import shape_of
from woundfhir.tables import when
from woundfhir.tables.cell_column import Column
from woundfhir.tables.cell_words import (
    ESTIMATE,
    HOUR,
    NIL,
    NO,
    OWN_WORDS,
    SCORE,
    SEVERAL,
    SEX,
    SHARE,
    TIDIED,
    YES,
    Fact,
    Read,
    concept_of,
    expected_of,
    fits,
    is_code,
    one_of,
    refused,
)
from woundfhir.tables.figures import read_figure
from woundfhir.tables.layout import folded
from woundfhir.tables.sheet import Number, Stamp
from woundfhir.tables.targets import Target

#: How many digits of a number a spreadsheet keeps (ECMA-376 leaves it to the program; all use IEEE 754 doubles).
_DIGITS = 15
_POWER = re.compile(r"\d(?:[.,]\d+)?E\+?\d+", re.I)


def read_text(column: Column, one: Target, text: str, unit: str | None) -> Read:
    if one.column == ("patient", "sex"):
        sex = SEX.get(folded(text))
        return column.read_as(one, sex or text, sex is not None and sex != text)
    if one.column[-1] == "id" and one.head in ("wound", "visit") and len(text) > ID_LENGTH:
        return refused(f"an id of at most {ID_LENGTH} characters")
    if one.column[:2] in (("patient", "identifiers"), ("wound", "id"), ("visit", "id")) and _is_rounded(text):
        return refused("every digit of the number: a spreadsheet rounded it. Give the column the format of text first")
    read = column.read_as(one, text)
    if column.system is not None and one.column[:2] == ("patient", "identifiers"):
        system = Fact(one, (*one.column[:-1], "system"), column.system)
        return read._replace(facts=(*read.facts, system))
    return read


def _is_rounded(text: str) -> bool:
    """Whether a spreadsheet rounded a number: it keeps 15 digits, and writes longer ones as 1.23457E+15."""
    whole = isinstance(text, Number) and len(text.lstrip("-0")) > _DIGITS and text.isdecimal()
    return whole or _POWER.fullmatch(text) is not None


def _date(column: Column, one: Target, text: str, unit: str | None) -> Read:
    short = column.short_years and one.column != ("patient", "born")
    found = None if isinstance(text, Number) else when.read_time(text, column.dates, column.zone, short_years=short)
    if found is None and not isinstance(text, Stamp):
        found = when.read_day_number(text, column.day_numbers, column.zone)
        found = found[:10] if found is not None and one.column == ("patient", "born") else found
    if found is not None and isinstance(text, Stamp) and one.column == ("patient", "born"):
        found = found.removesuffix("T00:00:00")  # how data frames hold days
    if found is None:
        shown = when.SHOWN.get(column.dates or "", "yyyy-mm-dd (the mapping gives no order of day and month)")
        if isinstance(text, Number) or text.isdigit():
            fix = 'give the cell the format of a date, or write "day_numbers" in the mapping'
            return refused(f"a date: {shown}. A bare number is none: {fix}")
        if when.SHORT_YEAR.fullmatch(text) and not short:
            return refused(f"a date with four digits of the year: {shown} (for visits short_years in the mapping)")
        return refused(f"a date: {shown}")
    return column.read_as(one, found, found != text)


def _time(column: Column, one: Target, text: str, unit: str | None) -> Read:
    stamp = isinstance(text, Stamp) and len(text) > 10
    found = when.read_clock(text[11:16] if stamp else text)
    return refused("a time of day: hh:mm") if found is None else column.read_as(one, found, found != text)


def _word(column: Column, one: Target, text: str, unit: str | None) -> Read:
    found = next((word for word in one.words if word == text.casefold()), None)
    return refused(f"one of {', '.join(one.words)}") if found is None else column.read_as(one, found, found != text)


def _quantity(column: Column, one: Target, text: str, unit: str | None) -> Read:
    concept = concept_of(one)
    if folded(text) in NIL:
        return Read((column.absent(one, text),), "understood", "why there is no answer")
    figure = None if isinstance(text, Stamp) else read_figure(text, column.decimal, unit)
    if figure is None:
        return refused(expected_of(concept, column.decimal))
    if figure.estimate:
        if figure.unit is not None and not fits(concept, figure.unit):
            return refused(expected_of(concept))
        return Read((column.fact(one, figure.text),), "reworded", ESTIMATE)
    fault = shape_of(concept).judge(concept, figure.text)
    if fault is None or (fault == "bare" and unit is None):
        return column.read_as(one, figure.text, figure.text != text and figure.text != f"{text} {figure.unit}")
    return refused(expected_of(concept, column.decimal))


def _interval(column: Column, one: Target, text: str, unit: str | None) -> Read:
    concept = concept_of(one)
    shape = shape_of(concept)
    bare = f"{text} {unit}" if unit and text.isdigit() else text
    written = shape.canonical(concept, bare, None, lambda path, value: None)
    if shape.judge(concept, str(written)) is None:
        return column.read_as(one, str(written), written != text)
    return Read((column.fact(one, text),), "reworded", OWN_WORDS)


def _whole(column: Column, one: Target, text: str, unit: str | None) -> Read:
    concept = concept_of(one)
    top = column.one.out_of or (int(Decimal(concept.high)) if concept.high else None)
    score = None if isinstance(text, Stamp) else SCORE.fullmatch(text)
    number = text
    if score is not None:
        if top is None or int(score[2]) != top:
            return refused(
                f"a number out of {top}" if top else 'a whole number; for 3/10 write "out_of" in the mapping'
            )
        number = score[1]
    if not isinstance(text, Stamp) and shape_of(concept).judge(concept, number) is None:
        return column.read_as(one, str(int(number)), number != text)
    figure = None if isinstance(text, Stamp) else read_figure(text.split("/")[0].strip(), column.decimal, None)
    if figure is not None and figure.estimate and figure.unit is None:
        return Read((column.fact(one, text),), "reworded", ESTIMATE)
    return refused(expected_of(concept))


def _flag(column: Column, one: Target, text: str, unit: str | None) -> Read:
    plain = folded(text)
    if plain in YES or plain in NO:
        answer = "yes" if plain in YES else "no"
        return column.read_as(one, answer, answer != text)
    return refused('yes or no (Y, N, O, N); for other words write "words" in the mapping')


def _clock(column: Column, one: Target, text: str, unit: str | None) -> Read:
    found = HOUR.fullmatch(text)
    if found is not None and 1 <= int(found[1]) <= 12:
        return column.read_as(one, found[1], found[1] != text)
    return refused("an hour of the clock face, 1 to 12")


def _choice(column: Column, one: Target, text: str, unit: str | None) -> Read:
    concept = concept_of(one)
    answers = concept.answers
    if answers is None or answers.find(text) is not None:
        return column.read_as(one, text)
    if folded(text) in NIL and answers.find(NONE) is not None and folded(text) not in NO:
        return column.read_as(one, NONE, True)
    if is_code(text):
        return refused(one_of(answers))
    return Read((column.fact(one, text),), "reworded", OWN_WORDS)


def _choices(column: Column, one: Target, text: str, unit: str | None) -> Read:
    answers = concept_of(one).answers
    parts = [text]
    if column.one.separator is not None:
        parts = [part.strip() for part in text.split(column.one.separator) if part.strip()]
    elif answers is not None and answers.find(text) is None:
        split = [part for part in SEVERAL.split(text) if part]
        parts = split if all(answers.find(part) for part in split) else [text]
    facts, fate, why = [], "understood", TIDIED
    for number, part in enumerate(parts):
        read = _choice(column, one, part, unit)
        if read.fate == "not-understood":
            return read
        if read.fate == "reworded":
            fate, why = read.fate, read.why
        facts += [fact._replace(column=(*fact.column, str(column.place * 100 + number))) for fact in read.facts]
    return Read(tuple(facts), fate, why)


def _share(column: Column, one: Target, text: str, unit: str | None) -> Read:
    concept = concept_of(one)
    word = len(one.column) > 2
    if word:
        figure = None if isinstance(text, Stamp) else read_figure(text, column.decimal, unit)
        if figure is None or (figure.unit and catalogue().units.get(figure.unit) != "%"):
            return refused("a share in %, 0 to 100")
        number = re.sub(r"[^\d.].*", "", figure.text)
        if not figure.estimate and number and 0 < Decimal(number) < 1 and "%" not in text:
            return refused("a share in %, 0 to 100. A part of one can be meant in two ways: write it with its %")
        if not figure.estimate and number and Decimal(number) > 100:
            return refused("a share in %, 0 to 100")
        if figure.estimate:
            return Read((column.fact(one, figure.text),), "reworded", ESTIMATE)
        return column.read_as(one, figure.text, figure.text != text)
    found = [(each[0] or each[3], each[1] or each[2]) for each in SHARE.findall(text)]
    named = [(concept.answers.find(name.strip()) if concept.answers else None, share) for name, share in found]
    rest = re.sub(r"[\s,;+&/.]|and|et", "", SHARE.sub("", text))
    if not named or rest or any(each is None for each, _ in named) or len({e.word for e, _ in named if e}) < len(named):
        return Read((column.fact(one, text),), "reworded", OWN_WORDS)
    facts = tuple(Fact(one, (*one.column, each.word), f"{share.replace(',', '.')} %") for each, share in named if each)
    return Read(facts, "understood", TIDIED)


def _group(column: Column, one: Target, text: str, unit: str | None) -> Read:
    if folded(text) in NIL or folded(text) in NO:
        return column.read_as(one, NONE, True)
    return column.read_as(one, text)


#: Shape -> how a cell of it is read.
SHAPES: dict[str, Callable[[Column, Target, str, str | None], Read]] = {
    "date": _date,
    "time": _time,
    "word": _word,
    "quantity": _quantity,
    "interval": _interval,
    "score": _whole,
    "count": _whole,
    "flag": _flag,
    "clock": _clock,
    "choice": _choice,
    "choices": _choices,
    "share": _share,
    "group": _group,
    "step": _group,
}
