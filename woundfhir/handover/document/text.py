"""The words of each section of the document, from the same facts as the printed sheet.

A section holds what the catalogue puts into it (``sections.toml``), after the few lines that are worked out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from lxml import etree

from woundfhir.catalogue import catalogue
from woundfhir.catalogue.frame import frame_word
from woundfhir.chart import RecordView
from woundfhir.drawing import clock_words, trend_rows
from woundfhir.handover.course import course_of
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.questions import missing
from woundfhir.handover.summary.words import Fact, long, short
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.handover.texts import say
from woundfhir.r4.narrative import element, table

Blocks = list["etree._Element"]


def section(key: str, given: Summary) -> Blocks:
    """Return the narrative of one section of the document.

    Parameters
    ----------
    key
        The section.
    given
        The facts.
    """
    blocks = list(_HEAD[key](given)) if key in _HEAD else []
    for wound in given.wounds:
        worked_out = _WOUND[key](wound) if key in _WOUND else ()
        lines = [*worked_out, *_charted(key, wound)]
        if lines:
            title = say("sheet.heading", wound=wound.id, name=wound.name)
            blocks += [element("p", element("b", title)), *_lines(lines)]
    if rest := [_line(fact) for name in _sections(key) for fact in given.section(name) if fact not in given.contacts]:
        blocks += _lines(rest)
    blocks += list(_TAIL[key](given)) if key in _TAIL else []
    return blocks or [element("p", say("document.nothing"))]


def _sections(key: str) -> list[str]:
    """The sections of the catalogue that stand in a section of the document."""
    return [section.key for section in catalogue().sections.values() if section.document == key]


def _charted(key: str, wound: WoundSummary) -> Iterator[str]:
    """What the catalogue puts into the section; the dressing change stands step by step instead."""
    for name in _sections(key):
        facts = () if name == "dressing" and wound.recipe else wound.section(name)
        facts += wound.supplies if name == "supplies" else wound.photos if name == "photos" else ()
        yield from map(_line, facts)


def _line(fact: Fact) -> str:
    return say("attention.fact", label=fact.label, words=fact.dated)


def _lines(lines: Iterable[str]) -> Blocks:
    items = list(lines)
    return [element("ul", *[element("li", line) for line in items])] if items else []


def overview(given: Summary) -> Blocks:
    """The whole document in one table: one row a wound."""
    missing = say("document.missing")
    rows = [
        (
            say("sheet.heading", wound=wound.id, name=wound.name),
            f"{wound.size.text} ({short(wound.size.at)})" if wound.size else missing,
            wound.since_first.text if wound.since_first else "-",
            long(wound.next_change.text) if wound.next_change else missing,
            wound.packing.text,
        )
        for wound in given.wounds
    ]
    head = tuple(say(f"document.{key}") for key in ("wound", "size", "change", "next", "packing"))
    author = given.author or say("document.author_missing")
    newest = element("p", say("document.newest", day=long(given.at), author=author))
    return [newest, *_attention(given), table(head, rows)]


def _attention(given: Summary) -> Blocks:
    """What calls for attention, with its day, the question and its source."""
    lines = []
    for alert in given.attention:
        about = f"{alert.wound} " if alert.wound else ""
        found = [_line(fact) if fact.label else fact.dated for fact in alert.facts]
        what = say("attention.fact", label=alert.hazard.title, words="; ".join(found))
        lines.append(f"{about}{what}. {alert.hazard.ask} {alert.source}")
    if not lines:
        return []
    return [element("p", element("b", say("attention.title"))), *_lines(lines), element("p", say("attention.defer"))]


# -- what is worked out, wound by wound --------------------------------------------------------


def _next(wound: WoundSummary) -> Iterator[str]:
    if wound.closed_now:
        return
    due = long(wound.next_change.text) if wound.next_change else say("document.missing")
    if wound.change_by:
        yield say("document.next_change_by", words=due, who=wound.change_by.text)
    else:
        yield say("document.next_change", words=due)
    yield say("document.packing_line", words=wound.packing.text)


def _wound(wound: WoundSummary) -> Iterator[str]:
    yield say("document.status", words=frame_word(wound.status))
    if wound.stage:
        yield _line(wound.stage)


def _course(wound: WoundSummary) -> Iterator[str]:
    if wound.size:
        yield say("document.newest_size", words=wound.size.text, day=short(wound.size.at))
    if wound.since_first and wound.sizes.first:
        yield say("document.first_size", words=wound.sizes.first.text, day=short(wound.sizes.first.at))
    for form, moved in (("since_first", wound.since_first), ("since_last", wound.since_last)):
        if moved:
            yield say(f"document.{form}", day=short(moved.since), words=moved.text)
    for fact in wound.before:
        yield say("document.before", label=fact.label, words=fact.dated)


def _changes(wound: WoundSummary) -> Iterator[str]:
    made = wound.recipe
    if made is None:
        return
    by = say("document.change_by", day=long(made.at), by=made.by) if made.by else ""
    yield by or say("document.change_at", day=long(made.at))
    if made.removal:
        yield say("document.removed", words=made.removal)
    for number, step in enumerate(made.steps, 1):
        words = step.text or say("document.missing")
        if step.text is None and step.earlier is not None:
            older = say("fact.earlier", words=step.earlier.text, day=short(step.earlier.at))
            words = f"{words}, {older}"
        yield say("document.step", number=number, label=step.label, words=words)


def _packing(wound: WoundSummary) -> Iterator[str]:
    yield wound.packing.text
    yield from wound.packing.gaps


def _compression(wound: WoundSummary) -> Iterator[str]:
    yield from map(_line, (fact for fact in wound.front("compression") if fact.path.startswith("care.")))


_WOUND: Mapping[str, Callable[[WoundSummary], Iterable[str]]] = {
    "next": _next,
    "wounds": _wound,
    "course": _course,
    "changes": _changes,
    "packing": _packing,
    "compression": _compression,
}


# -- what is worked out for the client ---------------------------------------------------------


def _open(given: Summary) -> Blocks:
    """What the ten questions of a transfer ask and this history does not say."""
    gaps = missing(given)
    return [element("p", element("b", say("document.open"))), *_lines(gaps)] if gaps else []


def _allergies(given: Summary) -> Blocks:
    """Allergies; what touches skin and wound comes first."""
    if not given.allergies:
        return [element("p", say("document.no_allergy", words=given.allergies_known))]
    return _lines(say("document.matters", words=a.text) if a.matters else a.text for a in given.allergies)


def _conditions(given: Summary) -> Blocks:
    words = ", ".join(given.conditions) if given.conditions else given.conditions_known
    return [element("p", say("document.conditions", words=words))]


def _contact(given: Summary) -> Blocks:
    author = say("document.author", words=given.author or say("document.missing"))
    return _lines([*(fact.dated for fact in given.contacts), author])


def _received(given: Summary) -> Iterator[str]:
    """What came and is not understood, in its sender's words."""
    for fact in given.came:
        yield say("missing.about", wound=fact.about, words=_line(fact)) if fact.about else _line(fact)


