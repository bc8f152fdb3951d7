"""The examples of a rule in French: the same keys, numbers and answers as in English, in words that are read the same.

(No rule runs on its examples, in either language: they are fragments of a note, or prose. ``tests/checklist/cases`` are
the notes that rules are tried on.) Outside check: the reader of answers, with tests/data/french.tsv behind it.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Any

import pytest

from tests.french.test_print import STOP
from woundfhir.catalogue import catalogue
from woundfhir.texts import read_tables

_PAIR = re.compile(r"\b([a-z_]+): \[?('[^']*'|mucosal, not staged|muqueuse, sans stade|[^\[\]{},;]+)")


@cache
def tables(package: str, language: str) -> dict[str, Any]:
    return read_tables(f"woundfhir.{package}", language)


PAGES = [
    (package, code, place)
    for package in ("checklist", "report")
    for code, page in tables(package, "en").items()
    for place in ("wrong", "right")
    if isinstance(page, dict) and place in page
]
#: Answer lists by the key of what they answer.
LISTS: dict[str, list[str]] = {}
for _concept in catalogue().concepts(fields=True):
    if _concept.answers is not None:
        LISTS.setdefault(_concept.key, []).append(_concept.answers.key)
#: Keys and states of the record, which are the same in every language.
ALIKE = frozenset(("none", "open", "closed", "length", "width"))


def _read(key: str, text: str) -> set[str]:
    return {
        f"{name}/{found.word}"
        for name in LISTS.get(key, ())
        if (found := catalogue().answers[name].find(text.strip(" '"))) is not None
    }


@pytest.mark.parametrize(("package", "code", "place"), PAGES, ids=lambda one: one)
def test_an_example_says_the_same_in_french(package: str, code: str, place: str) -> None:
    english, french = (tables(package, language)[code][place] for language in ("en", "fr"))
    keys = [re.findall(r"\b[a-z]+_[a-z_]+\b", text) for text in (english, french)]
    assert keys[0] == keys[1]
    plain = french.replace("1er", "1").replace("\u00a0", " ")
    assert re.findall(r"\d+", english) == re.findall(r"\d+", plain)
    pairs = [_PAIR.findall(text) for text in (english, plain)]
    if [key for key, _ in pairs[0]] == [key for key, _ in pairs[1]]:
        for (key, one), (_, other) in zip(*pairs, strict=True):
            assert _read(key, one) <= _read(key, other), (key, one, other)
    without_keys = re.sub(r'\b[a-z_]+:|\b\w+_\w+\b|"[^"]*"|entered[ -]in[ -]error|\'\w+\'', " ", french)
    assert {word for word in re.findall(r"[a-z]+", without_keys.casefold()) if word in STOP} <= ALIKE


def test_enough_answers_are_compared() -> None:
    compared = [
        key
        for package, code, place in PAGES
        for key, text in _PAIR.findall(tables(package, "fr")[code][place].replace("\u00a0", " "))
        if _read(key, text)
    ]
    assert len(compared) > 150


def test_explain_shows_them(capsys: pytest.CaptureFixture[str]) -> None:
    from woundfhir.cli import run

    assert run(["explain", "DR07", "--lang", "fr"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "pellicule transparente" in shown and "pansement de mousse" in shown
