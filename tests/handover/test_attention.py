"""What calls for attention stands on page one, before everything else, and nothing hides it.

The kinds come from the table of hazards that was read for the project (tests/data, ``hazards.tsv`` by way of the
catalogue); that a newer silent note hides nothing, and that what does not count is no source, are laws of the house.
"""

from __future__ import annotations

from typing import Any

import pytest
from lxml import etree

from woundfhir.catalogue import Concept, catalogue
from woundfhir.handover import bundle
from woundfhir.handover.sheet.page import sheet_html
from woundfhir.handover.summary.client import summary
from woundfhir.record import History

Json = Any
XHTML = "{http://www.w3.org/1999/xhtml}"
FIRST, SECOND = "2026-03-02T10:00:00-05:00", "2026-03-09T10:00:00-05:00"


def note(at: str = FIRST, status: str = "final", client: Json = None, id_: str = "", **entry: Json) -> dict[str, Json]:
    made: dict[str, Json] = {"id": id_ or at, "at": at, "status": status, "wounds": [{"wound": "W1", **entry}]}
    return made | ({"client": client} if client else {})


def record(*visits: dict[str, Json], patient: Json = None, **wound: Json) -> History:
    raw = {"woundfhir": 1, "patient": patient or {}, "wounds": [{"id": "W1", **wound}], "visits": list(visits)}
    return History.of(raw)


def box(history: History) -> str:
    """The words of the box on the page's top; it must stand before the table of wounds."""
    main = etree.fromstring(sheet_html(history)).find(f".//{XHTML}main")
    assert main is not None
    parts = [part.get("class") or etree.QName(part).localname for part in main]
    if "attention" not in parts:
        return ""
    assert parts.index("attention") == 1 and parts[0] == "header"
    return " ".join("".join(str(text) for text in main[1].itertext()).split())


def hazards(history: History) -> list[str]:
    return [alert.hazard.key for alert in summary(history).attention]


def held(concept: Concept, value: Json) -> dict[str, Json]:
    """The answer at its place in a note."""
    if concept.of is not None:
        group = catalogue().concept(f"{concept.group}.{concept.of}")
        value = [{concept.key: value}] if group.many else {concept.key: value}
    return {concept.group: {concept.of or concept.key: value}}


NAMED = [
    (concept, word.word, tag.removeprefix("hazard:"))
    for concept in catalogue().concepts(fields=True)
    if concept.answers is not None
    for word in concept.answers.words
    for tag in sorted(word.tags)
    if tag.startswith("hazard:")
]
NAMED += [
    (concept, answer, hazard)
    for concept in catalogue().concepts(fields=True)
    for answer, hazard in concept.page.hazards.items()
]


@pytest.mark.parametrize(("concept", "word", "hazard"), NAMED, ids=lambda found: str(getattr(found, "path", found)))
def test_each_answer_that_names_a_hazard_stands_first_with_its_day_and_a_question(
    concept: Concept, word: str, hazard: str
) -> None:
    value = [word] if concept.shape == "choices" else word
    history = record(note(**held(concept, value)))
    assert hazard in hazards(history)
    words, known = box(history), catalogue().hazards[hazard]
    assert word in words and "2026-03-02" in words
    assert known.title in words and known.ask in words and known.source in words
    # A newer note that is silent does not hide it, and does not take its day.
    later = record(note(**held(concept, value)), note(SECOND, assessment={"shape": "oval"}))
    assert word in box(later) and "2026-03-02" in box(later)


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"assessment": {"exposed": ["loop of gut to be seen"]}}, "loop of gut"),
        ({"assessment": {"red_flags": ["foot suddenly white"]}}, "foot suddenly white"),
        ({"assessment": {"bleeding": "spurting"}}, "spurting"),
        ({"assessment": {"exposed": ["bowel"]}}, "bowel"),
    ],
)
def test_a_word_that_such_a_list_does_not_know_is_shown_and_not_passed_over(entry: Json, words: str) -> None:
    assert words in box(record(note(**entry)))


@pytest.mark.parametrize("status", ["draft", "entered in error"])
def test_what_does_not_count_is_no_source_of_a_fact(status: str) -> None:
    heavy = {"assessment": {"bleeding": "heavy"}}
    assert box(record(note(status=status, **heavy))) == ""
    # Nor does it clear one.
    calm = note(SECOND, status, assessment={"bleeding": "none"})
    assert "heavy" in box(record(note(**heavy), calm))


def test_a_replaced_note_is_no_source_of_a_fact() -> None:
    wrong = note(id_="a", assessment={"exposed": ["bone"]})
    right = note(id_="b", status="amended", assessment={"exposed": ["none"]}) | {"replaces": "a"}
    assert box(record(wrong, right)) == ""


def test_the_next_answer_to_the_same_question_ends_it_and_a_reason_for_no_answer_does_not() -> None:
    heavy = note(assessment={"bleeding": "heavy"})
    assert box(record(heavy, note(SECOND, assessment={"bleeding": "none"}))) == ""
    assert "heavy" in box(record(heavy, note(SECOND, assessment={"bleeding": {"absent": "not assessed"}})))


