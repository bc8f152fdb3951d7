"""Every command and every piece of Python in the guide and the README does what stands beside it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tools.build_guide import KINDS, ROOT, blocks, chart, commands, filled, matches, pages

_NEEDED = ("bash", "curl", "jq", "openssl", "sed", "grep")


@pytest.mark.parametrize("name", sorted(pages()))
def test_a_page_shows_what_its_commands_say(name: str, tmp_path: Path) -> None:
    text = pages()[name].read_text("utf-8")
    if missing := [one for one in _NEEDED if f"{one} " in text and shutil.which(one) is None]:
        pytest.skip(f"not on this machine: {', '.join(missing)}")
    made = filled(text, tmp_path / "here")
    assert made == text, "run `python tools/build_guide.py`, and read the difference"


@pytest.mark.parametrize("name", sorted(pages()))
def test_every_block_is_of_a_kind_that_is_run(name: str) -> None:
    for block in blocks(pages()[name].read_text("utf-8")):
        if block.kind == "console":
            assert commands(block.body) and block.name in ("", "running")
        elif (name, block.kind) != ("README", "sh"):  # its two commands: tests/test_readme.py, .ci/run
            assert block.name or block.kind in KINDS, f"{name}: nobody runs this: {block.body[:60]}"


def test_a_wrong_answer_is_found(tmp_path: Path) -> None:
    """What holds the pages would find a stale one."""
    page = "```console\n$ woundfhir explain TR05\nno such answer\n```\n"
    assert filled(page, tmp_path / "a") != page
    assert not matches("a\n...\nc\n", "a\nb\n") and not matches("a\n", "a\nb\n") and matches("a ... c\n", "a b c\n")
    with pytest.raises(RuntimeError, match="exit code 2"):
        filled("```console\n$ woundfhir check none.yaml\n```\n", tmp_path / "b")
    with pytest.raises(AssertionError):
        filled("```python\nassert False\n```\n", tmp_path / "c")


def test_the_pictures_are_those_that_are_made() -> None:
    """The sheet's depends on the browser, so that nothing compares it."""
    folder = ROOT / "woundfhir" / "guide" / "pictures"
    assert (folder / "chart.svg").read_bytes() == chart(), "run `python tools/build_guide.py --pictures`"
    visit = ROOT / "examples" / "page" / "en" / "visit-tablet.png"
    assert (folder / "page-visit.png").read_bytes() == visit.read_bytes()
    assert {one.name for one in folder.iterdir()} == {"chart.svg", "page-visit.png", "sheet.png"}
