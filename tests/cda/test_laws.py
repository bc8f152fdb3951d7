"""Laws over every value of every document: nothing is lost, and nothing is called understood that changes nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from lxml import etree

from tests.cda.cases import CASES
from woundfhir.errors import InputError
from woundfhir.intake.inputs import Input
from woundfhir.intake.source import parse
from woundfhir.intake.traced import TracedLosses

Json = Any


def values(root: Any, path: str = "") -> Iterator[tuple[str, Any, str]]:
    """Yield position, element and name of each attribute and text, counted here by hand and not by the reader."""
    same = [one for one in (root.getparent() if root.getparent() is not None else [root]) if one.tag == root.tag]
    name = etree.QName(root).localname
    prefix = "" if root.tag.startswith("{urn:hl7-org:v3}") else f"{root.prefix}:"
    number = f"[{same.index(root) + 1}]" if len(same) > 1 else ""
    here = f"{path}/{prefix}{name}{number}"
    for attribute in root.attrib:
        yield f"{here}/@{etree.QName(attribute).localname}", root, attribute
    if root.text and root.text.strip():
        yield f"{here}/text()", root, ""
    for child in root:
        yield from values(child, here)


def tree(content: bytes) -> Any:
    return etree.fromstring(content, etree.XMLParser(remove_comments=True, remove_pis=True))


def change(text: str) -> str:
    """Another value of the same form: a digit, else a letter."""
    at = re.search(r"[0-9]", text[::-1]) or re.search(r"[a-zA-Z]", text[::-1])
    if at is None:
        return text + "x"
    place = len(text) - 1 - at.start()
    other = str((int(text[place]) + 1) % 10) if text[place].isdigit() else ("x" if text[place] != "x" else "y")
    return text[:place] + other + text[place + 1 :]


def record(one: Input) -> dict[str, Json]:
    return {key: value for key, value in one.history.data.items() if key != "extra"}


def report(one: Input) -> TracedLosses:
    assert isinstance(one.report, TracedLosses)
    return one.report


@pytest.mark.parametrize("name", CASES)
def test_every_value_of_the_document_has_one_fate(name: str) -> None:
    found = {"".join(at) for at in report(parse(CASES[name].content, name)).fates}
    mixed = {place for place in found if "text()[" in place}
    assert found - mixed == {place for place, _, _ in values(tree(CASES[name].content)) if f"{place}[1]" not in mixed}


@pytest.mark.parametrize("name", CASES)
def test_what_is_not_understood_is_kept_word_for_word(name: str) -> None:
    """Every value that the record does not say stands in the kept text of the part that it came in."""
    one = parse(CASES[name].content, name)
    kept = {item["from"]: item["came"] for item in one.history.extra if item["from"].startswith("/ClinicalDocument")}
    for place, element, attribute in values(tree(CASES[name].content)):
        fate = next((each for at, each in report(one).fates.items() if "".join(at) == place), None)
        if fate is None or fate.kind in ("understood", "reworded", "bookkeeping"):
            continue
        words = element.get(attribute) if attribute else element.text
        around = [text for where, text in kept.items() if place.startswith(where)]
        assert any(
            etree.tostring(etree.fromstring(f"<a>{text}</a>"), encoding="unicode", method="text") or text
            for text in around
        ), place
        assert any((words or "").strip().split()[0] in text for text in around), place


@pytest.mark.parametrize("name", CASES)
def test_a_value_that_changes_shows(name: str) -> None:
    """One that is called understood changes the record; any other changes the record, what is kept or the report."""
    before = parse(CASES[name].content, name)
    said = report(before)
    recorded, lines, entries = record(before), said.lines(), said.json()
    fates = {"".join(at): fate.kind for at, fate in said.fates.items()}
    positions = [place for place, _, _ in values(tree(CASES[name].content))]
    for number, place in enumerate(positions):
        kind = fates.get(place)
        if kind is None or kind == "bookkeeping":
            continue
        root = tree(CASES[name].content)
        _, element, attribute = list(values(root))[number]
        if attribute:
            element.set(attribute, change(element.get(attribute)))
        else:
            element.text = change(element.text)
        try:
            after = parse(etree.tostring(root), name)
        except InputError:
            continue
        assert "ReadResult" not in repr(after)
        if kind == "understood":
            assert record(after) != recorded or after.asks != before.asks or report(after).lines() != lines, (
                f"{place} is called understood"
            )
        else:
            assert after.history.data != before.history.data or report(after).json() != entries, place
