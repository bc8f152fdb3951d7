"""Narratives that came from elsewhere: what R4 does not admit is named, and what would act is refused.

Outside source: R4's txt-1 (HL7 FHIR R4 4.0.1, Narrative). The hostile narratives are of kinds that are commonly known:
common practice, no source.
"""

from __future__ import annotations

import pytest

from woundfhir.r4.narrative import XHTML
from woundfhir.r4.narrative.acting import active_content
from woundfhir.r4.narrative.check import forbidden, is_empty


def div(inside: str) -> str:
    return f'<div xmlns="{XHTML}">{inside}</div>'


#: Each would run or load something in a browser.
ACTS = {
    "script": "4<script>x()</script>1",
    "script in capitals": "<SCRIPT>x()</SCRIPT>a",
    "script in a picture": '<svg xmlns="urn:svg"><script>x()</script>a</svg>',
    "event": '<p onclick="x()">a</p>',
    "event in capitals": '<p ONCLICK="x()">a</p>',
    "event with a prefix": '<p xmlns:b="u" b:onclick="x()">a</p>',
    "javascript link in capitals": '<a href="JaVaScRiPt:x()">a</a>',
    "javascript link with a line break": '<a href="java&#10;script:x()">a</a>',
    "javascript link with a tab": '<a href=" &#9;java&#9;script&#9;:x()">a</a>',
    "javascript link in numbers": '<a href="&#106;&#x61;vascript:x()">a</a>',
    "vbscript link": '<a href="vbscript:x()">a</a>',
    "data link": '<a href="data:text/html,x">a</a>',
    "picture that runs": '<img src="javascript:x()" alt="a"/>',
    "frame": '<iframe src="http://example.org/">a</iframe>',
    "object": '<object data="x.swf">a</object>',
    "form": '<form action="/x"><input name="a" value="b"/>a</form>',
    "style sheet": "<style>p {display: none}</style><p>a</p>",
    "link to a style sheet": '<link rel="stylesheet" href="http://example.org/x.css"/>a',
    "base": '<base href="http://example.org/"/>a',
    "refresh": '<meta http-equiv="refresh" content="0;url=http://example.org/"/>a',
    "style that fetches": '<p style="background-color: url(http://example.org/)">a</p>',
    "style that fetches behind an escape": '<p style="background-color: u\\72l(x)">a</p>',
    "style that fetches behind a comment": '<p style="background: url/**/(x)">a</p>',
    "style that runs": '<p style="width: expression(x())">a</p>',
}


@pytest.mark.parametrize("name", ACTS)
def test_what_acts_is_refused_and_r4_does_not_admit_it(name: str) -> None:
    written = div(ACTS[name])
    assert list(active_content("Patient.text.div", written))
    assert list(forbidden(written))


@pytest.mark.parametrize(
    "inside", ["<p>Slough 40 %</p>", '<p style="color: red">a</p>', '<a href="https://example.org/">a</a>', "<s>a</s>"]
)
def test_what_only_shows_words_is_not_refused(inside: str) -> None:
    assert list(active_content("Patient.text.div", div(inside))) == []


def test_nothing_of_the_narrative_is_in_a_message() -> None:
    written = div('<Tremblay/><a href="tremblay:1">a</a><p tremblay="2" style="tremblay:url(1)">b</p>')
    found = [*forbidden(written), *active_content("Patient.text.div", written)]
    assert len(found) >= 3
    assert "remblay" not in " ".join(found)


@pytest.mark.parametrize(("inside", "empty"), [(" <p/>", True), ("a", False), ('<img src="#a"/>', False), ("", True)])
def test_words_or_a_picture(inside: str, empty: bool) -> None:
    assert is_empty(div(inside)) is empty
