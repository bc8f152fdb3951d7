"""The first page: what calls for attention, which wounds, allergies, who to call, the other questions of a transfer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from lxml import etree

from woundfhir.catalogue import catalogue
from woundfhir.catalogue.frame import frame_word
from woundfhir.handover.sheet.parts import (
    Part,
    cell,
    client_name,
    client_numbers,
    cut,
    dated,
    fitting,
    gap,
    joined,
    rows_of,
    table,
)
from woundfhir.handover.summary.attention import Alert
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.questions import Question, packing_words, questions
from woundfhir.handover.summary.words import Fact, long, short
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.handover.texts import say
from woundfhir.r4.narrative import element

Json = Any
Block = list[etree._Element]

#: Characters that a fact and a box may take; the questions answered below the boxes, with those of each answer.
_FACT, _HELP, _HELPERS = 110, 90, 300
_ROOM = {"compression": 320, "history": 560, "pain": 420, "risk": 640}


def first_page(given: Summary, patient: dict[str, Json]) -> Block:
    """Return the first page.

    Parameters
    ----------
    given
        The facts.
    patient
        The client, as in the record.
    """
    asked = {question.key: question for question in questions(given)}
    number = {key: say("sheet.numbered", number=place, words=say(f"short.{key}")) for place, key in enumerate(asked, 1)}
    return [
        element("header", element("h1", say("sheet.title")), *_who(given, patient)),
        *attention(given),
        _wounds(given, number),
        element("div", _allergies(given, number), _contact(given, asked["people"], number), class_="pair"),
        table("", (), rows_of((number[key], _answer(given, asked[key])) for key in _ROOM), "asked"),
        *_missing(given, number),
    ]


def _who(given: Summary, patient: dict[str, Json]) -> Block:
    words, ids = client_name(patient), client_numbers(patient)
    parts: list[Part] = [cut(words, 60) or gap(say("sheet.name_missing"))]
    born = say("sheet.born", day=patient["born"]) if "born" in patient else None
    parts += [f" | {cut(value, 57)}" for value in (born, frame_word(patient.get("sex", "")), ids) if value]
    by = cut(given.author or say("sheet.author_missing"), 100)
    note = say("sheet.as_of", day=long(given.at), by=by)
    lines = [element("p", *parts, class_="who"), element("p", note, class_="small")]
    if given.left_out:
        lines.append(element("p", say("sheet.left_out", number=given.left_out)))
    return lines


# -- what calls for attention ------------------------------------------------------------------


def attention(given: Summary) -> Block:
    """Return what calls for attention, most urgent first, each with its day, a question and its source."""
    if not given.attention:
        return []
    head = element("h2", say("attention.title"), element("span", f" {say('attention.defer')}", class_="small"))
    lines = [element("li", *_alert(alert)) for alert in given.attention]
    return [element("section", head, element("ul", *lines), class_="attention")]


def _alert(alert: Alert) -> list[Part]:
    about = f"{cut(alert.wound, 20)} " if alert.wound else ""
    facts = [fact_words(fact, 140) for fact in alert.facts]
    words = cut("; ".join(facts), 400)
    title = element("b", f"{about}{say('attention.fact', label=alert.hazard.title, words=words)}. ")
    return [title, f"{alert.hazard.ask} ", element("span", alert.source, class_="small")]


def fact_words(fact: Fact, most: int) -> str:
    """Return a fact of an alert with its label and day."""
    text = cut(fact.text, most)
    words = say("attention.fact", label=fact.label, words=text) if fact.label else text
    return f"{words} ({short(fact.at)})"


# -- the wounds --------------------------------------------------------------------------------


def _wounds(given: Summary, number: dict[str, str]) -> etree._Element:
    """One group of rows a wound: its name across, below it the answers to the first four questions."""
    if not given.open_wounds:
        return element("p", say("sheet.no_open" if given.wounds else "sheet.no_wound"))
    labels = [number[key] for key in ("next", "packing", "now")]
    head = element("tr", *[element("th", label, scope="col") for label in labels])
    groups = []
    for wound in given.open_wounds:
        stage = f", {cut(wound.stage.text, 40)}" if wound.stage else ""
        title = say("sheet.heading", wound=cut(wound.id, 20), name=cut(wound.name, 140)) + stage
        name = element("th", title, scope="rowgroup", colspan="3")
        cells = (_next(wound), _packing(wound), _size(wound, given.at))
        on = element("tr", cell("td", _dressing(wound, given.at, number["dressing"]), colspan="3"))
        # Where the screen is narrow the cells stand one below the other, each with its own label.
        answers = [cell("td", found, **{"data-label": label}) for label, found in zip(labels, cells, strict=True)]
        rows = (element("tr", name), element("tr", *answers), on)
        groups.append(element("tbody", *rows))
    return element("table", element("thead", head), *groups, class_="wounds")


def _next(wound: WoundSummary) -> list[Part]:
    due = gap(say("sheet.next_missing"))
    if wound.next_change:
        due = element("span", cut(long(wound.next_change.text), 40), class_="big")
    by: Part = gap(say("sheet.by_missing"))
    if wound.change_by:
        by = say("sheet.by", who=cut(wound.change_by.text, 60))
    last: Part = say("sheet.last", day=long(wound.last_change)) if wound.last_change else gap(say("sheet.last_missing"))
    return [due, *([] if wound.next_change else [element("br")]), by, element("br"), last]


def _packing(wound: WoundSummary) -> list[Part]:
    inside = wound.packing
    if inside.least is None:
        return [packing_words(wound) or gap()]
    if inside.certain:
        parts: list[Part] = [element("span", inside.count, class_="big")]
    else:
        parts = [element("span", gap(inside.count[0].upper() + inside.count[1:]), class_="big")]
    if inside.most != 0:
        where = cut(inside.where, 90) if inside.where else None
        parts += [", ".join(part for part in (cut(inside.material or "", 60), where) if part)]
        parts += [] if inside.where else [element("br"), gap(say("packing.where_missing"))]
    return parts


def _size(wound: WoundSummary, today: str | None) -> list[Part]:
    if wound.size is None:
        return []
    parts: list[Part] = [element("span", cut(wound.size.text, 80), class_="big")]
    if short(wound.size.at) != short(today):
        parts += [say("sheet.measured", day=short(wound.size.at)), element("br")]
    if wound.since_first is None or wound.since_last is None:
        return [*parts, say("sheet.first_size")]
    area = say("sheet.area", change=wound.since_first.dated)
    if wound.since_first.since != wound.since_last.since:
        return [*parts, f"{area};", element("br"), wound.since_last.dated]
    return [*parts, area]


def _dressing(wound: WoundSummary, today: str | None, label: str) -> list[Part]:
    rhythm = next((fact for fact in wound.front("dressing") if fact.path.startswith("plan.") and fact.known), None)
    often: Part = gap(say("sheet.every_missing"))
    if rhythm:
        often = element("b", say("sheet.every", words=dated(rhythm, today, 40)))
    on: Part = gap(say("sheet.dressing_missing"))
    if wound.recipe is not None:
        on = cut(say("answer.over").join(wound.recipe.in_place) or say("answer.nothing_on"), 240)
    return [element("b", say("sheet.label", label=label)), on, "; ", often]


# -- boxes and questions -----------------------------------------------------------------------


def _allergies(given: Summary, number: dict[str, str]) -> etree._Element:
    head = element("h2", number["allergies"])
    if not given.allergies:
        known = given.allergies_known == say("fact.none_known")
        words = given.allergies_known if known else gap(given.allergies_known)
        return element("section", head, element("p", words), class_="box")
    lines = []
    for allergy in given.allergies[:6]:
        text = cut(allergy.text, 120)
        lines.append(element("li", element("b", text) if allergy.matters else text))
    if len(given.allergies) > 6:
        lines.append(element("li", say("sheet.more_allergies", number=len(given.allergies) - 6)))
    return element("section", head, element("ul", *lines), class_="box")


def _contact(given: Summary, people: Question, number: dict[str, str]) -> etree._Element:
    rest = [fact for fact in people.answers if fact not in given.contacts]
    calls = [element("p", element("b", cut(fact.text, 140))) for fact in given.contacts[:2]]
    calls = calls or [element("p", gap(say("sheet.contact_missing")))]
    others = [element("p", *joined(rest, given.at, _HELP, _HELPERS), class_="small")] if rest else []
    return element("section", element("h2", number["people"]), *calls, *others, class_="box")


def _answer(given: Summary, question: Question) -> list[Part]:
    """The answers in short; what is planned or taught for one wound stands on its own page."""
    return joined(_kept(question), given.at, _FACT, _ROOM[question.key])


def _kept(question: Question) -> list[Fact]:
    fronts = {fact: catalogue().concept(fact.path).page.front for fact in question.answers if fact.path}
    return [fact for fact in question.answers if not ((front := fronts.get(fact)) and front.own)]


def whole_on_first_page(given: Summary) -> set[Fact]:
    """Return the facts about the client that stand on the first page without a cut."""
    shown = set(given.contacts[:2])
    for question in questions(given):
        most, total = (_FACT, _ROOM[question.key]) if question.key in _ROOM else (_HELP, _HELPERS)
        shown |= {fact for fact in fitting(_kept(question), most, total) if len(fact.text) <= most}
    return shown


def _missing(given: Summary, number: dict[str, str]) -> Block:
    lines = []
    for question in questions(given):
        if question.missing:
            words = ", ".join(_once_a_wound(given, question.missing[:6]))
            words = say("sheet.and_more", words=words) if len(question.missing) > 6 else words
            lines.append(f"{say('sheet.label', label=number[question.key])}{words}")
    if not lines:
        return []
    head = element("h2", say("sheet.open"))
    return [element("section", head, element("p", f" {cut('; '.join(lines), 600)}", class_="small"), class_="open")]


def _once_a_wound(given: Summary, missing: Iterable[str]) -> Iterator[str]:
    """What is missing, with the name of its wound where that changes."""
    starts = {wound.id: say("missing.about", wound=wound.called, words="") for wound in given.wounds}
    before = None
    for words in missing:
        wound = next((key for key, start in starts.items() if words.startswith(start)), None)
        yield words if wound is None or wound != before else words.removeprefix(starts[wound])
        before = wound
