"""The page to print: whole in itself, no script, readable without colour."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from tests.report.samples import clean, judged
from woundfhir.report import render


class Reader(HTMLParser):
    """Collects tags, and checks that they close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def page(**options: object) -> tuple[str, Reader]:
    said = render([judged(**options)], "html").decode()
    reader = Reader()
    reader.feed(said)
    assert reader.open == []
    return said, reader


def test_it_is_whole_in_itself_and_runs_nothing() -> None:
    said, reader = page()
    tags = [tag for tag, _ in reader.seen]
    assert not {"script", "link", "img", "iframe", "form", "object"} & set(tags)
    assert "http:" not in said and "https:" not in said and "url(" not in said and "@import" not in said
    assert not re.search(r"\son\w+=", said)
    assert "default-src 'none'" in said


def test_it_names_its_language_its_title_and_begins_with_the_verdict() -> None:
    _, reader = page()
    assert ("html", {"lang": "en-CA"}) in reader.seen
    assert [tag for tag, _ in reader.seen if tag in ("h1", "title", "main")] == ["title", "main", "h1"]
    words = " ".join("".join(reader.text).split())
    assert words.index("4 to add, 4 to look at.") < words.index("Wound W1") < words.index("Wound 2")


def test_kinds_are_told_by_words_and_not_by_colour() -> None:
    said, _ = page()
    for word in ("Look at, safety:", "Look at:", "Add:", "Add, expected:"):
        assert word in said
    colours = set(re.findall(r"#[0-9a-fA-F]{3,6}", said))
    assert colours == {"#000", "#fff"}


def test_the_type_is_large() -> None:
    said, _ = page()
    assert min(float(size) for size in re.findall(r"([\d.]+)pt", said)) >= 11
    assert "body { font: 14pt" in said


def test_text_is_escaped_and_each_finding_has_a_box_to_tick() -> None:
    said, reader = page(show_values=True)
    assert "Is this &lt;right&gt; &amp; checked?" in said and "Found: &lt;4&gt; cm" in said
    assert sum(1 for _, attributes in reader.seen if attributes.get("class") == "box") == 8


def test_rules_left_out_and_clean_records() -> None:
    said, _ = page(ignore={"XX03": "why <b>"})
    assert "<code>XX03</code>: why &lt;b&gt; (findings: 2)" in said
    assert "<h1>Complete.</h1>" in render([clean()], "html").decode()
