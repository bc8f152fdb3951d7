"""What is no FHIR XML, and what FHIR XML cannot say: one clear message with the path, none of the words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from woundfhir.errors import InputError
from woundfhir.r4 import xmlio

_NS = 'xmlns="http://hl7.org/fhir"'
_DIV = '<div xmlns="http://www.w3.org/1999/xhtml">'

_ENTITIES = '<!DOCTYPE lolz [<!ENTITY a "Tremblay"><!ENTITY b "&a;&a;">]>'
_REFUSED: list[tuple[str, bytes, str, str]] = [
    (
        "a DOCTYPE with entities",
        f'<?xml version="1.0"?>{_ENTITIES}<Basic {_NS}><id value="&b;"/></Basic>'.encode(),
        "XML",
        "DOCTYPE",
    ),
    (
        "a DOCTYPE with a file",
        f'<!-- x --><!DOCTYPE b SYSTEM "file:///etc/hostname"><Basic {_NS}/>'.encode(),
        "XML",
        "DOCTYPE",
    ),
    ("UTF-16", f"<Basic {_NS}/>".encode("utf-16"), "byte 0", "UTF-16"),
    ("declared as Latin-1", f"<?xml version='1.0' encoding='ISO-8859-1'?><Basic {_NS}/>".encode(), "line 1", "UTF-8"),
    ("Latin-1", f'<Basic {_NS}>\n<id value="Tremblay é"/></Basic>'.encode("latin-1"), "line 2, column 21", "UTF-8"),
    ("empty", b" \n", "XML", "empty"),
    ("half a document", f'<Basic {_NS}>\n<id value="Tremblay"/>'.encode(), "line 2", "breaks here"),
    ("half a tag", f'<Basic {_NS}><id value="Trembl'.encode(), "line 1", "breaks here"),
    ("tags crossed", f"<Basic {_NS}><code></Basic></code>".encode(), "line 1", "breaks here"),
    ("two roots", f"<Basic {_NS}/><Basic/>".encode(), "line 1", "breaks here"),
    ("a prefix that is not declared", f"<Basic {_NS}><x:id/></Basic>".encode(), "line 1", "breaks here"),
    ("an entity name of HTML", f'<Basic {_NS}><id value="&nbsp;"/></Basic>'.encode(), "line 1", "&#160;"),
    ("a character that XML lacks", f'<Basic {_NS}><id value="&#1;"/></Basic>'.encode(), "line 1", "breaks here"),
    ("256 levels", f"<Basic {_NS}>".encode() + b"<extension>" * 300, "line 1", "256 levels"),
    (
        "101 levels",
        f"<Basic {_NS}>".encode() + b"<extension>" * 120 + b"</extension>" * 120 + b"</Basic>",
        "extension[0]",
        "100 levels",
    ),
    (
        "10 MB in one value",
        f'<Binary {_NS}><data value="'.encode() + b"A" * 10_100_000 + b'"/></Binary>',
        "line 1",
        "10 MB",
    ),
    ("no namespace", b'<Patient><id value="Tremblay"/></Patient>', "XML", "http://hl7.org/fhir"),
    ("no resource", f"<Tremblay {_NS}/>".encode(), "XML", "a resource type"),
    ("a data type", f"<Quantity {_NS}/>".encode(), "XML", "a resource type"),
    ("an abstract type", f"<DomainResource {_NS}/>".encode(), "XML", "a resource type"),
    (
        "an unknown resource inside",
        f"<Basic {_NS}><contained><Wound/></contained></Basic>".encode(),
        "Basic.contained[0]",
        "a resource type",
    ),
    (
        "two in one contained",
        f"<Basic {_NS}><contained><Basic/><Basic/></contained></Basic>".encode(),
        "Basic.contained[0]",
        "one resource",
    ),
    (
        "an empty entry",
        f"<Bundle {_NS}><entry><resource/></entry></Bundle>".encode(),
        "Bundle.entry[0].resource",
        "one resource",
    ),
    (
        "a boolean in words",
        f'<Patient {_NS}><active value="Tremblay"/></Patient>'.encode(),
        "Patient.active",
        "type boolean",
    ),
    (
        "a number in words",
        f'<Patient {_NS}><multipleBirthInteger value="two"/></Patient>'.encode(),
        "multipleBirthInteger",
        "type integer",
    ),
    (
        "a decimal with a comma",
        f'<Observation {_NS}><valueQuantity><value value="4,1"/></valueQuantity></Observation>'.encode(),
        "Observation.valueQuantity.value",
        "type decimal",
    ),
    (
        "a decimal without end",
        f'<Observation {_NS}><valueQuantity><value value="{"9" * 5000}"/></valueQuantity></Observation>'.encode(),
        "Observation.valueQuantity.value",
        "at most 40 digits",
    ),
]


@pytest.mark.parametrize(("content", "where", "says"), [c[1:] for c in _REFUSED], ids=[c[0] for c in _REFUSED])
def test_what_is_no_fhir_xml_is_refused_with_its_place_and_without_its_words(
    content: bytes, where: str, says: str
) -> None:
    with pytest.raises(InputError) as caught:
        xmlio.decode(content)
    assert where in caught.value.where
    assert says in caught.value.expected
    assert caught.value.fix
    assert "Trem" not in str(caught.value)


def test_a_doctype_behind_a_row_of_comments_is_refused() -> None:
    with pytest.raises(InputError, match="DOCTYPE"):
        xmlio.decode(b"<!-- a -->" * 5000 + b"<!DOCTYPE Basic><Basic/>")


def test_an_oversize_document_is_refused() -> None:
    with pytest.raises(InputError, match="at most 10 bytes"):
        xmlio.decode(f"<Basic {_NS}/>".encode(), 10)


_NOT_WRITTEN: list[tuple[str, dict[str, Any], str, str]] = [
    ("no type", {"id": "a"}, "resourceType", "a resource type"),
    ("an unknown type", {"resourceType": "Wound"}, "resourceType", "a resource type"),
    (
        "an unknown type inside",
        {"resourceType": "Basic", "contained": [{"resourceType": "Wound"}]},
        "Basic.contained[0].resourceType",
        "a resource type",
    ),
    ("a list where one stands", {"resourceType": "Basic", "code": [{"text": "a"}]}, "Basic.code", "one, not a list"),
    ("one where a list stands", {"resourceType": "Basic", "identifier": {"value": "a"}}, "Basic.identifier", "a list"),
    ("a list of values where one stands", {"resourceType": "Basic", "id": ["a"]}, "Basic.id", "one, not a list"),
    (
        "one value where a list stands",
        {"resourceType": "Patient", "name": [{"given": "Tremblay"}]},
        "Patient.name[0].given",
        "a list",
    ),
    ("an empty list", {"resourceType": "Basic", "identifier": []}, "Basic.identifier", "at least one"),
    (
        "an empty list of values",
        {"resourceType": "Patient", "name": [{"given": []}]},
        "Patient.name[0].given",
        "at least one",
    ),
    ("nothing", {"resourceType": "Basic", "id": None}, "Basic.id", "a value or an extension"),
    (
        "nothing in a list",
        {"resourceType": "Patient", "name": [{"given": ["Tremblay", None]}]},
        "Patient.name[0].given[1]",
        "a value or",
    ),
    ("a text for an object", {"resourceType": "Basic", "code": "Tremblay"}, "Basic.code", "an object"),
    ("an object for a text", {"resourceType": "Basic", "id": {"a": "Tremblay"}}, "Basic.id", "type id"),
    (
        "a text for a number",
        {"resourceType": "Observation", "valueQuantity": {"value": "4.1"}},
        "Observation.valueQuantity.value",
        "type decimal",
    ),
    (
        "an inexact number",
        {"resourceType": "Observation", "valueQuantity": {"value": 4.1}},
        "Observation.valueQuantity.value",
        "type decimal",
    ),
    (
        "no number",
        {"resourceType": "Observation", "valueQuantity": {"value": Decimal("NaN")}},
        "Observation.valueQuantity.value",
        "type decimal",
    ),
    ("a number for a boolean", {"resourceType": "Patient", "active": 1}, "Patient.active", "type boolean"),
    (
        "a boolean for a number",
        {"resourceType": "Patient", "multipleBirthInteger": True},
        "Patient.multipleBirthInteger",
        "type integer",
    ),
    ("a number for a text", {"resourceType": "Basic", "id": 5}, "Basic.id", "type id"),
    ("a control character", {"resourceType": "Basic", "id": "Trem\x07blay"}, "Basic.id", "characters that XML has"),
    ("half a surrogate pair", {"resourceType": "Basic", "id": "Trem\ud800blay"}, "Basic.id", "characters that XML has"),
    ("a non-character", {"resourceType": "Basic", "id": "Trem\ufffeblay"}, "Basic.id", "characters that XML has"),
    (
        "a control character in a url",
        {"resourceType": "Basic", "extension": [{"url": "\x01"}]},
        "Basic.extension[0].url",
        "characters that XML has",
    ),
    (
        "a narrative that breaks",
        {"resourceType": "Basic", "text": {"div": f"{_DIV}<p>Tremblay</div>"}},
        "Basic.text.div, line 1",
        "breaks here",
    ),
    (
        "a narrative with a DOCTYPE",
        {"resourceType": "Basic", "text": {"div": f"{_ENTITIES}{_DIV}&b;</div>"}},
        "Basic.text.div",
        "DOCTYPE",
    ),
    (
        "a narrative that is no div",
        {"resourceType": "Basic", "text": {"div": "<p>Tremblay</p>"}},
        "Basic.text.div",
        "one XHTML div",
    ),
    (
        "a narrative in plain words",
        {"resourceType": "Basic", "text": {"div": "Tremblay"}},
        "Basic.text.div",
        "breaks here",
    ),
    (
        "a narrative with half a pair",
        {"resourceType": "Basic", "text": {"div": f"{_DIV}\ud800</div>"}},
        "Basic.text.div",
        "whole characters",
    ),
    ("a narrative that is no text", {"resourceType": "Basic", "text": {"div": 5}}, "Basic.text.div", "one XHTML div"),
]


@pytest.mark.parametrize(("resource", "where", "says"), [c[1:] for c in _NOT_WRITTEN], ids=[c[0] for c in _NOT_WRITTEN])
def test_what_fhir_xml_cannot_say_is_not_written(resource: dict[str, Any], where: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        xmlio.encode(resource)
    assert where in caught.value.where
    assert says in caught.value.expected
    assert "Trem" not in str(caught.value)


def test_nesting_without_end_is_not_written() -> None:
    item: dict[str, Any] = {"linkId": "x"}
    for _ in range(150):
        item = {"linkId": "x", "item": [item]}
    with pytest.raises(InputError, match="at most 100 levels"):
        xmlio.encode({"resourceType": "Questionnaire", "item": [item]})
