"""The first page of the sheet: who, which wounds, allergies, who to call, and the other questions of a transfer."""

from __future__ import annotations

from typing import Any

from lxml import etree

from woundfhir.catalogue import catalogue
from woundfhir.handover.sheet.parts import (
    Part,
    cell,
    client_name,
    client_numbers,
    cut,
    dated,
    gap,
    joined,
    rows_of,
    table,
)
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.questions import Question, packing_words
from woundfhir.handover.summary.words import long, short
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.r4.narrative import element

Json = Any
Block = list[etree._Element]

#: Short headings of the questions, by their key; the number is their place in the transfer list.
_SHORT = {
    "next": "Next change",
    "packing": "Packing inside",
    "now": "Size and change",
    "dressing": "On it now",
    "allergies": "Allergies and reactions",
    "compression": "Compression, limb pressure",
    "history": "Tried before, closed wounds",
    "pain": "Pain, how care is taken",
    "risk": "Risk, skin, bed, food, results",
    "people": "Who to call, helpers, supplies",
}
#: The questions that are answered below the wounds and the boxes.
_BELOW = ("compression", "history", "pain", "risk")
#: Characters that each answer may take on the first page.
_ROOM = {"compression": 320, "history": 560, "pain": 420, "risk": 640}


def first_page(told: Summary, patient: dict[str, Json]) -> Block:
    """Return the first page.

    Parameters
    ----------
    told
        The facts.
    patient
        The client, as in the record.
    """
    number = {question.key: f"{place}. {_SHORT[question.key]}" for place, question in enumerate(told.questions, 1)}
    asked = {question.key: question for question in told.questions}
    return [
        element("header", element("h1", "Wound hand-over sheet"), *_who(told, patient)),
        _wounds(told, number),
        element("div", _allergies(told, number), _contact(told, number), class_="pair"),
        table("", (), rows_of((number[key], _answer(told, asked[key])) for key in _BELOW), "asked"),
        *_missing(told),
    ]


def _who(told: Summary, patient: dict[str, Json]) -> Block:
    words, ids = client_name(patient), client_numbers(patient)
    parts: list[Part] = [cut(words, 60) or gap("name not written")]
    born = f"born {patient['born']}" if "born" in patient else None
    parts += [f" | {value}" for value in (born, patient.get("sex"), ids) if value]
    parts[1:] = [cut(str(part), 60) for part in parts[1:]]
    by = told.author or "author not written"
    note = f"As of {long(told.at)} ({cut(by, 100)}); older facts dated."
    lines = [element("p", *parts, class_="who"), element("p", note, class_="small")]
    if told.left_out:
        lines.append(element("p", f"Not used: {told.left_out} draft, replaced or mistaken note(s)."))
    return lines


def _wounds(told: Summary, number: dict[str, str]) -> etree._Element:
    """One group of rows a wound: its name across, below it the answers to the first four questions."""
    if not told.open_wounds:
        return element("p", "No open wound in this record." if told.wounds else "No wound in this record.")
    labels = [number[key] for key in ("next", "packing", "now")]
    head = element("tr", *[element("th", label, scope="col") for label in labels])
    groups = []
    for wound in told.open_wounds:
        stage = f", {cut(wound.stage.text, 40)}" if wound.stage else ""
        name = element("th", f"{wound.id}: {cut(wound.name, 140)}{stage}", scope="rowgroup", colspan="3")
        cells = (_next(wound), _packing(wound), _size(wound, told.at))
        on = element("tr", cell("td", _dressing(wound, told.at, number["dressing"]), colspan="3"))
        # Where the screen is narrow the cells stand one below the other, each with its own label.
        answers = [cell("td", found, **{"data-label": label}) for label, found in zip(labels, cells, strict=True)]
        rows = (element("tr", name), element("tr", *answers), on)
        groups.append(element("tbody", *rows))
    return element("table", element("thead", head), *groups, class_="wounds")


def _next(wound: WoundSummary) -> list[Part]:
    due = gap("next change not written")
    if wound.next_change:
        due = element("span", cut(long(wound.next_change.text), 40), class_="big")
    by: Part = f"by {cut(wound.change_by.text, 60)}" if wound.change_by else gap("by whom: not written")
    last: Part = f"Last: {long(wound.last_change)}" if wound.last_change else gap("last change not written")
    return [due, *([] if wound.next_change else [element("br")]), by, element("br"), last]


