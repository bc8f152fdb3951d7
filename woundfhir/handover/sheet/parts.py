"""Small pieces of the sheet: gaps that can be seen, dated facts, tables with scopes, drawings put inline."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate, groupby
from typing import Any

from lxml import etree

from woundfhir.handover.sheet.style import FAMILY
from woundfhir.handover.summary.words import Fact, short
from woundfhir.handover.texts import say
from woundfhir.r4.narrative import XHTML, element
from woundfhir.record.clients import REFERENCE

Json = Any
Part = str | etree._Element
#: Longer words than this are cut, and the sheet says so: two pages a wound are the limit.
LONGEST = 260


def cut(text: str, most: int = LONGEST) -> str:
    """Return words, cut at a blank where they are too long for the sheet, with a note that they go on.

    Examples
    --------
    >>> cut("one two three", 8), cut("one", 8)
    ('one two [more in the record]', 'one')
    """
    if len(text) <= most:
        return text
    return say("sheet.cut", words=text[:most].rsplit(" ", 1)[0])


def client_name(patient: Mapping[str, Json]) -> str:
    """Return a client's name as a list is kept by it, family name first; nothing where none is written."""
    name = patient.get("name", {})
    parts = (name.get("family"), " ".join(name.get("given", ())))
    return str(name.get("text") or ", ".join(part for part in parts if part))


def client_numbers(patient: Mapping[str, Json]) -> str:
    """Return a client's identifiers in a row; nothing where none is written."""
    named = (item for item in patient.get("identifiers", ()) if item.get("system") != REFERENCE)
    return ", ".join(item["value"] for item in named if "value" in item)


def gap(words: str = "") -> etree._Element:
    """Return a gap, marked so that it is seen in print and read out by a screen reader."""
    return element("span", words or say("fact.not_written"), class_="gap")


def dated(fact: Fact, today: str | None, most: int = LONGEST) -> str:
    """Return a fact's words, with their day unless it is the day of the newest note."""
    text = cut(fact.text, most)
    day = _day(fact, today)
    return text if day is None else f"{text} ({day})"


def cell(tag: str, content: Sequence[Part], **attributes: str) -> etree._Element:
    """Return a table cell; an empty one says that nothing is written."""
    return element(tag, *(content or (gap(),)), **attributes)


def rows_of(pairs: Iterable[tuple[str, Sequence[Part]]]) -> Iterable[etree._Element]:
    """Yield table rows of one heading and one cell."""
    for label, content in pairs:
        yield element("tr", cell("th", (label,), scope="row"), cell("td", content))


def table(caption: str, head: Sequence[str], body: Iterable[etree._Element], class_: str = "") -> etree._Element:
    """Return a table with a caption, column headings with their scope, and rows."""
    parts: list[etree._Element] = [element("caption", caption)] if caption else []
    if head:
        parts.append(element("thead", element("tr", *[element("th", words, scope="col") for words in head])))
    attributes = {"class": class_} if class_ else {}
    return element("table", *parts, element("tbody", *body), **attributes)


def joined(facts: Iterable[Fact], today: str | None, most: int = LONGEST, total: int = 1000) -> list[Part]:
    """Return facts in one run of text; those about one wound, and those of one day, stand together.

    Parameters
    ----------
    facts
        In the order to be read.
    today
        Day of the newest note: its facts carry no date.
    most, total
        Limits of one fact and of the whole run, in characters; what stays out is counted.
    """
    kept = list(facts)
    shown = fitting(kept, most, total)
    out: list[Part] = []
    for about, group in groupby(shown, key=lambda fact: fact.about):
        out += _run(list(group), about, today, most)
    if len(shown) < len(kept):
        out.append(say("sheet.more", number=len(kept) - len(shown)))
    return out


def fitting(facts: list[Fact], most: int, total: int) -> list[Fact]:
    """Return the facts, from the first, that have room in a run of text."""
    lengths = list(accumulate(min(len(fact.text), most) + len(fact.label) for fact in facts))
    return facts[: max(1, sum(length <= total for length in lengths))]


def _run(facts: list[Fact], about: str | None, today: str | None, most: int) -> list[Part]:
    """Facts about one wound, or about none; those of one older day stand in brackets with that day."""
    out: list[Part] = [element("b", f"{cut(about, 20)} ")] if about else []
    for day, group in groupby(facts, key=lambda fact: _day(fact, today)):
        of_day = list(group)
        out += [say("sheet.of_day", day=day)] if day else []
        for fact in of_day:
            label, words = say("sheet.label", label=cut(fact.label, 50)), cut(fact.text, most).rstrip(".")
            close = "]" if day and fact is of_day[-1] else ""
            end = f"{close}; " if about and fact is not facts[-1] else f"{close}. "
            out += [label + words + end] if about else [element("b", label), words + end]
    return out


def _day(fact: Fact, today: str | None) -> str | None:
    return None if fact.at is None or short(fact.at) == short(today) else cut(short(fact.at), 24)


_DATE = re.compile(r"((?:\b\w{2,4}\.? )?\d{4}-\d\d-\d\d|\d{4}-\d\d-\d\d)")


def keep_dates_whole(tree: etree._Element) -> None:
    """Put every date in a span that is not broken over two lines; drawings are left alone."""
    for found in list(tree.iter(f"{{{XHTML}}}*")):
        if found.get("class") == "date":
            continue
        if found.text and len(parts := _DATE.split(found.text)) > 1:
            found.text = parts[0]
            for place, made in enumerate(_spans(parts)):
                found.insert(place, made)
        parent = found.getparent()
        if found.tail and parent is not None and len(parts := _DATE.split(found.tail)) > 1:
            found.tail = parts[0]
            at = parent.index(found) + 1
            for place, made in enumerate(_spans(parts)):
                parent.insert(at + place, made)


def _spans(parts: Sequence[str]) -> list[etree._Element]:
    out = []
    for day, after in zip(parts[1::2], parts[2::2], strict=True):
        made = element("span", day, class_="date")
        made.tail = after
        out.append(made)
    return out


def inline(svg: bytes, name: str, width: int, tallest: int) -> etree._Element:
    """Return a drawing as an element of the page, at most so many mm wide and tall; its ids get a name of their own."""
    root = etree.fromstring(svg)
    high = width * float(root.get("height", "1")) / float(root.get("width", "1"))
    # A legend of very long words makes a tall drawing: it is drawn smaller, and never takes the page.
    scale = min(1.0, tallest / high)
    root.set("font-family", f"'{FAMILY}', sans-serif")
    root.set("style", f"width: {width * scale:.1f}mm; height: {high * scale:.1f}mm")
    for found in root.iter(etree.Element):
        if "id" in found.attrib:
            found.set("id", name + "-" + str(found.get("id")))
        for key in ("fill", "stroke"):
            if (value := found.get(key, "")).startswith("url(#"):
                found.set(key, value.replace("url(#", f"url(#{name}-"))
    return root
