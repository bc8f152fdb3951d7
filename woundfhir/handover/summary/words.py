"""Answers as plain words, and which notes count: what the sheet and the document both read from."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.catalogue.page import SLOT
from woundfhir.handover.texts import say
from woundfhir.record import dates
from woundfhir.record.answers import NONE, absent

Json = Any
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


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
    clock = f", {at[11:16]}" if dates.has_clock(at) else ""
    return f"{_DAYS[day.weekday()]} {at[:10]}{clock}"


def said(concept: Concept, value: Json) -> str:
    """Return an answer in words; a group as its fields.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> said(catalogue().concept("assessment.tissue"), {"granulation": "90 %", "slough": "10 %"})
    'granulation 90 %, slough 10 %'
    >>> said(catalogue().concept("assessment.odour"), {"absent": "not assessed"})
    'not given: not assessed'
    """
    if (missing := absent(value)) is not None:
        return say("fact.absent", reason=missing.get("absent", ""))
    if isinstance(value, str):
        return value
    if isinstance(value, list):
        return "; ".join(said(concept, item) for item in value) if concept.is_group else ", ".join(map(str, value))
    if concept.is_group:
        return group_words(concept, value)
    return ", ".join(f"{word} {said(concept, amount)}" for word, amount in value.items())


def group_words(
    concept: Concept, item: Mapping[str, Json], leave_out: Collection[str] = (), *, brief: bool = False
) -> str:
    """Return one group in words: its main field first, the others as their entries word them, the note last.

    Parameters
    ----------
    concept, item
        The group and its answers.
    leave_out
        Fields that stand elsewhere.
    brief
        Only the fields that a glance needs.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> concept = catalogue().concept("care.primary_dressing")
    >>> group_words(concept, {"dressing": "honey alginate", "size": "10 x 10 cm", "pieces": "1", "cut_to_fit": "yes"})
    'honey alginate, 10 x 10 cm, 1 piece, cut to fit'
    >>> group_words(catalogue().concept("assessment.undermining"), {"from": "2", "to": "6", "depth": "1.5 cm"})
    "from 2 to 6 o'clock, 1.5 cm deep"
    """
    fields = {key: field for key, field in concept.fields.items() if key in item and key not in leave_out}
    if brief:
        fields = {key: field for key, field in fields.items() if field.page.brief}
    together = SLOT.findall(concept.page.pattern)
    parts = []
    if together and all(key in fields and known(item[key]) for key in together):
        parts.append(concept.page.pattern.format_map({key: said(fields[key], item[key]) for key in together}))
        fields = {key: field for key, field in fields.items() if key not in together}
    for key in sorted(fields, key=lambda key: key != concept.main):
        parts.append(field_words(fields[key], item[key], bare=key == concept.main))
    if "note" in item and not brief:
        parts.append(str(item["note"]))
    return ", ".join(parts)


def field_words(field: Concept, value: Json, *, bare: bool = False) -> str:
    """Return the answer of a field in the form that its entry gives; ``bare`` for the main one, without its label."""
    words, form = said(field, value), field.page.short
    if "{}" in form and known(value):
        one, _, many = form.partition("|")
        return (many if many and words != "1" else one).replace("{}", words)
    if bare:
        return words
    name = low(field.label)
    return name if field.shape == "flag" and value == "yes" else f"{name}: {words}"


def label(concept: Concept) -> str:
    """Return the name of a concept on paper: its short form where it has one."""
    form = concept.page.short
    return concept.label if not form or "{}" in form else form


def low(name: str) -> str:
    """Return a label for the middle of a sentence; abbreviations keep their letters.

    Examples
    --------
    >>> low("Pain at rest"), low("PUSH total")
    ('pain at rest', 'PUSH total')
    """
    return name[:1].lower() + name[1:] if name[1:2].islower() or len(name) == 1 else name


def pieces(number: int) -> str:
    """Return a count of pieces.

    Examples
    --------
    >>> pieces(1), pieces(0)
    ('1 piece', '0 pieces')
    """
    return say("fact.piece" if number == 1 else "fact.pieces", number=number)


def known(value: Json) -> bool:
    """Whether an answer is written and is not an absent reason."""
    return value is not None and absent(value) is None


def is_none(value: Json) -> bool:
    """Whether an answer says: looked for, and there is none."""
    return (isinstance(value, str) and value.casefold() == NONE) or (isinstance(value, list) and value == [NONE])


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
