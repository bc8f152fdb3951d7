"""The page to print: whole in itself, no script, readable without colour."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from tests.checklist.samples import entry, record, visit
from tests.report.samples import FOUR, clean, judged
from woundfhir.checklist import judge
from woundfhir.report import Judged, render


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
    assert words.index("2 safety, 4 to add, 2 to look at.") < words.index("Wound W1") < words.index("Wound 2")


def test_kinds_are_shown_by_words_and_not_by_colour() -> None:
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
    assert "<code>site XX03</code> 2 findings: why &lt;b&gt;" in said
    assert "<h1>Complete.</h1>" in render([clean()], "html").decode()


def test_no_index_path_stands_on_the_page_and_each_sentence_once() -> None:
    said, reader = page()
    words = " ".join("".join(reader.text).split())
    assert "visits[" not in said and "wounds[" not in said
    assert all(words.count(sentence) == 1 for sentence in ("Write what XX01 asks for.", "Why: A reason."))


def test_it_says_who_wrote_each_note_and_when_without_names() -> None:
    one = record(
        visit(entry(), at="2026-03-02T10:05:00-05:00", by={"id": "rn-7", "name": "A. B.", "designation": "RN"})
    )
    said = render([Judged("note", judge(one, checklist=FOUR), one)], "html").decode()
    assert "<li>Note V1: 2026-03-02 10:05:00-05:00, RN rn-7</li>" in said and "A. B." not in said


def test_an_author_or_a_time_that_is_free_text_is_not_printed() -> None:
    one = record(visit(entry(), at="Tuesday with Ida", by={"id": "Ida Example", "designation": "the nurse Ida"}))
    said = render([Judged("note", judge(one, checklist=FOUR), one)], "html").decode()
    assert "Ida" not in said and "no date" in said
