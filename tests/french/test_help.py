"""Help is data: every option has its text, in English and French, with the same examples; French help has no English.

Outside check: click's own source says which words click prints (``tests/french/test_messages.py`` for the others).
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from tests.french.test_print import english_in
from woundfhir.cli import VERBS, cli, run
from woundfhir.cli.click_words import MODULES
from woundfhir.cli.help import ROOT, key_of, page_of, texted
from woundfhir.language import speaking
from woundfhir.messages import known
from woundfhir.texts import read_tables

TEXTS = {language: read_tables("woundfhir.cli.help", language) for language in ("en", "fr")}
#: Words that click says only to who writes a program, or at prompts, which we have none of.
TO_PROGRAMMERS = re.compile(
    r"[Dd]eprecat|declaration|No options defined|defined twice|same flag|prompt|Confirm|Do you want|%\(prog\)"
    r"|start char|Press any|Repeat|two entered|colou?r|invalid input|Choice\(|match the format|len_type|UUID"
)


def commands() -> Iterator[tuple[str, click.Command]]:
    """Yield every verb and its parts as they are declared, by the names of their texts."""
    yield ROOT, cli
    for verb in VERBS:
        command = cli.get_command(click.Context(cli), verb)
        assert command is not None
        yield verb, command
        for name, part in command.commands.items() if isinstance(command, click.Group) else ():
            yield f"{verb} {name}", part


def test_every_option_has_its_text_and_every_text_its_option() -> None:
    used, own = set(), {(verb, key) for verb, table in TEXTS["en"]["options"].items() for key in table}
    for verb, command in commands():
        for one in command.params:
            if isinstance(one, click.Option) and key_of(one) not in ("version", "help"):
                assert one.help is None, f"{verb} --{key_of(one)}: its text stands in cli/help/texts, not at the option"
                places = {(verb, key_of(one)), ("every", key_of(one))} & own
                assert places, f"{verb} --{key_of(one)}: no text in cli/help/texts/en/options.toml"
                used |= places if len(places) == 1 else {(verb, key_of(one))}
    shared = {(verb, key) for verb, key in own - used if verb == "every"}
    assert own - used - shared == {(ROOT, "version")}
    assert {key for _, key in shared} <= {key for _, key in used} | {"help"}
    assert TEXTS["en"]["verbs"].keys() == {verb for verb, _ in commands()}


@pytest.mark.parametrize(
    ("language", "hint"), [("en", "Try '{} --help' for help."), ("fr", "Pour de l'aide : « {} --help ».")]
)
def test_every_usage_error_says_where_the_help_is(language: str, hint: str, capsys: pytest.CaptureFixture[str]) -> None:
    for verb, _ in commands():
        named = "woundfhir" if verb == ROOT else f"woundfhir {verb}"
        assert run(["--lang", language, *named.split()[1:], "--no-such-option"]) == 2
        written = capsys.readouterr().err.replace("\u00a0", " ")
        assert written.splitlines()[1] == hint.format(named), verb


def test_examples_are_the_same_in_both_languages() -> None:
    def examples(language: str, verb: str) -> list[str]:
        with speaking(language):
            blocks = page_of(verb)["text"].split("\b\n")[1:]
        lines = [line for block in blocks for line in block.split("\n\n", 1)[0].splitlines()]
        return [re.split(r"\s{2,}", line.replace("\u00a0", " "))[0] for line in lines]

    for verb, _ in commands():
        assert examples("fr", verb) == examples("en", verb), verb


def test_help_in_french_has_no_english(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WOUNDFHIR_LANG", "fr")
    for verb, _ in commands():
        assert run([*verb.split(), "--help"] if verb != ROOT else ["--help"]) == 0
        page = capsys.readouterr().out
        assert page.startswith("Utilisation\u00a0: woundfhir") and "Options\u00a0:" in page, verb
        assert english_in(without_commands(page)) <= {"record"}, verb  # the name of a format


def without_commands(page: str) -> str:
    """Return a page without what is typed: examples, names of files and of options."""
    lines = [re.sub(r"^  (woundfhir|curl|echo|WOUND|POST) .*?(\s{3}|$)", "", line) for line in page.splitlines()]
    return re.sub(r"\$?[\w-]+\.(?:yaml|toml|json)\b|--[\w-]+|last\|ID", "", "\n".join(lines))


@pytest.mark.parametrize("args", [["--help", "--lang", "fr"], ["--lang=fr", "check", "-h"], ["map", "test", "-h"]])
def test_the_language_is_known_before_the_options_are_read(
    args: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    if "fr" not in " ".join(args):
        (tmp_path / "woundfhir.toml").write_text('site = "clinic"\n', "utf-8")
        (tmp_path / "clinic").mkdir()
        site = 'name = "nord"\ntitle = "Nord"\nbase = "https://nord.example/fhir"\nlanguage = "fr-CA"\n'
        (tmp_path / "clinic" / "site.toml").write_text(site, "utf-8")
        monkeypatch.chdir(tmp_path)
    assert run(args) == 0
    assert capsys.readouterr().out.startswith("Utilisation\u00a0:")
    monkeypatch.chdir("/")
    assert run(["--help"]) == 0
    assert capsys.readouterr().out.startswith("Usage:")  # a run leaves no language behind


def test_a_mistyped_line_is_answered_in_french(capsys: pytest.CaptureFixture[str]) -> None:
    for args, words in (
        (["chekc"], "Commande inconnue\u00a0: «\u00a0chekc\u00a0»"),
        (["check"], "Par exemple\u00a0:\n  woundfhir check note.yaml "),
        (["check", "x", "-f", "jsn"], "Vouliez-vous dire json ou ndjson?"),
        (["check", "x", "--chose"], "Option inconnue\u00a0: «\u00a0--chose\u00a0»"),
        (["bundle", "x", "--newest", "0"], "0 n'est pas dans l'intervalle x>=1"),
        (["check", "nofile.yaml"], "ce fichier n'existe pas; attendu\u00a0: un fichier ou un répertoire"),
    ):
        assert run([*args, "--lang", "fr"]) == 2
        said = capsys.readouterr().err.replace("\u00a0", " ")  # the lines of click have plain blanks
        assert words.replace("\u00a0", " ") in said and english_in(without_commands(said)) == set(), args


def test_every_word_of_click_that_a_user_can_meet_has_its_french() -> None:
    wanted = set()
    for module in MODULES:
        for call in ast.walk(ast.parse(Path(str(module.__file__)).read_text("utf-8"))):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in ("_", "ngettext"):
                texts = call.args[: 1 if call.func.id == "_" else 2]
                wanted |= {one.value for one in texts if isinstance(one, ast.Constant) and isinstance(one.value, str)}
    assert len(wanted) > 40
    assert {text for text in wanted - known("fr").keys() if not TO_PROGRAMMERS.search(text)} == set()


def test_a_verb_is_not_changed_by_its_texts() -> None:
    command = dict(commands())["bundle"]
    before = [(one.help, one.metavar) for one in command.params if isinstance(one, click.Option)]
    with speaking("fr"):
        made = texted(command, "bundle", click.Context(command))
    assert [(one.help, one.metavar) for one in command.params if isinstance(one, click.Option)] == before
    assert {one.metavar for one in made.params} >= {"ENTRÉE...", "QUI", "CLÉ"}
