"""A hand-over sheet as its tests read it: its words, in HTML and in PDF, and what it must say."""

from __future__ import annotations

import io
import re

import pytest
from lxml import etree

from woundfhir.catalogue import catalogue
from woundfhir.handover.summary.client import Summary

XHTML = "{http://www.w3.org/1999/xhtml}"
ALLOWED = {"html", "head", "meta", "title", "style", "body", "main", "header", "section", "footer", "div", "span", "p"}
ALLOWED |= {"br", "b", "h1", "h2", "h3", "ul", "ol", "li", "table", "caption", "thead", "tbody", "tr", "th", "td"}


def words(page: bytes) -> str:
    """The text of a page as a screen reader meets it, blanks put right."""
    return text_of(part(page, "body"))


def part(page: bytes, name: str) -> etree._Element:
    found = etree.fromstring(page).find(f"{XHTML}{name}")
    assert found is not None
    return found


def text_of(tree: etree._Element) -> str:
    return " ".join("".join(str(text) for text in tree.itertext()).split())


def pdf_words(pdf: bytes) -> tuple[int, str]:
    pypdf = pytest.importorskip("pypdf")
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return len(pages), squeezed(" ".join(page.extract_text() for page in pages))


def squeezed(text: str) -> str:
    """Text without blanks and bullets: a PDF breaks lines where it likes."""
    return re.sub(r"[\s•]+", "", text)


def expected(summed: Summary) -> list[str]:
    """The facts that both forms must tell, as the summary words them."""
    found = [allergy.text for allergy in summed.allergies] + [contact.text for contact in summed.contacts]
    for wound in summed.open_wounds:
        assert wound.size and wound.since_first and wound.next_change and wound.recipe
        found += [wound.name, wound.size.text, wound.since_first.dated, wound.next_change.text]
        found += [wound.packing.text, *(step.text for step in wound.recipe.steps if step.text)]
        steps = {concept.path for concept in catalogue().section("dressing")}
        found += [fact.text for path, facts in wound.facts.items() if path not in steps for fact in facts]
        found += [fact.text for fact in (*wound.supplies, *wound.left)]
    return found + [fact.text for facts in summed.facts.values() for fact in facts]
