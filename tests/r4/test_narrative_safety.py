"""Narratives that came from elsewhere: what is found, and that the cleaned copy keeps the words and nothing else.

Outside sources: R4's txt-1 and txt-2 (hl7.fhir.r4.core 4.0.1, StructureDefinition Narrative), and the HL7 validation
engine where it can run. The hostile narratives are of kinds that are commonly known: common practice, no source.
"""

from __future__ import annotations

import json
import re
from typing import Any

import lxml.html
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

import woundfhir
from tests.conformance.engine import Engine
from tests.r4 import r4core
from woundfhir.errors import InputError
from woundfhir.r4.narrative_safety import clean, problems
from woundfhir.r4.safexml import XHTML, parse
from woundfhir.r4.structure.narrative import ATTRIBUTES, ELEMENTS

Json = Any
HEAD = f'<div xmlns="{XHTML}">'


def div(inside: str) -> str:
    return f"{HEAD}{inside}</div>"


def rules(inside: str) -> set[str]:
    return {problem.rule for problem in problems(div(inside))}


def inside(cleaned: str) -> str:
    assert cleaned.startswith(HEAD) and cleaned.endswith("</div>")
    return cleaned[len(HEAD) : -len("</div>")]


def words(text: str) -> str:
    return "".join(str(part) for part in parse(text.encode()).itertext())


# -- the lists -------------------------------------------------------------------------------------


def test_the_lists_are_those_of_r4() -> None:
    files = dict(r4core.files())
    found = json.loads(files["StructureDefinition-Narrative.json"])
    rule = next(
        rule["xpath"]
        for element in found["snapshot"]["element"]
        for rule in element.get("constraint", [])
        if rule["key"] == "txt-1"
    )
    elements, attributes = re.findall(r"\(('[^()]*')\)", rule)
    assert set(re.findall(r"'(\w+)'", elements)) == ELEMENTS
    assert set(re.findall(r"'(\w+)'", attributes)) == ATTRIBUTES


# -- hostile ---------------------------------------------------------------------------------------

