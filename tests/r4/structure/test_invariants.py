"""Our registry of invariants against HL7's definitions, and each subtle one at its edges."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from tests.r4 import r4core
from tests.r4.structure.cases import GOOD
from woundfhir.r4.narrative.check import ATTRIBUTES, ELEMENTS
from woundfhir.r4.structure import INVARIANTS, check_resource

Json = Any
_DIV = '<div xmlns="http://www.w3.org/1999/xhtml">'


def _constraints() -> dict[str, list[Json]]:
    """Return R4's constraints by key, from the StructureDefinitions that define them."""
    found: dict[str, list[Json]] = {}
    for name, content in r4core.files():
        if name.startswith("StructureDefinition-") and b'"derivation":"constraint"' not in content.replace(b" ", b""):
            for element in json.loads(content)["snapshot"]["element"]:
                for constraint in element.get("constraint", ()):
                    found.setdefault(constraint["key"], []).append({**constraint, "path": element["path"]})
    return found


def test_each_invariant_is_r4s_own() -> None:
    """Source: hl7.fhir.r4.core 4.0.1: key, severity, expression, and the element that it is defined on."""
    theirs = _constraints()
    for key, ours in INVARIANTS.items():
        fitting = [c for c in theirs[key] if c["expression"] == ours.expression and c["severity"] == ours.severity]
        assert fitting, key
        paths = {c["path"] for c in fitting}
        assert all(on in paths or on in ("Element", "xhtml") for on in ours.on), key


@pytest.mark.parametrize(
    ("prefix", "left_out"),
    [
        ("bdl", set()),
        ("cmp", set()),
        ("obs", set()),
        ("con", set()),
        ("ait", set()),
        ("dom", set()),
        ("tim", set()),
        ("txt", set()),
    ],
)
def test_no_invariant_of_these_resources_is_left_out(prefix: str, left_out: set[str]) -> None:
    theirs = {key for key in _constraints() if key.startswith(prefix + "-")}
    assert theirs - set(INVARIANTS) == left_out


def test_our_own_words_are_not_r4s() -> None:
    theirs = {constraint["human"] for found in _constraints().values() for constraint in found}
    assert not {rule.text for rule in INVARIANTS.values()} & theirs


def test_the_names_that_a_narrative_may_use_are_r4s() -> None:
    """Source: the XPath of txt-1 in R4's Narrative."""
    (txt_1,) = {c["xpath"] for c in _constraints()["txt-1"] if c["path"] == "Narrative.div"}
    elements, attributes = (set(re.findall(r"'(\w+)'", part)) for part in txt_1.split("@*[not(name"))
    assert elements == ELEMENTS
    assert attributes == ATTRIBUTES


def _keys(resource: dict[str, Json]) -> list[str]:
    return [issue.key for issue in check_resource(resource)]


@pytest.mark.parametrize(
    ("start", "end", "broken"),
    [
        ("2026-03-02", "2026-03-02", False),
        ("2026-03", "2026-03-02", False),
        ("2026-03-02", "2026-03", False),
        ("2026-03-03", "2026-03-02", True),
        ("2026-04", "2026-03-31", True),
        ("2026", "2025", True),
        ("2026-03-02T10:00:00-05:00", "2026-03-02T15:00:00Z", False),
        ("2026-03-02T10:00:01-05:00", "2026-03-02T15:00:00Z", True),
        ("2026-03-02T23:00:00-05:00", "2026-03-02", False),
    ],
)
def test_a_period_breaks_only_where_it_is_certain(start: str, end: str, broken: bool) -> None:
    """HL7 FHIR R4, Period: the end is inclusive, and a date without time covers the whole of it."""
    assert _keys({**GOOD["tape"], "effectivePeriod": {"start": start, "end": end}}) == (["per-1"] if broken else [])


@pytest.mark.parametrize(
    "div",
    [
        f"{_DIV}<p>a</p></div>",
        f'{_DIV[:-1]} xml:lang="en" lang="en"><h1 id="x">a</h1><a href="#x">b</a><a name="y">c</a></div>',
        f'{_DIV}<img src="data:image/png;base64,iVBORw0KGgo=" alt="left leg"/></div>',
        f'{_DIV}<img src="#photo"/><a href="https://example.org/x">x</a> <a href="mailto:a@example.org">y</a></div>',
        f'{_DIV}<table style="border: 1px solid; color: red"><tr><td colspan="2">a &amp; b</td></tr></table></div>',
        '<h:div xmlns:h="http://www.w3.org/1999/xhtml"><h:b>a</h:b></h:div>',
    ],
)
def test_a_plain_narrative_passes(div: str) -> None:
    assert _keys({**GOOD["depth"], "text": {"status": "generated", "div": div}}) == []


@pytest.mark.parametrize(
    "inner",
    [
        "<SCRIPT>x</SCRIPT>",
        "<style>p {}</style>",
        '<a href="JaVaScRiPt:x()">x</a>',
        '<a href="vbscript:x">x</a>',
        '<a href="data:text/html,x">x</a>',
        '<img src="data:text/html,x"/>',
        '<p style="width: exp/**/ression(x())">x</p>',
        '<p style="background:\\75rl(http://x)">x</p>',
        '<p style="behavior: url(#x)">x</p>',
        '<p ONCLICK="x()">x</p>',
        '<p onmouseover="x()">x</p>',
        "<object>x</object>",
        '<p xlink:href="x" xmlns:xlink="http://www.w3.org/1999/xlink">x</p>',
        '<p xmlns="http://hl7.org/fhir">x</p>',
    ],
)
def test_what_runs_or_fetches_is_refused(inner: str) -> None:
    found = _keys({**GOOD["depth"], "text": {"status": "generated", "div": f"{_DIV}4 cm {inner}</div>"}})
    assert found == ["txt-1"]


def test_a_contained_resource_may_refer_to_its_container() -> None:
    """HL7 FHIR R4, references: ``#`` alone is the container; dom-3 counts it."""
    device = {"resourceType": "Device", "id": "tape", "note": [{"authorReference": {"reference": "#"}, "text": "x"}]}
    contained = {"resourceType": "Provenance", "id": "v", "recorded": "2026-03-03T09:00:00Z",
                 "target": [{"reference": "#"}], "agent": [{"who": {"display": "x"}}]}  # fmt: skip
    assert _keys({**GOOD["depth"], "contained": [contained]}) == []
    assert "reference-target" in _keys({**GOOD["depth"], "contained": [device]})
    assert "ref-1" in _keys({**GOOD["depth"], "subject": {"reference": "#"}})


def test_an_extension_may_say_why_a_required_code_is_missing() -> None:
    absent = {"url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason", "valueCode": "unknown"}
    wound = {key: value for key, value in GOOD["problem"].items() if key != "category"}
    assert _keys({**wound, "clinicalStatus": {"extension": [absent]}}) == []
    assert _keys({**GOOD["depth"], "status": None, "_status": {"extension": [absent]}}) == []


def test_a_code_of_the_observation_is_one_of_its_system() -> None:
    """obs-7 compares codings: the same letters in another system are another code."""
    component = {"code": {"coding": [{"system": "urn:example:other", "code": "39127-6"}]}, "valueString": "x"}
    assert _keys({**GOOD["depth"], "component": [component]}) == []
