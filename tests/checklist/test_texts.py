"""Texts as data: every message that a rule can give has a text, every text is used, and every slot is given."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from tests.paths import ROOT
from woundfhir import texts
from woundfhir.catalogue import catalogue
from woundfhir.catalogue.model import MARKS
from woundfhir.checklist import Rule, pages, rules
from woundfhir.checklist.pages import ONLY, Page, page
from woundfhir.language import speaking
from woundfhir.texts import AsWritten, Joiners, TextError, slots_of

FOLDER = ROOT / "woundfhir" / "checklist" / "rules"
RULES = {one.code: one for one in rules() if one.group != "presence"}
WHOLE: dict[str, Any] = {
    "title": "A line.",
    "why": "a",
    "wrong": "b",
    "right": "c",
    "fix": "d",
    "source": "e",
    "mark": "seen",
    "message": "f",
}


def _functions() -> Iterator[tuple[str, ast.FunctionDef]]:
    """Code and function of each rule that is written in Python."""
    for path in sorted(FOLDER.glob("*.py")):
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.FunctionDef):
                for made in node.decorator_list:
                    if isinstance(made, ast.Call) and getattr(made.func, "id", "") == "rule":
                        yield ast.literal_eval(made.args[0]), node


FUNCTIONS = dict(_functions())


def _problems(function: ast.FunctionDef) -> list[ast.Call]:
    calls = (node for node in ast.walk(function) if isinstance(node, ast.Call))
    return [node for node in calls if getattr(node.func, "id", "") == "Problem"]


def _strings(node: ast.expr, function: ast.FunctionDef) -> set[str]:
    """Every text that an expression can be: a literal, one of two, or a name that is one of these."""
    if isinstance(node, ast.Constant):
        return {str(node.value)}
    if isinstance(node, ast.IfExp):
        return _strings(node.body, function) | _strings(node.orelse, function)
    if isinstance(node, ast.JoinedStr):
        parts = [
            _strings(part.value if isinstance(part, ast.FormattedValue) else part, function) for part in node.values
        ]
        out = {""}
        for part in parts:
            out = {before + after for before in out for after in part}
        return out
    assert isinstance(node, ast.Name), f"{function.name}: the key of a message is a text or a name"
    found: set[str] = set()
    for one in ast.walk(function):
        if isinstance(one, ast.Assign) and any(getattr(name, "id", "") == node.id for name in one.targets):
            found |= _strings(one.value, function)
    return found


def _keys(code: str) -> set[str]:
    function, found = FUNCTIONS[code], set()
    for call in _problems(function):
        found |= _strings(call.args[1], function) if len(call.args) > 1 else {ONLY}
    return found


def test_every_rule_gives_its_problems_itself() -> None:
    """A problem made in a helper would hide which rule it belongs to."""
    assert FUNCTIONS.keys() == RULES.keys()
    own = sum(len(_problems(function)) for function in FUNCTIONS.values())
    every = sum(path.read_text("utf-8").count("Problem(") for path in FOLDER.glob("*.py"))
    assert own == every


@pytest.mark.parametrize("code", sorted(RULES))
def test_messages_of_page_and_rule_are_the_same(code: str) -> None:
    assert _keys(code) == set(RULES[code].page.messages)


@pytest.mark.parametrize("code", sorted(RULES))
def test_a_rule_gives_each_slot_of_its_messages(code: str) -> None:
    function, text = FUNCTIONS[code], RULES[code].page
    for call in _problems(function):
        keys = _strings(call.args[1], function) if len(call.args) > 1 else {ONLY}
        given = {str(one.arg) for one in call.keywords} - {"value", "source", "about", "since", "from_onset"}
        for key in keys:
            wanted = set(slots_of(text.messages[key])) | set(slots_of(text.fixes.get(key, "")))
            assert wanted <= given, (code, key, wanted - given)
    used = {name for one in (*text.messages.values(), *text.fixes.values()) for name in slots_of(one)}
    named = {str(one.arg) for call in _problems(function) for one in call.keywords} - {
        "value",
        "source",
        "about",
        "since",
        "from_onset",
    }
    assert named <= used, f"{code}: given and in no message: {named - used}"


def test_words_of_a_page_stand_in_its_rule() -> None:
    """A word that no rule lists is a text that nobody reads."""
    source = "\n".join(path.read_text("utf-8") for path in FOLDER.glob("*.py"))
    for code, one in RULES.items():
        # Words may also be keys of the catalogue: the substances of products (CH17).
        listed = set(one.page.words) - catalogue().pages.substances.keys()
        missing = [key for key in sorted(listed) if not re.search(rf"\b{key}\b", source)]
        assert missing == [], code


@pytest.mark.parametrize("one", rules(), ids=lambda one: one.code)
def test_a_page_is_whole_and_reads_as_one(one: Rule) -> None:
    text = one.page
    assert all((text.title, text.why, text.wrong, text.right, text.fix, text.source, text.messages)), one.code
    assert text.title.endswith((".", "?")) and text.title[0] in '"' + text.title[0].upper()
    assert text.source == text.mark or text.source.endswith(f"({text.mark})")
    assert text.mark in MARKS


def test_each_substance_of_the_catalogue_has_its_word() -> None:
    assert set(RULES["CH17"].page.words) == {*catalogue().pages.substances, "other"}


# -- what the loader refuses ---------------------------------------------------------------------------------------


def _package(monkeypatch: pytest.MonkeyPatch, table: Any) -> None:
    marks = texts.tables("woundfhir.checklist")["marks"]
    common = {"caution": {"defer": "They decide."}, "joining": {"and": "and", "or": "or"}, "marks": marks}
    monkeypatch.setattr(pages, "tables", lambda package, language=None: {**common, "XX01": table})


def test_a_whole_page_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    _package(monkeypatch, WHOLE)
    assert page("XX01", caution=False) == Page("A line.", "a", "b", "c", "d", "e (seen)", "seen", {ONLY: "f"})
    assert page("XX01", caution=True).fix == "d They decide."


@pytest.mark.parametrize(
    ("change", "names"),
    [
        ({"why": None}, "XX01.why"),
        ({"wy": "a"}, "XX01.wy"),
        ({"mark": "heard"}, "XX01.mark"),
        ({"message": None}, "XX01"),
        ({"messages": {"one": "f"}}, "XX01"),
        ({"message": None, "messages": {"one": "f"}, "fixes": {"two": "g"}}, "two"),
        ({"title": " "}, "XX01"),
        ({"message": "{slot"}, "brace"),
        ({"message": "{slot:nor}"}, "nor"),
        ({"message": 7}, "XX01.message"),
    ],
)
def test_a_page_that_is_not_whole_is_refused_by_name(
    monkeypatch: pytest.MonkeyPatch, change: dict[str, Any], names: str
) -> None:
    table = {key: value for key, value in {**WHOLE, **change}.items() if value is not None}
    _package(monkeypatch, table)
    with pytest.raises(TextError, match=re.escape(names)):
        page("XX01", caution=False)


def test_a_rule_without_a_page_is_refused_by_name() -> None:
    with pytest.raises(TextError, match="ZZ99"):
        page("ZZ99", caution=False)


def test_a_page_without_a_rule_is_refused_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    module = import_module("woundfhir.checklist.built_in")
    monkeypatch.setattr(module, "codes", lambda: frozenset((*RULES, "ZZ99")))
    catalogue().kept.clear()
    with pytest.raises(TextError, match="ZZ99"):
        rules()
    monkeypatch.undo()
    catalogue().kept.clear()
    assert rules()


def test_a_message_without_its_slot_or_word_is_refused_by_name() -> None:
    text = Page(
        "A line.", "a", "b", "c", "d", "e (seen)", "seen", {ONLY: "{missing} not written"}, {}, {"side": "side"}
    )
    assert text.message(ONLY, {"missing": ["side"]}) == "side not written"
    for slots in ({}, {"missing": ["date"]}):
        with pytest.raises(TextError, match=r"missing|date"):
            text.message(ONLY, slots)
    with pytest.raises(TextError, match="other"):
        text.message("other", {})


# -- another language is one more folder ---------------------------------------------------------------------------


def test_another_language_gives_the_same_rules_with_its_texts() -> None:
    with speaking("fr"):
        other = rules()
    assert [(one.code, one.severity, one.when, one.about) for one in other] == [
        (one.code, one.severity, one.when, one.about) for one in rules()
    ]
    assert all(one.page.why != same.page.why for one, same in zip(other, rules(), strict=True))


def test_a_language_without_texts_is_refused_by_name() -> None:
    with pytest.raises(TextError, match="'tlh'"):
        texts.tables("woundfhir.checklist", "tlh")


def test_a_table_in_two_files_is_refused_by_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "texts" / "en"
    folder.mkdir(parents=True)
    for name in ("a", "b"):
        (folder / f"{name}.toml").write_text('[XX01]\ntitle = "t"\n', "utf-8")
    monkeypatch.setattr(texts, "files", lambda package: tmp_path)
    with pytest.raises(TextError, match="XX01"):
        texts.read_tables("any", "en")


def test_lists_are_joined_as_the_slot_asks() -> None:
    join = Joiners("et", "ou")
    words = {"clock": "heure", "depth": "profondeur"}
    assert texts.fill("{a} / {a:or} / {b}", {"a": ["clock", "depth"], "b": AsWritten(("mm", "cm"))}, words, join) == (
        "heure et profondeur / heure ou profondeur / mm et cm"
    )
    assert texts.fill("{n} {{x}}", {"n": 3}, {}, join) == "3 {x}"
