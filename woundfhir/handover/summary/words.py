"""Answers as plain words, and which notes count: what the sheet and the document both read from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart import open_record
from woundfhir.record import History, dates
from woundfhir.record.answers import NONE, absent

Json = Any
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that is known: its name, in words, when it was noted (as written, or None), about which wound."""

    label: str
    text: str
    at: str | None = None
    about: str | None = None

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
    return "no date" if at is None else at[:10] if dates.has_clock(at) and dates.moment(at) else at


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
    clock = f", {at[11:16]}" if dates.has_clock(at) else ""
    return f"{_DAYS[day.weekday()]} {at[:10]}{clock}"


def said(concept: Concept, value: Json) -> str:
    """Return an answer in words; a group as its fields.

    Examples
    --------
    >>> said(catalogue().concept("assessment.tissue"), {"granulation": "90 %", "slough": "10 %"})
    'granulation 90 %, slough 10 %'
    >>> said(catalogue().concept("assessment.odour"), {"absent": "not assessed"})
    'not given: not assessed'
    """
    if (missing := absent(value)) is not None:
        return f"not given: {missing.get('absent', '')}"
    if isinstance(value, str):
        return value
    if isinstance(value, list):
        return "; ".join(said(concept, item) for item in value) if concept.is_group else ", ".join(map(str, value))
    if concept.is_group:
        return group_words(concept, value)
    return ", ".join(f"{word} {said(concept, amount)}" for word, amount in value.items())


def group_words(concept: Concept, item: Mapping[str, Json], leave_out: tuple[str, ...] = ()) -> str:
    """Return one group in words: its main field first, the others with their labels, the note last.

    Examples
    --------
    >>> concept = catalogue().concept("care.primary_dressing")
    >>> group_words(concept, {"dressing": "honey alginate", "size": "10 x 10 cm", "pieces": "1", "cut_to_fit": "yes"})
    'honey alginate, 10 x 10 cm, 1 piece, cut to fit'
    """
    main = concept.main
    parts = [said(concept.fields[main], item[main])] if main is not None and main in item else []
    for key, field in concept.fields.items():
        if key in item and key != concept.main and key not in leave_out:
            parts.append(_field(field, key, item[key]))
    if "note" in item:
        parts.append(str(item["note"]))
    return ", ".join(parts)


def _field(field: Concept, key: str, value: Json) -> str:
    label = field.label[0].lower() + field.label[1:]
    words = said(field, value)
    if field.shape == "flag" and value == "yes":
        return label
    if key == "size" or (field.of, key) in _BARE:
        return words
    if key == "pieces" and words.isdecimal():
        return pieces(int(words))
    return f"{label}: {words}"


#: Fields that speak for themselves.
_BARE = frozenset(
    {("cleansing", "volume"), ("cleansing", "method"), ("cleansing", "temperature"), ("periwound_protection", "area")}
)


def pieces(number: int) -> str:
    """Return a count of pieces.

    Examples
    --------
    >>> pieces(1), pieces(0)
    ('1 piece', '0 pieces')
    """
    return f"{number} piece{'' if number == 1 else 's'}"


def known(value: Json) -> bool:
    """Whether an answer is written and is not an absent reason."""
    return value is not None and absent(value) is None


def is_none(value: Json) -> bool:
    """Whether an answer says: looked for, and there is none."""
    return (isinstance(value, str) and value.casefold() == NONE) or (isinstance(value, list) and value == [NONE])


def current(history: History) -> list[dict[str, Json]]:
    """Return the notes that count (``History.counted``), oldest first.

    A note whose time cannot be placed stands first: it never passes for the newest.

    Examples
    --------
    >>> visits = [{"id": "b", "at": "2026-03-02"}, {"id": "a", "at": "2026-03-01"}, {"id": "c", "status": "draft"}]
    >>> [visit["id"] for visit in current(History.of({"woundfhir": 1, "patient": {}, "visits": visits}))]
    ['a', 'b']
    """
    return [visit.data for visit in open_record(history).counted]


def counting(history: History) -> History:
    """Return the history with the notes that count alone, oldest first; a note forgets the one it replaced."""
    visits = [{key: value for key, value in visit.items() if key != "replaces"} for visit in current(history)]
    return History({**history.data, "visits": visits}, history.source)


def _second(at: Json) -> float:
    """Seconds on one line of time (UTC where an offset is written): a whole order for all that can be placed."""
    found = dates.moment(at)
    if found is None:
        return float("-inf")
    offset = found.utcoffset()
    seconds = found.toordinal() * 86400 + found.hour * 3600 + found.minute * 60 + found.second
    return seconds + found.microsecond / 1e6 - (offset.total_seconds() if offset else 0)


def newest(items: list[tuple[dict[str, Json], Mapping[str, Json]]], concept: Concept) -> Fact | None:
    """Return the newest known answer of one concept out of (visit, answers), oldest first."""
    for visit, answers in reversed(items):
        if known(answers.get(concept.key)):
            return Fact(concept.label, said(concept, answers[concept.key]), visit.get("at"))
    return None


def part(
    items: list[tuple[dict[str, Json], dict[str, Json]]], key: str
) -> list[tuple[dict[str, Json], Mapping[str, Json]]]:
    """Return (visit, answers of one part of the entry), for the entries that have it."""
    return [(visit, entry[key]) for visit, entry in items if entry.get(key)]


def facts(items: list[tuple[dict[str, Json], Mapping[str, Json]]], group: str, *keys: str) -> tuple[Fact, ...]:
    """Return the newest known answers of several concepts of one group; what is not written is left out."""
    concepts = catalogue().groups[group]
    return tuple(found for key in keys if (found := newest(items, concepts[key])) is not None)


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
