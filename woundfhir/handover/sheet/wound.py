"""The pages of one wound: drawings, newest findings, what is on it, the last change step by step, cautions, contact."""

from __future__ import annotations

from collections.abc import Sequence

from lxml import etree

from woundfhir.catalogue import catalogue
from woundfhir.drawing import trend_chart
from woundfhir.handover.course import course_of, pictures
from woundfhir.handover.sheet.cautions import Caution
from woundfhir.handover.sheet.parts import LONGEST, Part, cell, cut, dated, gap, inline, joined, table
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.words import Fact, long, short
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.r4.narrative import element
from woundfhir.record import History

Block = list[etree._Element]
_FINDINGS = (
    "tissue",
    "edge",
    "exudate_amount",
    "exudate_type",
    "odour",
    "periwound",
    "pain_at_rest",
    "pain_at_change",
    "infection_signs",
    "exposed",
)
_MOST_CAUTIONS = 6
#: Characters that fit on two pages beside the drawings; beyond them every limit is a third.
_ROOM = 3600


def wound_pages(
    told: Summary, wound: WoundSummary, history: History, asked: Sequence[Caution], policy: str
) -> etree._Element:
    """Return the pages of one wound.

    Parameters
    ----------
    told, wound
        The facts, and those of this wound.
    history
        The notes that count, for the drawings.
    asked
        Cautions that concern this wound.
    policy
        Policy whose cut-offs the chart shows.
    """
    tight = 1 if _weight(told, wound, asked) <= _ROOM else 3
    tallest = 92 if tight == 1 else 64
    name = f"w{told.wounds.index(wound) + 1}"
    found = course_of(history, wound.id, policy)
    clock = pictures(history, found)[1]
    chart = trend_chart(found, title="Area over time", width=700, height=270)
    return element(
        "section",
        element("h2", f"{cut(wound.id, 20)}: {cut(wound.name, 110)}"),
        _glance(wound, tight, inline(clock, f"{name}-clock", 70, tallest) if clock else None),
        *_change(wound, tight),
        *_findings(wound, tight),
        element("div", inline(chart, f"{name}-chart", 186, tallest), class_="chart"),
        *_plan(wound, tight),
        *_cautions(asked, tight),
        *_notes(told, tight),
        class_="wound",
    )


def _area(wound: WoundSummary) -> str:
    """The change of area since the first measurement, and since the one before the newest."""
    first, last = wound.since_first, wound.since_last
    if first is None or last is None:
        return "one measurement only" if wound.size else "no measurement"
    return f"{first.dated}; {last.dated}" if first.since != last.since else first.dated


def _weight(told: Summary, wound: WoundSummary, asked: Sequence[Caution]) -> int:
    """How many characters the pages of a wound hold."""
    made = wound.recipe
    facts = [*wound.state, *wound.deep, *wound.plan, *wound.pressures, *wound.supplies, *told.contacts]
    facts += [*(made.response if made else ()), *([told.note] if told.note else [])]
    texts = [fact.text for fact in facts] + [step.text or "" for step in (made.steps if made else ())]
    return sum(map(len, texts)) + sum(len(caution.text) + len(caution.source) for caution in asked)


