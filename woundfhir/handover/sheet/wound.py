"""The pages of one wound: drawings, what is on it, the last change step by step, findings, course, everything else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from lxml import etree

from woundfhir.catalogue import Concept, catalogue
from woundfhir.drawing import trend_chart
from woundfhir.handover.course import course_of, pictures
from woundfhir.handover.numbers import numbers_of, numbers_rows
from woundfhir.handover.sheet.cautions import Caution
from woundfhir.handover.sheet.first import whole_on_first_page
from woundfhir.handover.sheet.parts import LONGEST, Part, cell, cut, dated, gap, inline, joined, table
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.course import SIZES
from woundfhir.handover.summary.words import Fact, long, short
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.handover.texts import say
from woundfhir.r4.narrative import element
from woundfhir.record import History
from woundfhir.record.shapes import in_sentence

Block = list[etree._Element]
_MOST_CAUTIONS = 6
#: Characters that fit on two pages beside the drawings; beyond them every limit is a third.
_ROOM = 3600
#: A finding that a note on an open wound must hold is a gap where it is not written.
_ALWAYS = frozenset(("assessed", "open wound"))


def wound_pages(
    given: Summary, wound: WoundSummary, history: History, asked: Sequence[Caution], policy: str | None
) -> etree._Element:
    """Return the pages of one wound.

    Parameters
    ----------
    given, wound
        The facts, and those of this wound.
    history
        The notes that count, for the drawings.
    asked
        Cautions that concern this wound.
    policy
        Policy whose cut-offs the chart shows.
    """
    tight = 1 if _weight(given, wound, asked) <= _ROOM else 3
    tallest = 92 if tight == 1 else 64
    name = f"w{given.wounds.index(wound) + 1}"
    found = course_of(history, wound.id, policy)
    numbers = numbers_rows(numbers_of(given.view, wound.id, policy))
    clock = pictures(history, found)[1]
    chart = trend_chart(found, title=say("sheet.chart"), width=700, height=220)
    return element(
        "section",
        element("h2", say("sheet.heading", wound=cut(wound.id, 20), name=cut(wound.name, 110))),
        _glance(wound, tight, inline(clock, f"{name}-clock", 70, tallest) if clock else None, numbers),
        *_change(wound, tight),
        *_findings(wound, tight),
        element("div", inline(chart, f"{name}-chart", 186, tallest), class_="chart"),
        *_rest(wound, tight),
        *_cautions(asked, tight),
        *_notes(given, tight),
        class_="wound",
    )


def _weight(given: Summary, wound: WoundSummary, asked: Sequence[Caution]) -> int:
    """How many characters the pages of a wound hold."""
    made = wound.recipe
    facts = [fact for found in wound.facts.values() for fact in found]
    facts += [*wound.supplies, *given.contacts, *([given.note] if given.note else [])]
    texts = [fact.text for fact in facts] + [step.text or "" for step in (made.steps if made else ())]
    return sum(map(len, texts)) + sum(len(caution.text) + len(caution.source) for caution in asked)


# -- at a glance -------------------------------------------------------------------------------


def _glance(
    wound: WoundSummary, tight: int, clock: etree._Element | None, numbers: Sequence[tuple[str, str]]
) -> etree._Element:
    """The wound to scale, and beside it what the next nurse looks for first."""
    today, size = wound.seen, wound.size
    lines: list[tuple[str, list[Part]]] = [
        (say("sheet.next"), [", ".join(cut(long(fact.text), 60) for fact in _due(wound))] if wound.next_change else []),
        (say("sheet.packing"), [cut(wound.packing.text, 160 // tight)]),
        (say("sheet.size"), [dated(Fact("", size.text, size.at), today, 90)] if size else []),
        (say("sheet.change"), [_area(wound)]),
    ]
    lines += [(f"{label[0].upper()}{label[1:]}", [cut(words, 160 // tight)]) for label, words in numbers]
    lines += [(fact.label, [dated(fact, today, 120 // tight)]) for fact in _beside(wound)]
    key = [element("p", element("b", say("sheet.label", label=name)), *(words or [gap()])) for name, words in lines]
    drawing = [element("div", clock, class_="clock")] if clock is not None else []
    return element("div", *drawing, element("div", *key, class_="key"), class_="glance")


def _due(wound: WoundSummary) -> list[Fact]:
    """The next change that is planned, and who does it."""
    return [fact for fact in (wound.next_change, wound.change_by) if fact is not None]


def _beside(wound: WoundSummary) -> list[Fact]:
    """What belongs to the size and does not stand in it already."""
    at = wound.size.at if wound.size else None
    return [
        fact
        for fact in wound.section("size")
        if wound.size is None or not fact.known or fact.at != at or fact.path not in _IN_SIZE
    ]


#: What the words of a size hold (``course.Size``).
_IN_SIZE = frozenset(f"assessment.{one}" for one in SIZES)


def _area(wound: WoundSummary) -> str:
    """The change of area since the first measurement, and since the one before the newest."""
    first, last = wound.since_first, wound.since_last
    if first is None or last is None:
        return say("sheet.one_size" if wound.size else "sheet.no_size")
    return f"{first.dated}; {last.dated}" if first.since != last.since else first.dated


# -- the last change ---------------------------------------------------------------------------


def _change(wound: WoundSummary, tight: int) -> Block:
    made = wound.recipe
    if made is None:
        return [
            element("h3", say("sheet.dressing")),
            element("p", gap(say("sheet.no_change"))),
            *_run("dressing", wound, wound.seen, tight),
        ]
    title, day = catalogue().sections["dressing"].title, long(made.at)
    head = say("sheet.as_done", title=title, day=day)
    if made.by:
        head = say("sheet.as_done_by", title=title, day=day, by=cut(made.by, 80))
    on = "; ".join(made.in_place) or say("answer.nothing_on")
    off: list[Part] = [element("b", say("sheet.take_off")), cut(on, 240 // tight), ". "]
    why = f" ({cut('; '.join(wound.packing.gaps[:3]), 140 // tight)})" if wound.packing.gaps else ""
    off += [element("b", say("sheet.count_out")), f"{cut(wound.packing.text, 160 // tight)}{why}. "]
    if made.removal:
        off += [element("b", say("sheet.came_off")), cut(made.removal, 120 // tight) + "."]
    steps = [element("li", *off)]
    for step in made.steps:
        words: list[Part] = [cut(step.text, LONGEST // tight)] if step.text else [gap()]
        if step.text is None and step.earlier is not None:
            older = say("fact.earlier", words=cut(step.earlier.text, 120 // tight), day=short(step.earlier.at))
            words.append(f", {older}")
        steps.append(element("li", element("b", say("sheet.label", label=step.label)), *words))
    return [element("h3", head), element("ol", *steps, class_="steps"), *_run("response", wound, made.at, tight)]


def _run(key: str, wound: WoundSummary, today: str | None, tight: int) -> Block:
    """One section as a heading and its facts in a run of text; nothing where there are none."""
    facts = wound.section(key)
    if not facts:
        return []
    return [element("h3", catalogue().sections[key].title), element("p", *_joined(facts, today, tight))]


def _joined(facts: Iterable[Fact], today: str | None, tight: int) -> list[Part]:
    return joined(facts, today, LONGEST // tight, 6000 // tight)


# -- findings ----------------------------------------------------------------------------------


def _findings(wound: WoundSummary, tight: int) -> Block:
    """The newest findings two in a row; those that a note must hold and none does are gaps."""
    today, cells = wound.seen, []
    for concept in catalogue().section("findings"):
        beside = [
            fact
            for one in catalogue().section("findings")
            if one.page.beside == concept.key
            for fact in wound.facts.get(one.path, ())
        ]
        found = wound.facts.get(concept.path, ())
        if not concept.page.beside and (found or beside or _always(concept)):
            cells.append((concept.heading, _cell(found, beside, today, 120 // tight)))
    if len(cells) % 2:
        cells.append(("", [""]))
    rows = []
    for left, right in zip(cells[::2], cells[1::2], strict=True):
        pair = [(_head(name), cell("td", content)) for name, content in (left, right)]
        rows.append(element("tr", *pair[0], *pair[1]))
    title = catalogue().sections["findings"].title
    return [element("h3", say("sheet.findings", title=title, day=short(today))), table("", (), rows, "found")]


def _cell(found: Sequence[Fact], beside: Sequence[Fact], today: str | None, most: int) -> list[Part]:
    """A finding, and what belongs to it with its label."""
    parts: list[Part] = [dated(fact, today, most) for fact in found] or [gap()]
    return parts + [
        f"; {say('sheet.label', label=in_sentence(fact.label))}{dated(fact, today, most)}" for fact in beside
    ]


def _head(name: str) -> etree._Element:
    return element("th", name, scope="row") if name else element("td", "")


def _always(concept: Concept) -> bool:
    return concept.role == "required" and set(concept.when) <= _ALWAYS


# -- everything else ---------------------------------------------------------------------------

#: The sections that stand in a form of their own above.
_ABOVE = ("size", "dressing", "response", "findings")


def _rest(wound: WoundSummary, tight: int) -> Block:
    """Every other section, in the order of the catalogue, each with its title."""
    blocks: Block = []
    for key, section in catalogue().sections.items():
        above = {fact for fact in wound.section(key) if fact.known and fact.path in _IN_NAME} | set(_due(wound))
        facts = [fact for fact in wound.section(key) if fact not in above]
        facts += wound.supplies if key == "supplies" else wound.photos if key == "photos" else ()
        if key in _ABOVE or not facts:
            continue
        title = element("b", say("sheet.section", title=section.title), class_="title")
        blocks.append(element("p", title, *_joined(_days(facts), wound.seen, tight)))
    if wound.before:
        title = element("b", say("sheet.section", title=say("sheet.before")), class_="title")
        blocks.append(element("p", title, *_joined(wound.before, wound.seen, tight)))
    return blocks


#: What the wound's name holds.
_IN_NAME = frozenset(("wound.kind", "wound.side", "wound.site", "wound.place"))


def _days(facts: Iterable[Fact]) -> Iterable[Fact]:
    """The facts, those that are a day with its weekday."""
    for fact in facts:
        day = fact.known and catalogue().concept(fact.path).shape == "date" if fact.path else False
        yield Fact(fact.label, long(fact.text), fact.at, fact.about, fact.path) if day else fact


def _cautions(asked: Sequence[Caution], tight: int) -> Block:
    if not asked:
        return []
    lines = []
    for caution in asked[:_MOST_CAUTIONS]:
        day = f" ({caution.at}) " if caution.at else " "
        lines.append(element("li", cut(caution.text, LONGEST // tight), day, _source(caution), class_="caution"))
    if len(asked) > _MOST_CAUTIONS:
        lines.append(element("li", say("sheet.more_cautions", number=len(asked) - _MOST_CAUTIONS)))
    return [element("h3", say("sheet.cautions")), element("ul", *lines)]


def _source(caution: Caution) -> etree._Element:
    return element("span", f"[{caution.rule}: {cut(caution.source, 110)}]", class_="small")


def _notes(given: Summary, tight: int) -> Block:
    calls = "; ".join(cut(fact.text, 140) for fact in given.contacts[:2])
    note = []
    if given.note:
        head = element("b", say("sheet.last_note", day=short(given.note.at)))
        note.append(element("p", head, cut(given.note.text, LONGEST // tight)))
    return [element("footer", *note, element("p", element("b", say("sheet.call")), calls or gap()))]


def client_page(given: Summary) -> Block:
    """Return what is charted about the client and stands on no page yet."""
    blocks: Block = []
    front = whole_on_first_page(given)
    tight = 1 if sum(len(fact.text) for facts in given.facts.values() for fact in facts) <= _ROOM else 3
    for key, section in catalogue().sections.items():
        facts = [fact for fact in given.section(key) if fact not in front]
        if facts:
            title = element("b", say("sheet.section", title=section.title), class_="title")
            blocks.append(element("p", title, *_joined(_days(facts), given.at, tight)))
    pages = [element("section", element("h2", say("sheet.client")), *blocks, class_="client")] if blocks else []
    return pages + _came(given)


def _came(given: Summary) -> Block:
    """What came with the history and is not understood, in its sender's words: nobody has interpreted it."""
    if not given.came:
        return []
    facts = _joined(given.came, None, 1)
    title, note = element("h2", say("sheet.came")), element("p", say("sheet.came_note"))
    return [element("section", title, note, element("p", *facts), class_="client")]