_HEAD: Mapping[str, Callable[[Summary], Blocks]] = {
    "allergies": _allergies,
    "contact": _contact,
    "medications": lambda given: [element("p", say("document.medications"))],
    "kept": lambda given: [element("p", say("document.kept")), *_lines(_received(given))],
    "photos": lambda given: [element("p", say("document.photos"))],
}
_TAIL: Mapping[str, Callable[[Summary], Blocks]] = {
    "next": _open,
    "wounds": _conditions,
    "also": lambda given: _lines([_line(given.note)] if given.note else []),
}


def series(given: Summary, record: RecordView) -> Blocks:
    """Every measurement of each wound as a table, the newest shape in sentences: drawings that a narrative takes."""
    blocks: Blocks = []
    courses = {wound.id: wound.course for wound in given.wounds}
    for wound in record.wounds:
        found = courses.get(wound.id) or course_of(record, wound.id)
        if not found.points:
            continue
        head, rows = trend_rows(found)
        newest = found.points[-1].visit
        seen = next(one.data.get("assessment", {}) for one in wound.judged if one.visit.id == newest)
        words = clock_words(seen.get("length"), seen.get("width"), seen.get("undermining"), seen.get("tunnels"))
        blocks += [element("p", element("b", say("document.sizes", wound=wound.id))), table(head, rows)]
        blocks += _lines(words)
    return blocks


def empty_reason(key: str, given: Summary) -> str:
    """Return the key of the empty reason of a section: nil known where the notes say so, else unavailable."""
    if key == "allergies" and given.allergies_known == say("fact.none_known"):
        return "empty_nilknown"
    if key == "packing" and all(wound.packing.most == 0 for wound in given.wounds) and given.wounds:
        return "empty_nilknown"
    return "empty_unavailable"