def _glance(wound: WoundSummary, tight: int, clock: etree._Element | None) -> etree._Element:
    """The wound to scale, and beside it what the next nurse looks for first."""
    today = wound.seen
    lines: list[tuple[str, list[Part]]] = [
        ("Size", [dated(Fact("", wound.size.text, wound.size.at), today, 90)] if wound.size else []),
        ("Area", [_area(wound)]),
        ("Packing inside", [cut(wound.packing.text, 160 // tight)]),
        ("Undermining", [dated(fact, today, 120 // tight)] if (fact := wound.found("undermining")) else []),
        ("Tunnels", [dated(fact, today, 120 // tight)] if (fact := wound.found("tunnels")) else []),
        ("Next change", [cut(long(wound.next_change.text), 40)] if wound.next_change else []),
        ("Onset", [cut(wound.onset, 40)] if wound.onset else []),
    ]
    if wound.stage is not None:
        lines.append((wound.stage.label, [dated(wound.stage, today, 60)]))
    key = [element("p", element("b", f"{label}: "), *(words or [gap()])) for label, words in lines]
    drawing = [element("div", clock, class_="clock")] if clock is not None else []
    return element("div", *drawing, element("div", *key, class_="key"), class_="glance")


def _change(wound: WoundSummary, tight: int) -> Block:
    made = wound.recipe
    if made is None:
        return [element("h3", "Dressing"), element("p", gap("no dressing change written"))]
    by = f", {cut(made.by, 80)}" if made.by else ""
    blocks = [element("h3", f"Dressing, in order of application (as done {long(made.at)}{by})")]
    on = "; ".join(made.in_place) or "nothing put on"
    off: list[Part] = [element("b", "Take off, from outside in: "), cut(on, 240 // tight), ". "]
    why = f" ({cut('; '.join(wound.packing.gaps[:3]), 140 // tight)})" if wound.packing.gaps else ""
    off += [element("b", "Packing inside to count out: "), f"{cut(wound.packing.text, 160 // tight)}{why}. "]
    if made.removal:
        off += [element("b", "Last time came off: "), cut(made.removal, 120 // tight) + "."]
    steps = [element("li", *off)]
    for step in made.steps:
        words = cut(step.text, LONGEST // tight) if step.text else gap()
        steps.append(element("li", element("b", f"{step.label}: "), words))
    blocks.append(element("ol", *steps, class_="steps"))
    if made.response:
        taken = joined(made.response, made.at, 180 // tight, 500 // tight)
        blocks += [element("h3", "How that change was taken"), element("p", *taken)]
    return blocks


def _findings(wound: WoundSummary, tight: int) -> Block:
    today = wound.seen
    concepts = catalogue().groups["assessment"]
    cells = []
    for key in _FINDINGS:
        found = wound.found(key)
        cells.append((concepts[key].label, [dated(found, today, 120 // tight)] if found else []))
    rows = []
    for left, right in zip(cells[::2], cells[1::2], strict=True):
        pair = [(cell("th", (label,), scope="row"), cell("td", content)) for label, content in (left, right)]
        rows.append(element("tr", *pair[0], *pair[1]))
    head = element("h3", f"Newest findings ({short(today)} unless another day is given)")
    return [head, table("", (), rows, "found")]


def _plan(wound: WoundSummary, tight: int) -> Block:
    due = wound.next_change
    facts = [Fact("Next change", cut(long(due.text), 40), due.at)] if due else []
    facts += wound.plan
    facts += [Fact(f"Limb pressure, {fact.label}", fact.text, fact.at) for fact in wound.pressures[:2]]
    if wound.supplies:
        left = ", ".join(f"{fact.label}: {fact.text}" for fact in wound.supplies[:6])
        facts.append(Fact("Supplies left", left, wound.supplies[-1].at))
    words = joined(facts, wound.seen, 280 // tight, 1200 // tight) or [gap()]
    return [element("h3", "Plan, limb pressures, supplies"), element("p", *words)]


def _cautions(asked: Sequence[Caution], tight: int) -> Block:
    if not asked:
        return []
    lines = []
    for caution in asked[:_MOST_CAUTIONS]:
        day = f" ({caution.at}) " if caution.at else " "
        lines.append(element("li", cut(caution.text, LONGEST // tight), day, _source(caution), class_="caution"))
    if len(asked) > _MOST_CAUTIONS:
        lines.append(element("li", f"and {len(asked) - _MOST_CAUTIONS} more: see the checklist of the record"))
    head = element("h3", "Questions of caution (local policy and your own judgement come first)")
    return [head, element("ul", *lines)]


def _source(caution: Caution) -> etree._Element:
    return element("span", f"[{caution.rule}: {cut(caution.source, 110)}]", class_="small")


def _notes(told: Summary, tight: int) -> Block:
    calls = "; ".join(cut(fact.text, 140) for fact in told.contacts[:2])
    note = []
    if told.note:
        label = element("b", f"Last note in words ({short(told.note.at)}): ")
        note.append(element("p", label, cut(told.note.text, LONGEST // tight)))
    return [element("footer", *note, element("p", element("b", "Who to call: "), calls or gap()))]