#: What stands in the narrative, the rule that it breaks, what may be left of it.
HOSTILE: dict[str, tuple[str, str, str]] = {
    "script": ("4<script>x()</script>1", "txt-1", "41"),
    "script in capitals": ("<SCRIPT>x()</SCRIPT>a", "txt-1", "a"),
    "script in a picture": ('<svg xmlns="urn:svg"><script>x()</script>a</svg>', "txt-1", "<span>a</span>"),
    "event": ('<p onclick="x()" onmouseover="y()">a</p>', "txt-1", "<p>a</p>"),
    "event in capitals": ('<p ONCLICK="x()">a</p>', "txt-1", "<p>a</p>"),
    "event with a prefix": ('<p xmlns:b="u" b:onclick="x()">a</p>', "txt-1", "<p>a</p>"),
    "javascript link": ('<a href="javascript:x()">a</a>', "txt-1", "<a>a</a>"),
    "javascript link in capitals": ('<a href="JaVaScRiPt:x()">a</a>', "txt-1", "<a>a</a>"),
    "javascript link with a line break": ('<a href="java&#10;script:x()">a</a>', "txt-1", "<a>a</a>"),
    "javascript link with a tab": ('<a href=" &#9;java&#9;script&#9;:x()">a</a>', "txt-1", "<a>a</a>"),
    "javascript link in numbers": ('<a href="&#106;&#x61;vascript:x()">a</a>', "txt-1", "<a>a</a>"),
    "vbscript link": ('<a href="vbscript:x()">a</a>', "txt-1", "<a>a</a>"),
    "data link": ('<a href="data:text/html,x">a</a>', "txt-1", "<a>a</a>"),
    "file link": ('<a href="file:///etc/passwd">a</a>', "txt-1", "<a>a</a>"),
    "link without a scheme": ('<a href="//example.org/x">a</a>', "safety", "<a>a</a>"),
    "link with backslashes": ('<a href="\\\\example.org\\x">a</a>', "safety", "<a>a</a>"),
    "link with a colon late": ('<a href="&#x200b;javascript:x()">a</a>', "safety", "<a>a</a>"),
    "picture that runs": ('<img src="javascript:x()" alt="a"/>', "txt-1", '<img alt="a"/>'),
    "picture from elsewhere": ('a<img src="http://example.org/1.png"/>', "safety", "a<img/>"),
    "drawing in a picture": ('a<img src="data:image/svg+xml;base64,PHN2Zy8+"/>', "safety", "a<img/>"),
    "link on a paragraph": ('<p href="http://example.org/">a</p>', "safety", "<p>a</p>"),
    "picture in a paragraph": ('<p src="data:image/png;base64,AAAA">a</p>', "safety", "<p>a</p>"),
    "frame": ('<iframe src="http://example.org/">a</iframe>', "txt-1", "<div>a</div>"),
    "object": ('<object data="x.swf">a</object>', "txt-1", "<div>a</div>"),
    "form": ('<form action="/x"><input name="a" value="b"/>a</form>', "txt-1", "<div><div></div>a</div>"),
    "style sheet": ("<style>p {display: none}</style><p>a</p>", "txt-1", "<p>a</p>"),
    "link to a style sheet": ('<link rel="stylesheet" href="http://example.org/x.css"/>a', "txt-1", "<div></div>a"),
    "base": ('<base href="http://example.org/"/>a', "txt-1", "<div></div>a"),
    "refresh": ('<meta http-equiv="refresh" content="0;url=http://example.org/"/>a', "txt-1", "<div></div>a"),
    "style that fetches": ('<p style="background-color: url(http://example.org/)">a</p>', "txt-1", "<p>a</p>"),
    "style that fetches, hidden": ('<p style="background-color: u\\72l(x)">a</p>', "safety", "<p>a</p>"),
    "style that runs": ('<p style="width: expression(x())">a</p>', "txt-1", "<p>a</p>"),
    "style that hides": ('<p style="display:none">a</p>', "safety", "<p>a</p>"),
    "style that covers": ('<p style="position:fixed;top:0;width:100%">a</p>', "safety", '<p style="width: 100%">a</p>'),
    "style that shrinks": ('<p style="font-size:0.0px; color:red">a</p>', "safety", '<p style="color: red">a</p>'),
    "style that shrinks in one word": ('<p style="font: 0 serif">a</p>', "safety", "<p>a</p>"),
    "style that moves away": ('<p style="text-indent: -9999px">a</p>', "safety", "<p>a</p>"),
    "style that is too small": ('<p style="font-size: 1px">a</p>', "safety", "<p>a</p>"),
    "style that moves far away": ('<p style="margin-left: 9999px">a</p>', "safety", "<p>a</p>"),
    "style that is not seen through": ('<p style="color: rgba(0,0,0,0)">a</p>', "safety", "<p>a</p>"),
    "style that is not seen in short": ('<p style="color: #00000000">a</p>', "safety", "<p>a</p>"),
    "style that is not seen": ('<p style="color: transparent">a</p>', "safety", "<p>a</p>"),
    "digits turned round": ("<p>\u202e01.4\u202c cm</p>", "safety", "<p>01.4\u202c cm</p>"),
    "digits turned round in a title": ('<p title="\u202e01.4">a</p>', "safety", '<p title="01.4">a</p>'),
    "other tags": ('<m:math xmlns:m="urn:m"><m:mi>a</m:mi></m:math>', "txt-1", "<div><div>a</div></div>"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_hostile_is_found_and_taken_out(name: str) -> None:
    written, rule, left = HOSTILE[name]
    assert rule in rules(written)
    cleaned = clean(div(written))
    assert inside(cleaned) == left
    assert problems(cleaned) == [] or not words(cleaned).strip()


@pytest.mark.parametrize("value", ["a" * 60 + "!", "rgb(" + "1" * 60, "a " * 60 + "!", "1px " * 60 + "!"])
@pytest.mark.parametrize("name", ["border", "color", "font-family", "margin", "font-size"])
def test_a_long_style_is_judged_at_once(name: str, value: str) -> None:
    """A pattern that tries every way to read such a text would not come back."""
    assert inside(clean(div(f'<p style="{name}: {value}; color: red">a</p>'))) == '<p style="color: red">a</p>'


def test_nothing_of_the_narrative_is_in_a_message() -> None:
    found = problems(div('<Tremblay/><a href="tremblay:1">a</a><p tremblay="2" style="tremblay:1">b</p>'))
    assert len(found) >= 3
    assert "remblay" not in " ".join(problem.what for problem in found)


REFUSED = {
    "an entity bomb": f'<!DOCTYPE div [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]>{div("&b;")}',
    "an outside file": f'<!DOCTYPE div [<!ENTITY a SYSTEM "file:///etc/passwd">]>{div("&a;")}',
    "broken": f"{HEAD}<p>a</div>",
    "words alone": "a note",
    "nothing": "",
    "a whole page": f'<html xmlns="{XHTML}"><body><div>a</div></body></html>',
    "two divs": div("a") + div("b"),
    "half a character": div("\ud800"),
    "far too deep": div("<b>" * 5000 + "</b>" * 5000),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_xhtml_is_not_cleaned_but_refused(name: str) -> None:
    assert [problem.rule for problem in problems(REFUSED[name])][:1] == ["txt-1"]
    with pytest.raises(InputError) as told:
        clean(REFUSED[name], "Composition.text.div")
    assert "Composition.text.div" in str(told.value)


# -- the words are kept ----------------------------------------------------------------------------

KEPT = {
    "blocks do not run together": ("<section>4</section><section>10</section>", "<div>4</div><div>10</div>"),
    "struck out stays struck out": ("<del>honey</del>", '<span style="text-decoration: line-through">honey</span>'),
    "underlined stays underlined": ("<u>not</u>", '<span style="text-decoration: underline">not</span>'),
    "capitals": ("<P>a<BR/>b</P>", "<p>a<br/>b</p>"),
    "empty elements get an end tag": ("<p/><td/>a", "<p></p><td></td>a"),
    "what stands in an element that holds nothing": ("<br>a<b>b</b></br>c", "<br/>a<b>b</b>c"),
    "text in a form": ("<textarea>a &lt; b</textarea>", "<div>a &lt; b</div>"),
    "names of characters": ("4&nbsp;cm &amp; 5&deg;", "4\xa0cm &amp; 5\xb0"),
    "what fools a reader of HTML": (
        "<p title='&lt;/p&gt;&lt;script&gt;'>&lt;script&gt;</p>",
        '<p title="&lt;/p&gt;&lt;script&gt;">&lt;script&gt;</p>',
    ),
    "a comment goes": ("a<!-- b -->c<?d e?>", "ac"),
}


@pytest.mark.parametrize("name", KEPT)
def test_words_and_their_meaning_are_kept(name: str) -> None:
    written, left = KEPT[name]
    assert inside(clean(div(written))) == left


FINE = (
    '<p class="bold" lang="en">a<br/>b</p><h1>c</h1><ul><li>d</li></ul>',
    '<table border="1"><caption>c</caption><tr><td colspan="2" style="text-align: right; color: rgb(0,0,0)">e</td>'
    "</tr></table>",
    '<a href="#x" name="x">f</a><a href="Patient/1">g</a><a href="http://example.org/x">h</a><a href="tel:+1">i</a>',
    '<img src="data:image/png;base64,AAAA" alt="k"/><p style="margin: 0; padding: 0 2px">l</p>',
    '<p style="font-size: 0.8em; font-weight: bold; border: 1px solid #ccc; border-left-color: red">m</p>',
    '<p style="font-size: small; line-height: 1.2; text-decoration: line-through; width: 12.5em">n</p>',
    '<p xml:lang="fr" dir="ltr">\u05d0 4.10 \u2067\u05d1\u2069</p>',
)


@pytest.mark.parametrize("written", FINE)
def test_what_is_fine_stays_as_it_is(written: str) -> None:
    assert problems(div(written)) == []
    assert clean(div(written)) == div(written)


def test_a_picture_inside_the_resource_stays() -> None:
    written = div('a<img src="#p1" alt="the wound"/>')
    assert problems(written) == [] and clean(written) == written


def test_no_words_at_all() -> None:
    assert rules("<p> </p>") == {"txt-2"}
    assert rules('<img src="#p1"/>') == set()


def test_a_div_without_its_namespace_or_with_a_prefix_is_cleaned_too() -> None:
    assert problems("<div>a</div>")[0].rule == "txt-1"
    assert clean("<div>a</div>") == clean(f'<h:div xmlns:h="{XHTML}">a</h:div>') == div("a")


def test_every_narrative_that_the_toolkit_writes_is_fine() -> None:
    from woundfhir.demo import story

    document = woundfhir.bundle(woundfhir.read(story()), kind="document")
    divs = re.findall(r'"div":("(?:[^"\\]|\\.)*")', json.dumps(document, default=str, separators=(",", ":")))
    assert divs
    for written in divs:
        assert problems(json.loads(written)) == []


# -- any narrative ---------------------------------------------------------------------------------

_names = st.sampled_from([*sorted(ELEMENTS), "script", "style", "section", "del", "svg", "FORM", "iframe", "x-y"])
_keys = st.sampled_from([*sorted(ATTRIBUTES), "onclick", "srcdoc", "formaction", "ONLOAD"])
_values = st.text(alphabet="ab:/#;.-() 0\t\"'<>&\u202e", max_size=8) | st.sampled_from(
    ["javascript:x()", "http://example.org/", "#a", "display:none", "color:red;", "data:image/png;base64,AAAA", "//x"]
)
_text = st.text(alphabet="ab 4.<>&\u202e\u05d0\n", max_size=6)


@st.composite
def elements(draw: st.DrawFn, depth: int = 2) -> etree._Element:
    made = etree.Element(f"{{{XHTML}}}{draw(_names)}")
    for key, value in draw(st.dictionaries(_keys, _values, max_size=3)).items():
        made.set(key, value)
    made.text, made.tail = draw(_text), draw(_text)
    if depth:
        made.extend(draw(st.lists(elements(depth - 1), max_size=3)))
    return made


@settings(max_examples=100)
@given(st.lists(elements(), max_size=3))
def test_a_cleaned_narrative_is_fine_and_cleaning_again_changes_nothing(children: list[etree._Element]) -> None:
    root = etree.Element(f"{{{XHTML}}}div", nsmap={None: XHTML})
    root.extend(children)
    written = etree.tostring(root, encoding="unicode")
    cleaned = clean(written)
    assert {problem.rule for problem in problems(cleaned)} <= {"txt-2"}
    assert clean(cleaned) == cleaned
    for gone in root.xpath("//h:script | //h:style", namespaces={"h": XHTML}):
        gone.text = None
        for child in gone:
            gone.remove(child)
    kept = "".join(root.itertext()).replace("\u202e", "")
    assert sorted(words(cleaned)) == sorted(kept)  # in order too, but for what stands in an element like br
    read_as_html = lxml.html.fromstring(cleaned)
    assert {str(node.tag) for node in read_as_html.iter()} <= ELEMENTS
    assert not [key for node in read_as_html.iter() for key in node.attrib if key.startswith("on")]


# -- the engine of HL7 -----------------------------------------------------------------------------


@pytest.mark.engine
def test_the_engine_of_hl7_accepts_every_cleaned_narrative() -> None:
    engine = Engine()

    def refused(written: list[str]) -> set[int]:
        narratives = [{"status": "generated", "div": one} for one in written]
        patients = [{"resourceType": "Patient", "text": one} for one in narratives]
        return {issue.of for issue in engine.validate(patients) if issue.severity in ("error", "fatal")}

    hostile = [div(written) for written, _, _ in HOSTILE.values()]
    assert refused([clean(one) for one in hostile if words(clean(one)).strip()]) == set()
    assert refused([div(written) for written in FINE]) == set()
    # The engine is able to refuse: it finds the elements and attributes that are not in the lists.
    assert {list(HOSTILE).index(name) for name in ("script", "event", "frame", "form")} <= refused(hostile)
