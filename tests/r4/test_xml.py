"""FHIR XML written and read: each way in which JSON and XML differ, and whatever is refused.

Source of the rules: HL7 FHIR R4 (4.0.1), pages xml, json, narrative.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from woundfhir.errors import InputError
from woundfhir.r4 import jsonio, xmlio

_NS = 'xmlns="http://hl7.org/fhir"'
_DIV = '<div xmlns="http://www.w3.org/1999/xhtml">'


def _xml(resource: dict[str, Any], unknown: list[xmlio.Unknown] | None = None) -> str:
    lines = xmlio.encode(resource, readable=False, unknown=unknown).decode().split("\n")
    assert lines[0] == '<?xml version="1.0" encoding="UTF-8"?>' and lines[-1] == ""
    return "\n".join(lines[1:-1])


_SAME: list[tuple[str, str, dict[str, Any]]] = [
    (
        "elements in the order of the definition, values as attributes",
        f'<Observation {_NS}><id value="a"/><status value="final"/><code><text value="b"/></code>'
        '<valueQuantity><value value="4.10"/><unit value="cm"/></valueQuantity></Observation>',
        {
            "resourceType": "Observation",
            "id": "a",
            "status": "final",
            "code": {"text": "b"},
            "valueQuantity": {"value": Decimal("4.10"), "unit": "cm"},
        },
    ),
    (
        "a boolean and a whole number",
        f'<Patient {_NS}><active value="true"/><multipleBirthInteger value="2"/></Patient>',
        {"resourceType": "Patient", "active": True, "multipleBirthInteger": 2},
    ),
    (
        "an extension of a primitive, with and without a value",
        f'<Patient {_NS}><birthDate id="x" value="1948">'
        '<extension url="u"><valueCode value="c"/></extension></birthDate>'
        '<deceasedBoolean><extension url="u"><valueString value=" s "/></extension></deceasedBoolean></Patient>',
        {
            "resourceType": "Patient",
            "birthDate": "1948",
            "_birthDate": {"id": "x", "extension": [{"url": "u", "valueCode": "c"}]},
            "_deceasedBoolean": {"extension": [{"url": "u", "valueString": " s "}]},
        },
    ),
    (
        "a list of primitives, some without value, some without extension",
        f'<Patient {_NS}><name id="n"><given value="A"/>'
        '<given><extension url="u"><valueCode value="c"/></extension></given>'
        '<given id="g" value="B"/></name></Patient>',
        {
            "resourceType": "Patient",
            "name": [
                {
                    "id": "n",
                    "given": ["A", None, "B"],
                    "_given": [None, {"extension": [{"url": "u", "valueCode": "c"}]}, {"id": "g"}],
                }
            ],
        },
    ),
    (
        "a list of primitives that is all extensions",
        f'<Patient {_NS}><name><given id="g"/></name></Patient>',
        {"resourceType": "Patient", "name": [{"_given": [{"id": "g"}]}]},
    ),
    (
        "extensions inside an extension, before its url in JSON",
        f'<Basic {_NS}><extension id="e" url="u"><extension url="v"><valueDecimal value="0.0"/></extension></extension>'
        "</Basic>",
        {
            "resourceType": "Basic",
            "extension": [{"id": "e", "extension": [{"url": "v", "valueDecimal": Decimal("0.0")}], "url": "u"}],
        },
    ),
    (
        "contained resources",
        f'<Patient {_NS}><contained><Organization><id value="o"/></Organization></contained>'
        '<contained><Basic><id value="b"/></Basic></contained></Patient>',
        {
            "resourceType": "Patient",
            "contained": [{"resourceType": "Organization", "id": "o"}, {"resourceType": "Basic", "id": "b"}],
        },
    ),
    (
        "resources and outcomes in a Bundle, parameters",
        f'<Bundle {_NS}><entry><fullUrl value="urn:x"/><resource><Parameters><parameter><name value="p"/>'
        '<resource><Basic><id value="b"/></Basic></resource></parameter></Parameters></resource>'
        '<response><status value="200"/>'
        '<outcome><OperationOutcome><id value="o"/></OperationOutcome></outcome></response>'
        "</entry></Bundle>",
        {
            "resourceType": "Bundle",
            "entry": [
                {
                    "fullUrl": "urn:x",
                    "resource": {
                        "resourceType": "Parameters",
                        "parameter": [{"name": "p", "resource": {"resourceType": "Basic", "id": "b"}}],
                    },
                    "response": {"status": "200", "outcome": {"resourceType": "OperationOutcome", "id": "o"}},
                }
            ],
        },
    ),
    (
        "white space, quotes, line ends and letters of any script in a value",
        f'<Basic {_NS}><id value=" a&#10;&#13;&#9;&quot;\'&lt;&gt;&amp;é字😀 "/></Basic>',
        {"resourceType": "Basic", "id": " a\n\r\t\"'<>&é字😀 "},
    ),
    (
        "an element that JSON names like its own resourceType",
        f'<ExampleScenario {_NS}><instance><resourceType value="Basic"/></instance></ExampleScenario>',
        {"resourceType": "ExampleScenario", "instance": [{"resourceType": "Basic"}]},
    ),
    (
        "base64 with line ends",
        f'<Binary {_NS}><data value="AAAA&#10;BBBB"/></Binary>',
        {"resourceType": "Binary", "data": "AAAA\nBBBB"},
    ),
    (
        "a type that refers to itself",
        f'<Questionnaire {_NS}><item><linkId value="1"/><item><linkId value="1.1"/></item></item></Questionnaire>',
        {"resourceType": "Questionnaire", "item": [{"linkId": "1", "item": [{"linkId": "1.1"}]}]},
    ),
    (
        "a narrative as it was written",
        f'<Basic {_NS}><text><status value="generated"/>'
        f"{_DIV}a<br />b<i title='\"'> &#233;&amp; </i>\r\n<!-- c --></div ></text></Basic>",
        {
            "resourceType": "Basic",
            "text": {
                "status": "generated",
                "div": f"{_DIV}a<br />b<i title='\"'> &#233;&amp; </i>\r\n<!-- c --></div >",
            },
        },
    ),
]


@pytest.mark.parametrize(("xml", "resource"), [case[1:] for case in _SAME], ids=[case[0] for case in _SAME])
def test_the_two_forms_say_the_same(xml: str, resource: dict[str, Any]) -> None:
    assert _xml(resource) == xml
    found = xmlio.decode(xml.encode())
    assert found == resource
    assert jsonio.encode(found) == jsonio.encode(resource)
    assert xmlio.decode(xmlio.encode(resource)) == resource


@pytest.mark.parametrize("number", ["4.10", "0.0", "-0.50", "100", "0.00000001", "1E+2", "123456789012345678901.10"])
def test_a_decimal_is_written_as_it_was_read(number: str) -> None:
    xml = f'<Observation {_NS}><valueQuantity><value value="{number}"/></valueQuantity></Observation>'
    assert _xml(xmlio.decode(xml.encode())) == xml


def test_another_exponent_keeps_value_and_precision() -> None:
    xml = f'<Observation {_NS}><valueQuantity><value value="1e2"/></valueQuantity></Observation>'
    found = xmlio.decode(xml.encode())
    assert found["valueQuantity"]["value"].as_tuple() == Decimal("1e2").as_tuple()
    assert xmlio.decode(xmlio.encode(found)) == found


def test_a_huge_exponent_is_not_written_out() -> None:
    assert len(_xml({"resourceType": "Observation", "valueQuantity": {"value": Decimal("1E-999999")}})) < 200


def test_comments_and_instructions_say_nothing() -> None:
    xml = f'<?xml version="1.0"?><?x y?><!-- a --><Patient {_NS}><!-- b --><id value="x"/><?z?>\n </Patient><!-- c -->'
    assert xmlio.decode(xml.encode()) == {"resourceType": "Patient", "id": "x"}


def test_a_row_of_comments_is_read_at_once() -> None:
    xml = "<!-- a -->" * 5000 + f'<Patient {_NS}><id value="x"/></Patient>'
    assert xmlio.decode(xml.encode()) == {"resourceType": "Patient", "id": "x"}


def test_a_prefix_and_where_a_schema_may_be_found_say_nothing() -> None:
    xml = (
        '<f:Patient xmlns:f="http://hl7.org/fhir" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" '
        'xsi:schemaLocation="http://hl7.org/fhir ../fhir.xsd"><f:id value="x"/></f:Patient>'
    )
    assert xmlio.decode(xml.encode()) == {"resourceType": "Patient", "id": "x"}
    assert xmlio.decode(b"\xef\xbb\xbf" + xml.encode()) == {"resourceType": "Patient", "id": "x"}


@pytest.mark.parametrize(
    ("written", "div"),
    [
        ("<div><b>x</b></div>", f"{_DIV}<b>x</b></div>"),
        (f"\n{_DIV}1&nbsp;cm &lt; 2&le;</div>", f"{_DIV}1\u00a0cm &lt; 2≤</div>"),
        (f"{_DIV}a</div><!-- after -->", f"{_DIV}a</div>"),
        (f"{_DIV}&LT;b&GT;</div>", f"{_DIV}&lt;b&gt;</div>"),
    ],
)
def test_a_narrative_that_cannot_stand_in_xml_is_written_anew_with_the_same_words(written: str, div: str) -> None:
    resource = {"resourceType": "Basic", "text": {"div": written}}
    assert xmlio.decode(xmlio.encode(resource)) == {"resourceType": "Basic", "text": {"div": div}}


@pytest.mark.parametrize(
    ("inside", "div"),
    [
        ("<h:div xml:lang='en'>a<h:p> b </h:p></h:div>", f'{_DIV[:-1]} xml:lang="en">a<p> b </p></div>'),
        ('<h:div><h:p x:k="v" xmlns:x="urn:x">b</h:p></h:div>', f'{_DIV}<p xmlns:ns0="urn:x" ns0:k="v">b</p></div>'),
        (f"{_DIV[:-1]}/>", f"{_DIV[:-1]}/>"),
    ],
)
def test_a_narrative_with_a_prefix_from_outside_gets_its_own_namespace(inside: str, div: str) -> None:
    xml = f'<Basic {_NS} xmlns:h="http://www.w3.org/1999/xhtml"><text>{inside}</text></Basic>'
    assert xmlio.decode(xml.encode()) == {"resourceType": "Basic", "text": {"div": div}}


# -- what R4 does not define -----------------------------------------------------------------------

_UNKNOWN_XML: list[tuple[str, str, str, str]] = [
    (
        "an element",
        '<woundSize value="4"/>',
        "Observation.woundSize",
        'woundSize xmlns="http://hl7.org/fhir" value="4"/>',
    ),
    ("a deeper element", '<code><size value="4"/></code>', "Observation.code.size", 'value="4"'),
    ("in a list", '<component/><component><b value="4"/></component>', "Observation.component[1].b", 'value="4"'),
    ("another namespace", '<status xmlns="urn:x" value="final"/>', "Observation.status", 'xmlns="urn:x"'),
    ("XHTML out of place", '<p xmlns="http://www.w3.org/1999/xhtml">x</p>', "Observation.p", ">x</p>"),
    ("an attribute", '<code kind="4"/>', "Observation.code.@kind", "kind=4"),
    ("a value on what has members", '<code value="4"/>', "Observation.code.@value", "value=4"),
    ("text between elements", "<status>final</status>", "Observation.status", "final"),
    ("an element twice", '<status value="final"/><status value="amended"/>', "Observation.status", 'value="amended"'),
    ("a primitive with nothing", "<status/>", "Observation.status", "<status"),
    (
        "an R5 element",
        '<bodyStructure><reference value="4"/></bodyStructure>',
        "Observation.bodyStructure",
        'value="4"',
    ),
]


@pytest.mark.parametrize(("inside", "path", "words"), [c[1:] for c in _UNKNOWN_XML], ids=[c[0] for c in _UNKNOWN_XML])
def test_what_r4_does_not_define_is_refused_or_handed_over_word_for_word(inside: str, path: str, words: str) -> None:
    xml = f'<Observation {_NS}><id value="a"/>{inside}</Observation>'.encode()
    with pytest.raises(InputError) as caught:
        xmlio.decode(xml)
    assert path in caught.value.where
    unknown: list[xmlio.Unknown] = []
    found = xmlio.decode(xml, unknown=unknown)
    assert found["id"] == "a"
    assert unknown[0].path == path
    assert words in unknown[0].text


def test_what_json_holds_beyond_r4_is_refused_or_handed_over() -> None:
    resource = {
        "resourceType": "Observation",
        "component": [{"code": {"text": "a"}, "wound": {"n": Decimal("4.10")}}],
        "_code": {"id": "x"},
    }
    with pytest.raises(InputError, match=r"^Observation\._code: expected an element of FHIR R4"):
        xmlio.encode(resource)
    unknown: list[xmlio.Unknown] = []
    assert "<code><text" in _xml(resource, unknown)
    assert unknown == [
        xmlio.Unknown("Observation._code", '{"id":"x"}'),
        xmlio.Unknown("Observation.component[0].wound", '{"n":4.10}'),
    ]
