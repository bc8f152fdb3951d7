"""Pages in a terminal against the same pages as HTML (read by lxml): no word is lost, and no line is too long."""

from __future__ import annotations

import re

import pytest
from lxml import html

from woundfhir.guide.book import book
from woundfhir.guide.site import html_page
from woundfhir.guide.terminal import laid_out

PAGES = [*(name for name, page in book().items() if page.listed), "rules/PK03", "profiles/observation-tunnels"]
#: What a terminal adds: marks of lists and quotations, numbers of lists, and addresses behind their words.
_ADDED = re.compile(r"[│•]|^ +\d+\. |\(https?://[^)]*\)", re.MULTILINE)
_CODE = re.compile(r"[│• ]{4}")


def letters(text: str) -> list[str]:
    """The letters of a page, sorted: cells of one row stand beside each other, and their lines alternate."""
    return sorted(re.sub(r"\s", "", text))


@pytest.mark.parametrize("name", PAGES)
def test_a_page_in_the_terminal_has_the_words_of_its_html(name: str) -> None:
    page = book()[name]
    body = html.fromstring(html_page(page)).find(".//main")
    for head in body.iterfind(".//p[@class='file']"):
        head.text = ""
    for picture in body.iter("img"):
        picture.tail = picture.get("alt") + (picture.tail or "")
    shown = laid_out(page.make(), 72, colour=False)
    assert letters(_ADDED.sub("", shown)) == letters(_ADDED.sub("", body.text_content()))
    long = [line for line in shown.splitlines() if len(line) > 72 and not _CODE.match(line) and "  " not in line]
    assert [line for line in long if " " in line.strip(" •")] == []


def test_columns_share_a_line() -> None:
    table = "| a | b |\n|---|---|\n| one | " + "some words " * 20 + "|\n"
    lines = laid_out(table, 40, colour=False).splitlines()
    assert lines[0] == "a    b" and lines[1].startswith("one  some words") and max(map(len, lines)) <= 40
    assert laid_out("| a | b |\n|---|---|\n| " + "x" * 30 + " | " + "y" * 30 + " |\n", 40, colour=False) == (
        f"a{' ' * 31}b\n{'x' * 30}  {'y' * 30}\n"
    )


def test_colour_changes_no_word() -> None:
    markdown = book()["index"].make()
    plain = laid_out(markdown, 60, colour=False)
    coloured = laid_out(markdown, 60, colour=True)
    assert coloured != plain and re.sub(r"\x1b\[\d+m", "", coloured) == plain
