"""Every word of the page stands in one file a language; nothing is loaded from anywhere; the order holds everything."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.paths import ROOT
from woundfhir.catalogue import catalogue
from woundfhir.page import bedside
from woundfhir.texts import slots_of, tables

PAGE = ROOT / "woundfhir" / "page"
TEMPLATES = sorted((PAGE / "templates").glob("*.html"))
_SAID = re.compile(r"""say\("([\w.]+)"(?:\s*~)?""")
_SAID_MADE = re.compile(r"""say\("([\w.]+\.)"\s*~""")


def keys(table: dict[str, Any], start: str = "") -> set[str]:
    found: set[str] = set()
    for key, value in table.items():
        found |= keys(value, f"{start}{key}.") if isinstance(value, dict) else {f"{start}{key}"}
    return found


def all_keys() -> set[str]:
    return keys(tables("woundfhir.page", "en")["page"])


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_word_stands_in_a_template(path: Path) -> None:
    text = path.read_text("utf-8")
    text = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", " ", text, flags=re.DOTALL)
    text = re.sub(r"<[^>]*>", " ", text)
    assert re.findall(r"[^\W\d_]{2,}", text) == []


def sources() -> str:
    python = list(PAGE.rglob("*.py"))
    return "\n".join(path.read_text("utf-8") for path in [*TEMPLATES, *python])


def test_every_text_that_is_used_is_there_and_every_other_one_is_used() -> None:
    text = sources()
    made = set(_SAID_MADE.findall(text))
    used = {key for key in _SAID.findall(text) if f"{key}" not in made}
    there = all_keys()
    assert {key for key in used if not key.endswith(".")} - there == set()
    by_prefix = {key for key in there if any(key.startswith(start) for start in made)}
    asked = {"decimal", "weekdays", *(f"state.{key}" for key in ("saving", "saved", "lost", "shut"))}
    assert there - used - by_prefix - asked == set()


def test_steps_and_groups_have_their_words() -> None:
    there = all_keys()
    assert {f"step.{step.key}" for step in bedside.steps()} <= there
    assert {f"group.{group.key}" for group in bedside.groups()} <= there


def test_every_text_is_a_text_with_closed_braces() -> None:
    def texts(value: Any) -> Iterator[str]:
        for inner in value.values() if isinstance(value, dict) else ():
            yield from texts(inner)
        if isinstance(value, str):
            yield value

    found = list(texts(tables("woundfhir.page", "en")))
    assert len(found) > 100
    for one in found:
        slots_of(one)  # raises where a brace is open


def test_every_answer_of_a_note_has_its_place_at_the_bedside() -> None:
    """All that the catalogue can chart at a visit can be charted on the page, each in one group."""
    placed = [path for group in bedside.groups() for path in group.paths]
    groups = ("visit", "client", "assessment", "care", "plan")
    wanted = {f"{group}.{key}" for group in groups for key in catalogue().groups[group]} - {bedside.CARRIED}
    assert wanted <= set(placed)
    assert len(placed) == len(set(placed))


def test_what_is_never_taken_over_is_in_the_catalogue() -> None:
    for path in bedside.never_again():
        if path.startswith("supplies."):
            assert path.removeprefix("supplies.") in catalogue().groups["supply"]
        else:
            assert catalogue().concept(path)


def test_signs_of_infection_counts_pain_and_size_are_never_taken_over() -> None:
    for key in ("infection_signs", "infection_checked", "pain_at_rest", "pain_at_change", "length", "width", "depth"):
        assert bedside.seen_anew(f"assessment.{key}")
    for key in ("undermining[0].depth", "tunnels[1].clock", "area", "red_flags"):
        assert bedside.seen_anew(f"assessment.{key}")
    for key in ("packing[0].pieces_in", "packing[3].pieces_out", "removed.pieces", "response.pain_after"):
        assert bedside.seen_anew(f"care.{key}")


def test_nothing_is_loaded_from_elsewhere_and_nothing_stands_inside_a_page() -> None:
    for path in [*TEMPLATES, *(PAGE / "assets").iterdir()]:
        text = path.read_text("utf-8")
        assert not re.search(
            r"(?:https?:)?//[a-z]", re.sub(r"^\s*//.*$|/\*.*?\*/", "", text, flags=re.MULTILINE | re.DOTALL)
        ), path.name
        assert " style=" not in text and "<style" not in text and not re.search(r"\son\w+=", text), path.name
        assert re.findall(r"<script(?![^>]*\bsrc=)", text) == [], path.name
