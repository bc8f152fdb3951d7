"""French is whole: the same keys as English, the same slots, and its own punctuation.

A key that only English has is shown in English in every language; this test names it.
Conventions: tests/data/french.tsv, lines 2, 3 and 7 (Office quebecois de la langue francaise, as noted there).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any

import pytest

from woundfhir.catalogue import catalogue, frame
from woundfhir.catalogue.translation import PLACES, translations
from woundfhir.language import speaking
from woundfhir.texts import read_tables, slots_of

PACKAGES = (
    "checklist",
    "chart",
    "report",
    "handover",
    "record",
    "measures",
    "drawing",
    "audit",
    "newnote",
    "cli",
    "cli.help",
    "freetext",
    "page",
    "definitions",
)
#: Of a rule's page: the mark is a key, and a title that is cited stays as it is.
AS_THEY_ARE = frozenset(("mark", "source"))
#: Tables that are no words for people: expressions that read English, and what a new note asks for.
NO_WORDS = frozenset(
    ("action_words", "offloading_words", "note_words", "purposes", "fields", "only", "besides", "carried")
)
#: Units of English spelling that French does not need; side and site, which French says in other words.
OTHER_SLOTS = frozenset(("units", "place"))


def flat(table: Mapping[str, Any], place: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from flat(value, (*place, key))
        else:
            yield (*place, key), value


@pytest.mark.parametrize("package", PACKAGES)
def test_every_text_has_its_french_with_the_same_slots(package: str) -> None:
    english = dict(flat(read_tables(f"woundfhir.{package}", "en")))
    french = dict(flat(read_tables(f"woundfhir.{package}", "fr")))
    wanted = {key for key in english if key[0] not in NO_WORDS and key[-1] not in AS_THEY_ARE and key[0] != "units"}
    empty = {key for key in wanted if not english[key]}
    assert sorted(wanted - french.keys() - empty) == []
    for key in wanted & french.keys():
        if isinstance(english[key], str) and key[0] not in OTHER_SLOTS and key[-1] not in ("wrong", "right"):
            assert slots_of(english[key]).keys() == slots_of(french[key]).keys(), key


def test_nothing_french_is_left_of_what_english_no_longer_has() -> None:
    beyond = {"units", "rhythm", "flags", "sources", "place", "answer"}  # English answers are said as written
    for package in PACKAGES:
        english = dict(flat(read_tables(f"woundfhir.{package}", "en")))
        french = dict(flat(read_tables(f"woundfhir.{package}", "fr")))
        assert sorted(key for key in french.keys() - english.keys() if key[0] not in beyond) == []


def test_every_entry_of_the_catalogue_has_its_french() -> None:
    found = translations()["fr"]
    every = {concept.path: concept for concept in catalogue().concepts(fields=True)}
    assert found.concepts.keys() - {"assessment.share_percent"} == every.keys()  # that one is made in fhir/terms.py
    for path, concept in every.items():
        said = found.concepts[path]
        asked, front, page = concept.asked, concept.page.front, concept.page
        wanted = {"label", *({"question"} if concept.question != concept.label else ())}
        wanted |= {"short"} if page.short else set()
        wanted |= {"pattern"} if page.pattern else set()
        wanted |= {"missing"} if front is not None and front.missing else set()
        wanted |= {"why", "example"} if asked is not None else set()
        assert wanted <= said.keys(), path
        assert said.keys() <= {*PLACES, "also"}, path
        if page.pattern:
            assert slots_of(said["pattern"]) == slots_of(page.pattern), path
        if "{}" in page.short:
            assert "{}" in said["short"], path


def test_every_answer_has_its_french_and_every_word_means_one_answer() -> None:
    found = translations()["fr"]
    for key, answers in catalogue().answers.items():
        own = [word for word in answers.words if word.key.split("/")[0] == key]
        assert found.titles[key]
        assert set(found.answers.get(key, {})) == {word.word for word in own}, key
        for word in own:
            for form in found.answers[key][word.word]:
                read = answers.find(form)
                assert read is not None and read.word == word.word, (key, form)


def test_an_example_of_a_missing_answer_is_read_as_an_answer() -> None:
    from woundfhir.record import files as record_files

    with speaking("fr"):
        for concept in catalogue().concepts():
            if concept.asked is None or concept.shape not in ("choice", "choices"):
                continue
            read = record_files.read_yaml(concept.asked.example, "example")[concept.key]
            assert concept.answers is not None
            for word in read if isinstance(read, list) else [read]:
                assert concept.answers.find(word) is not None, concept.path


def test_sections_hazards_and_the_frame_have_their_french() -> None:
    data = files("woundfhir.catalogue") / "data"
    english, french = (tomllib.loads((data / "texts" / f"{key}.toml").read_text("utf-8")) for key in ("en", "fr"))
    assert {key for key, _ in flat(english)} == {key for key, _ in flat(french)}
    plain = {key.path: key for key in frame().every_key()}
    with speaking("fr"):
        for key in frame().every_key():
            assert key.label and key.question, key.path
            assert key.question != plain[key.path].question, key.path
        titles = [part.says for part in frame().parts.values()]
    assert all(french_ != part.says for french_, part in zip(titles, frame().parts.values(), strict=True))


def _every_french_text() -> Iterator[tuple[str, str]]:
    for package in PACKAGES:
        for key, value in flat(read_tables(f"woundfhir.{package}", "fr")):
            if isinstance(value, str) and key[-1] not in AS_THEY_ARE and key[0] not in NO_WORDS and key[-1] != "head":
                yield f"{package}: {'.'.join(key)}", value
    found = translations()["fr"]
    for path, said in found.concepts.items():
        yield from ((f"{path}.{key}", text) for key, text in said.items() if key not in ("example", "also"))


#: A colon, a percentage and guillemets stand apart by a blank at which no line ends; ; ? ! do not (Canadian French).
WRONG = re.compile(r"\w :|[^ \u00a0]« |« | »|\d %|\} %|\w [;?!](?:\s|$)")


def test_french_punctuation() -> None:
    assert [(key, text) for key, text in _every_french_text() if WRONG.search(text)] == []