def _packing(wound: WoundSummary) -> list[Part]:
    inside = wound.packing
    if inside.least is None:
        return [packing_words(wound) or gap("not written")]
    if inside.certain:
        parts: list[Part] = [element("span", inside.count, class_="big")]
    else:
        parts = [element("span", gap(inside.count[0].upper() + inside.count[1:]), class_="big")]
    if inside.most != 0:
        where = cut(inside.where, 90) if inside.where else None
        parts += [", ".join(part for part in (cut(inside.material or "", 60), where) if part)]
        parts += [] if inside.where else [element("br"), gap("where: not written")]
    if inside.gaps:
        parts += [element("br"), element("span", cut("; ".join(inside.gaps[:2]), 120), class_="small")]
    return parts


def _size(wound: WoundSummary, today: str | None) -> list[Part]:
    if wound.size is None:
        return []
    parts: list[Part] = [element("span", cut(wound.size.text, 80), class_="big")]
    if short(wound.size.at) != short(today):
        parts += [f"measured {short(wound.size.at)}", element("br")]
    if wound.since_first is None or wound.since_last is None:
        return [*parts, "First measurement."]
    if wound.since_first.since != wound.since_last.since:
        return [*parts, f"Area {wound.since_first.dated};", element("br"), wound.since_last.dated]
    return [*parts, f"Area {wound.since_first.dated}"]


def _dressing(wound: WoundSummary, today: str | None, label: str) -> list[Part]:
    rhythm = wound.planned("change_every")
    often: Part = element("b", f"every {dated(rhythm, today, 40)}") if rhythm else gap("how often: not written")
    on: Part = gap("dressing not written")
    if wound.recipe is not None:
        on = cut(", over ".join(wound.recipe.in_place) or "nothing put on", 240)
    return [element("b", f"{label}: "), on, "; ", often]


def _allergies(told: Summary, number: dict[str, str]) -> etree._Element:
    head = element("h2", number["allergies"])
    if not told.allergies:
        known = told.allergies_known == "none known"
        words = told.allergies_known if known else gap(told.allergies_known)
        return element("section", head, element("p", words), class_="box")
    lines = []
    for allergy in told.allergies[:6]:
        text = cut(allergy.text, 120)
        lines.append(element("li", element("b", text) if allergy.matters else text))
    if len(told.allergies) > 6:
        lines.append(element("li", f"and {len(told.allergies) - 6} more in the record"))
    return element("section", head, element("ul", *lines), class_="box")


def _contact(told: Summary, number: dict[str, str]) -> etree._Element:
    people = next(question for question in told.questions if question.key == "people")
    rest = [fact for fact in people.answers if fact not in told.contacts]
    calls = [element("p", element("b", cut(fact.text, 140))) for fact in told.contacts[:2]]
    calls = calls or [element("p", gap("who to call: not written"))]
    others = [element("p", *joined(rest, told.at, 90, 300), class_="small")] if rest else []
    return element("section", element("h2", number["people"]), *calls, *others, class_="box")


def _answer(told: Summary, question: Question) -> list[Part]:
    """The answers in short; teaching and offloading stand on the wound's own page."""
    own_page = {catalogue().concept(path).label.lower() for path in ("care.response.teaching", "plan.offloading")}
    kept = [fact for fact in question.answers if fact.label not in own_page or fact.about is None]
    return joined(kept, told.at, 110, _ROOM[question.key])


def _missing(told: Summary) -> Block:
    lines = [
        f"{place}: {', '.join(question.missing[:6])}{' and more' if len(question.missing) > 6 else ''}"
        for place, question in enumerate(told.questions, 1)
        if question.missing
    ]
    if not lines:
        return [element("p", "The record answers all ten questions.", class_="open")]
    words = cut("; ".join(lines), 500)
    head = element("h2", "Not in this record, to ask before the first visit:")
    return [element("section", head, element("p", f" {words}", class_="small"), class_="open")]
