"""Law: every data element reaches the sheet and the document's narrative, or its entry says why not.

For each concept and each field of a group a complete small note is written with and without an answer; the text
of both must differ, and hold the nurse's own words where the answer has words.
"""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

import pytest
from lxml import etree

from woundfhir.catalogue import Concept, catalogue
from woundfhir.handover import bundle
from woundfhir.handover.sheet.page import sheet_html
from woundfhir.record import History
from woundfhir.record.canonical import as_json

Json = Any
WORD = "zebra crossing"
#: A whole answer of each shape, with words that no page of ours prints by itself.
SAMPLES: dict[str, Json] = {
    "quantity": "7.31 cm",
    "choice": WORD,
    "choices": [WORD],
    "share": {WORD: "100 %"},
    "flag": "yes",
    "text": WORD,
    "clock": "7",
    "score": "7",
    "count": "731",
    "date": "2031-07-03",
    "interval": "every 17 d",
}
NOTE = {
    "id": "v1",
    "at": "2026-03-02T10:00:00-05:00",
    "status": "final",
    "by": {"name": "Nurse (invented)"},
    "wounds": [{"wound": "W1", "assessment": {"odour": "none"}, "care": {"securement": [{"method": "tape"}]}}],
}
CONCEPTS = list(catalogue().concepts(fields=True))


def record(concept: Concept, answer: Json) -> History:
    """A small note with one answer, or with nothing at its place."""
    raw: dict[str, Json] = {"woundfhir": 1, "patient": {"name": {"family": "Invented"}}, "wounds": [{"id": "W1"}]}
    visit = copy.deepcopy(NOTE)
    raw["visits"] = [visit]
    entry = visit["wounds"][0]
    held = {
        "wound": raw["wounds"][0],
        "visit": visit,
        "client": visit.setdefault("client", {}),
        "supply": entry.setdefault("supplies", [{"item": "gauze"}])[0],
        "photo": entry.setdefault("photos", [{"file": "a.jpg"} if concept.key != "file" else {"title": "t"}])[0],
    }
    where = held[concept.group] if concept.group in held else entry.setdefault(concept.group, {})
    if concept.of is not None:
        group = catalogue().concept(f"{concept.group}.{concept.of}")
        item = {"note": "as before"} | ({concept.key: answer} if answer is not None else {})
        where[concept.of] = [item] if group.many else item
    elif answer is not None:
        where[concept.key] = answer
    else:
        where.pop(concept.key, None)
    return History.of(raw)


def sample(concept: Concept) -> Json:
    if concept.is_group:
        return [{"note": WORD}] if concept.many else {"note": WORD}
    return SAMPLES[concept.shape]


def text_of(tree: etree._Element) -> str:
    return " ".join(" ".join(str(text) for text in tree.itertext()).split())


@cache
def _sheet(raw: str) -> str:
    body = etree.fromstring(sheet_html(_parsed(raw))).find("{http://www.w3.org/1999/xhtml}body")
    assert body is not None
    return text_of(body)


@cache
def _narrative(raw: str) -> str:
    composition = bundle(_parsed(raw))["entry"][0]["resource"]
    parts = [composition["text"]["div"], *(section["text"]["div"] for section in composition["section"])]
    return " ".join(text_of(etree.fromstring(part)) for part in parts)


def _parsed(raw: str) -> History:
    import json

    return History(json.loads(raw))


@pytest.mark.parametrize("concept", CONCEPTS, ids=lambda concept: concept.path)
@pytest.mark.parametrize("form", [_sheet, _narrative], ids=["sheet", "narrative"])
def test_every_data_element_is_printed_or_its_entry_says_why_not(concept: Concept, form: Any) -> None:
    if concept.page.unprinted:
        assert len(concept.page.unprinted.split()) > 3
        return
    answer = sample(concept)
    without, given = (form(as_json(record(concept, value).data)) for value in (None, answer))
    assert given != without
    if WORD in str(answer):
        assert WORD in given
    elif concept.shape in ("quantity", "count", "date"):
        assert answer.split()[0] in given


@pytest.mark.parametrize("concept", [c for c in CONCEPTS if c.group not in ("photo", "supply")], ids=lambda c: c.path)
@pytest.mark.parametrize("form", [_sheet, _narrative], ids=["sheet", "narrative"])
def test_a_reason_for_no_answer_is_printed_too(concept: Concept, form: Any) -> None:
    given = form(as_json(record(concept, {"absent": "declined by zebra"}).data))
    assert "declined by zebra" in given


def test_a_new_concept_without_a_section_stands_under_also_charted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Adding a data element is one entry: without a section it is printed all the same."""
    from woundfhir.catalogue.reader import Reader

    entry = {"label": "Lustre", "shape": "text", "source": "a test"}
    made = Reader().concept("assessment", "lustre", entry)
    groups = catalogue().groups
    monkeypatch.setitem(groups["assessment"], "lustre", made)  # type: ignore[arg-type]
    page = _sheet(as_json({**record(made, None).data, "visits": [_lustrous()]}))
    assert "Also charted. Lustre: dull" in page


def _lustrous() -> dict[str, Json]:
    visit = copy.deepcopy(NOTE)
    visit["wounds"][0]["assessment"]["lustre"] = "dull"
    return visit
