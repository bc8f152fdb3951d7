"""The README holds its two commands, points into the guide, and names files that are there.

Its other commands and its Python are run by tests/guide/test_blocks.py.
"""

from __future__ import annotations

import re

import pytest
import yaml

from tests.paths import ROOT
from woundfhir import __version__

TEXT = (ROOT / "README.md").read_text("utf-8")
#: Everything that a stranger opens first.
FILES = ("README.md", "DEVELOPERS.md", ".github/SECURITY.md", ".github/CONTRIBUTING.md", "examples/README.md")


def test_it_holds_exactly_the_two_commands_for_a_fresh_machine() -> None:
    assert TEXT.count("python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/woundfhir demo\n") == 1
    assert TEXT.count('.venv/bin/pip install ".[test]" && .venv/bin/pytest\n') == 1
    assert TEXT.count("```sh\n") == 2


def test_it_is_short_and_names_every_written_page() -> None:
    head, _, rest = TEXT.partition("<!-- benchmark: ")
    assert len(head.splitlines()) + len(rest.partition("<!-- end of benchmark -->")[2].splitlines()) < 145
    pages = {path.name for path in (ROOT / "woundfhir" / "guide" / "pages").glob("*.md")} - {"index.md", "figures.md"}
    assert {page for page in pages if f"woundfhir/guide/pages/{page}" not in TEXT} == set()


@pytest.mark.parametrize("name", FILES)
def test_its_links_lead_to_files(name: str) -> None:
    path = ROOT / name
    text = path.read_text("utf-8")
    for link in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", text):
        if not link.startswith("http"):
            assert (path.parent / link).exists(), f"{name}: {link}"


def test_the_citation_names_this_version() -> None:
    """Citation File Format 1.2.0: the keys that it requires."""
    cited = yaml.safe_load((ROOT / ".github" / "CITATION.cff").read_text("utf-8"))
    assert {"cff-version", "message", "title", "authors"} <= cited.keys()
    assert cited["version"] == __version__ and cited["license"] == "MIT"


def test_the_changelog_says_nothing_twice_and_groups_what_is_new() -> None:
    """Lines that two branches add are both kept when they are joined, and so may stand there twice."""
    text = (ROOT / "CHANGELOG.md").read_text("utf-8")
    lines = [line for line in text.splitlines() if line.startswith("- ")]
    assert sorted({line[:60] for line in lines}) == sorted(line[:60] for line in lines)
    newest = text.split("\n## ")[1]
    assert "\n- " not in newest.split("\n### ")[0]