def test_order_in_the_file_is_not_order_in_time() -> None:
    late, early = note(SECOND, assessment={"bleeding": "none"}), note(assessment={"bleeding": "heavy"})
    assert box(record(late, early)) == ""


@pytest.mark.parametrize(
    ("signs", "found"),
    [(["size increasing", "new breakdown"], False), (["size increasing", "new breakdown", "exudate increasing"], True)],
)
def test_three_signs_of_deep_infection_are_a_hazard_together(signs: list[str], found: bool) -> None:
    """Woo KY, Sibbald RG, Ostomy Wound Manage 2009;55(8):40-48: three or more of seven signs (from memory)."""
    assert ("deep_infection" in hazards(record(note(assessment={"infection_signs": signs})))) is found


def test_signs_of_deep_infection_are_counted_over_the_whole_note() -> None:
    note_ = note(assessment={"infection_signs": ["size increasing"], "odour": "offensive", "exposed": ["bone"]})
    assert "deep_infection" in hazards(record(note_))


@pytest.mark.parametrize(
    ("words", "key", "quoted"),
    [
        ("Seen at 10. Chest pain this am, gone now. Dressing dry.", "sudden", "Chest pain this am, gone now"),
        ("Plaie propre. Pied froid et bleu depuis hier.", "circulation", "Pied froid et bleu depuis hier"),
        ("Denies chest pain. No fever.", "", ""),
    ],
)
def test_what_the_newest_note_names_in_free_words_is_quoted(words: str, key: str, quoted: str) -> None:
    said = record(note(**{"note": words}))
    assert hazards(said) == ([key] if key else [])
    assert (f'in the words of the note: "{quoted}"' in box(said)) is bool(key)
    # Words are of their own day; an answer of the same note is shown and not the words beside it.
    assert hazards(record(note(**{"note": words}), note(SECOND))) == []


def pack(into: str | None, out: str | None = None) -> Json:
    made = {"material": "gauze strip", "location": "tunnel at 4"}
    made |= {"pieces_in": into} if into else {}
    return {"packing": [made | ({"pieces_out": out} if out else {})]}


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ([pack("2"), pack("1", "2")], False),
        ([pack("2"), pack("1", "1")], False),
        ([pack("2"), pack("1")], True),
        ([pack("2"), {"packing": "none"}], True),
        ([pack("2"), pack("0", "3")], True),
        ([pack(None)], True),
        ([{"removed": {"all_out": "no"}}], True),
    ],
)
def test_packing_that_does_not_add_up(changes: list[Json], found: bool) -> None:
    visits = [note(f"2026-03-0{day}T10:00:00-05:00", care=care) for day, care in enumerate(changes, 2)]
    assert ("packing" in hazards(record(*visits))) is found


@pytest.mark.parametrize(
    ("allergy", "care", "found"),
    [
        ("silver", {"primary_dressing": [{"dressing": "silver foam"}]}, True),
        ("bee products", {"primary_dressing": [{"dressing": "honey alginate"}]}, True),
        ("colophony", {"securement": [{"method": "tape"}]}, True),
        ("iodine", {"cleansing": {"solution": "povidone iodine"}}, True),
        ("cotton wool", {"secondary_dressing": [{"dressing": "pad of cotton wool"}]}, True),
        ("adhesive tape", {"securement": [{"method": "roll bandage without tape on the skin"}]}, False),
        ("adhesive tape", {"primary_dressing": [{"dressing": "non-adhesive foam"}]}, False),
        ("penicillin", {"primary_dressing": [{"dressing": "silver foam"}]}, False),
        ("silver", {"removed": {"dressing": "silver foam"}, "primary_dressing": [{"dressing": "foam dressing"}]}, True),
    ],
)
def test_an_allergy_to_what_is_on_the_wound(allergy: str, care: Json, found: bool) -> None:
    history = record(note(care=care), patient={"allergies": [{"to": allergy}]})
    assert ("allergy" in hazards(history)) is found
    assert (f"allergy to {allergy}" in box(history)) is found


@pytest.mark.parametrize("status", ["resolved", "entered in error", "refuted"])
def test_an_allergy_that_no_longer_holds_is_none(status: str) -> None:
    patient = {"allergies": [{"to": "silver", "status": status}]}
    care = {"primary_dressing": [{"dressing": "silver foam"}]}
    assert hazards(record(note(care=care), patient=patient)) == []


def test_the_most_urgent_stands_first_across_wounds_and_the_client() -> None:
    found = note(assessment={"exposed": ["bone"], "bleeding": "heavy"}, client={"systemic_signs": ["fever"]})
    assert hazards(record(found)) == ["sepsis", "bleeding", "exposed"]


def test_a_closed_wound_and_a_calm_note_call_for_nothing() -> None:
    assert hazards(record(note(assessment={"bleeding": "heavy"}), status="closed", closed="2026-03-05")) == []
    calm = note(assessment={"bleeding": "none", "exposed": ["none"], "red_flags": ["none"], "odour": "none"})
    assert box(record(calm)) == ""


def test_the_document_shows_the_same_before_its_sections() -> None:
    document = bundle(record(note(assessment={"bleeding": "heavy"})))
    text = document["entry"][0]["resource"]["text"]["div"]
    assert "Calls for attention" in text and "heavy (2026-03-02)" in text
