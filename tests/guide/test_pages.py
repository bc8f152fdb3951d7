"""The guide is whole: every verb, option, rule, concept and profile has its page, and every link leads somewhere."""

from __future__ import annotations

import posixpath
import shutil
import subprocess
from functools import cache
from pathlib import Path

import click
import pytest
from lxml import html

import woundfhir
from tests.paths import ROOT
from woundfhir.catalogue import catalogue
from woundfhir.cli import VERBS, cli, run
from woundfhir.errors import InputError
from woundfhir.guide.book import book, find
from woundfhir.guide.man import man_pages
from woundfhir.guide.rules import known as known_rules
from woundfhir.guide.site import html_files


@cache
def site() -> dict[str, bytes]:
    return dict(html_files())


@cache
def text(name: str) -> str:
    return book()[name].make()


def commands() -> list[tuple[str, click.Command]]:
    """Every command with the name of its verb, those of a group too."""
    context = click.Context(cli)
    out: list[tuple[str, click.Command]] = []
    for verb in VERBS:
        found = cli.get_command(context, verb)
        assert found is not None
        out.append((verb, found))
        out += [(verb, one) for one in (found.commands.values() if isinstance(found, click.Group) else ())]
    return out


def test_every_verb_and_option_stands_in_the_command_reference_and_its_man_page() -> None:
    pages = man_pages()
    assert set(pages) == {"woundfhir.1", *(f"woundfhir-{verb}.1" for verb in VERBS)}
    for verb, command in commands():
        man = pages[f"woundfhir-{verb}.1"].decode().replace("\\-", "-")
        assert f"](commands/{verb}.md)" in text("commands")
        for one in command.get_params(click.Context(command)):
            if isinstance(one, click.Option):
                for name in one.opts:
                    assert (
                        f"{name}`" in text(f"commands/{verb}")
                        or f"{name}, " in text(f"commands/{verb}")
                        or (f"{name} " in text(f"commands/{verb}"))
                    ), (verb, name)
                    assert name in man, (verb, name)


def test_every_help_ends_with_its_page(capsys: pytest.CaptureFixture[str]) -> None:
    for verb, _ in commands():
        for language in ("en", "fr"):
            assert run([verb, "--help", "--lang", language]) == 0
            assert capsys.readouterr().out.rstrip().endswith(f"woundfhir guide {verb}"), verb
        assert find(verb).name == f"commands/{verb}"
    assert run(["map", "propose", "--help"]) == 0
    assert capsys.readouterr().out.rstrip().endswith("woundfhir guide map")


def test_every_rule_concept_profile_and_public_name_has_its_page() -> None:
    names = set(book())
    assert {f"rules/{one.code}" for one in known_rules()} <= names
    assert {f"concepts/{one.path}" for one in catalogue().concepts()} <= names
    files = {path.stem for path in (ROOT / "profiles").glob("*-*.json")}
    assert {f"profiles/{name.removeprefix('StructureDefinition-')}" for name in files} <= names
    assert {f"python/{name}" for name in set(woundfhir.__all__) - {"__version__"}} <= names


def test_a_profile_shows_a_tree_and_an_example() -> None:
    for name in book():
        if name.startswith("profiles/") and not name.partition("/")[2].startswith(
            ("ValueSet-", "CodeSystem-", "ConceptMap-", "Questionnaire-", "ImplementationGuide-")
        ):
            assert "## Tree" in text(name) and "## Example" in text(name), name


def test_a_concept_shows_its_question_its_record_and_its_fhir() -> None:
    for one in catalogue().concepts():
        page = text(f"concepts/{one.path}")
        assert f"{one.key}:" in page and "```json" in page and "| `" in page.partition("## In FHIR")[2], one.path
        for field in one.fields:
            assert f"| `{field}` |" in page, one.path
        for coding in one.codings:
            assert f"`{coding.code}`" in page, one.path


def test_what_the_mapping_says_is_what_reading_finds() -> None:
    """The example of each concept goes to FHIR and comes back as it was."""
    from woundfhir.definitions.examples import answer, record

    for one in catalogue().concepts():
        history = woundfhir.History.of(record(one, answer(one)))
        back, report = woundfhir.from_fhir(woundfhir.to_fhir(history))
        assert back == history and not report.items, one.path


def test_every_link_and_anchor_leads_somewhere() -> None:
    pages = {name: html.fromstring(content) for name, content in site().items() if name.endswith(".html")}
    anchors = {name: set(page.xpath("//@id")) for name, page in pages.items()}
    for name, page in pages.items():
        for address in page.xpath("//@href | //@src"):
            if address.startswith(("data:", "https://w3id.org/")):
                continue
            assert ":" not in address, f"{name}: nothing is loaded from, or linked to, elsewhere: {address}"
            where, _, anchor = address.partition("#")
            target = posixpath.normpath(posixpath.join(posixpath.dirname(name), where)) if where else name
            assert target in site(), f"{name}: {address}"
            assert not anchor or anchor in anchors[target], f"{name}: {address}"


def test_every_page_says_what_it_is_not_and_loads_nothing_from_elsewhere() -> None:
    assert b"http" not in site()["guide.css"] and b"<script" not in b"".join(site().values())
    for name, content in site().items():
        if name.endswith(".html"):
            assert "does not diagnose" in content.decode(), name
            assert content.decode().count("<h1") == 1, name


def test_the_verb_shows_writes_and_says_what_is_meant(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["guide"]) == 0
    assert "- [A first minute](first-minute.md)" in capsys.readouterr().out
    assert run(["guide", "PK03"]) == 0
    assert capsys.readouterr().out.startswith("# PK03: packing-count-out")
    assert run(["guide", "first-minut"]) == 2
    assert "Did you mean first-minute" in capsys.readouterr().err
    assert run(["guide", "--html", "site", "--man", "man"]) == 0
    capsys.readouterr()
    written = {str(path.relative_to("site")): path.read_bytes() for path in Path("site").rglob("*") if path.is_file()}
    assert written == site()
    assert {path.name: path.read_bytes() for path in Path("man").iterdir()} == man_pages()
    with pytest.raises(InputError, match="TOPIC"):
        find("../../etc/passwd")


def test_a_site_s_own_words_stand_in_its_guide(tmp_path: Path) -> None:
    with woundfhir.Site(ROOT / "examples" / "site"):
        own = {one.path for one in catalogue().concepts()} - {one.path for one in find_shipped()}
        assert own and all(f"concepts/{path}" in book() for path in own)
        assert text_of(next(iter(own)))


def find_shipped() -> list[object]:
    from woundfhir.catalogue.load import shipped

    return list(shipped().concepts())


def text_of(path: str) -> str:
    return book()[f"concepts/{path}"].make()


def test_man_pages_are_sound(tmp_path: Path) -> None:
    """groff, with every warning: an outside check of the macros (man(7))."""
    groff = shutil.which("groff")
    if groff is None:
        pytest.skip("groff is not on this machine")
    for name, content in man_pages().items():
        page = tmp_path / name
        page.write_bytes(content)
        args = [groff, "-man", "-ww", "-z", "-Tutf8", "-K", "utf8", str(page)]
        done = subprocess.run(args, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stderr) == (0, ""), name
