"""JSON -> XML -> JSON and XML -> JSON -> XML are the identity: for anything that R4 defines, and on HL7's own files."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from tests.paths import hl7_examples
from tests.r4 import r4core
from tests.r4.resources import resources
from woundfhir.r4 import jsonio, ndjson, xmlio
from woundfhir.r4.safexml import parse

#: Types that this toolkit writes, drawn more often.
_OURS = frozenset(
    "Patient,Observation,Condition,Procedure,CarePlan,Goal,SupplyDelivery,Bundle,Composition,Provenance".split(",")  # noqa: SIM905
)


@settings(max_examples=250)
@given(st.one_of(resources(), resources(kinds=lambda: _OURS)), st.booleans())
def test_json_through_xml_comes_back_byte_for_byte(resource: dict[str, Any], readable: bool) -> None:
    written = jsonio.encode(resource)
    assert jsonio.encode(xmlio.decode(xmlio.encode(jsonio.decode(written), readable=readable))) == written


@settings(max_examples=100)
@given(resources(kinds=lambda: _OURS))
def test_xml_through_json_comes_back_byte_for_byte(resource: dict[str, Any]) -> None:
    written = xmlio.encode(resource)
    assert xmlio.encode(jsonio.decode(jsonio.encode(xmlio.decode(written)))) == written


@settings(max_examples=100)
@given(resources(kinds=lambda: _OURS), st.randoms(use_true_random=False))
def test_the_order_of_members_does_not_matter(resource: dict[str, Any], random: Any) -> None:
    def shuffled(value: Any) -> Any:
        if isinstance(value, dict):
            keys = list(value)
            random.shuffle(keys)
            return {key: shuffled(value[key]) for key in keys}
        return [shuffled(item) for item in value] if isinstance(value, list) else value

    assert xmlio.encode(shuffled(resource)) == xmlio.encode(resource)


@settings(max_examples=50)
@given(st.lists(resources(2, lambda: _OURS), max_size=4))
def test_ndjson_comes_back(given_: list[dict[str, Any]]) -> None:
    assert list(ndjson.read(ndjson.write(given_))) == given_


@settings(max_examples=100)
@given(resources(kinds=lambda: _OURS))
def test_the_readable_form_says_the_same(resource: dict[str, Any]) -> None:
    assert jsonio.decode_checked(jsonio.encode_readable(resource)) == resource


def canonical(content: bytes) -> bytes:
    """Return Canonical XML (W3C, exclusive) of a FHIR document without what FHIR says has no meaning.

    That is white space between elements, comments, and where a schema may be found.
    """
    root = parse(content)
    for node in root.iter("{http://hl7.org/fhir}*"):
        for key in [key for key in node.attrib if "schemaLocation" in str(key)]:
            del node.attrib[key]
        if not (node.text or "").strip():
            node.text = None
        for child in node:
            child.tail = None if not (child.tail or "").strip() else child.tail
    return etree.tostring(root, method="c14n", exclusive=True)


def test_hl7s_wound_examples_come_back_from_json() -> None:
    """Source: HL7 skin and wound assessment guide, examples of 2020-06-30."""
    for file in hl7_examples():
        content = file.read_bytes()
        resource = xmlio.decode(content)
        assert canonical(xmlio.encode(resource)) == canonical(content), file.name
        through = jsonio.decode_checked(jsonio.encode_readable(resource))
        assert canonical(xmlio.encode(through, readable=False)) == canonical(content), file.name


def test_resources_of_the_r4_core_package_come_back_from_xml_byte_for_byte() -> None:
    """Source: hl7.fhir.r4.core 4.0.1; every fourteenth of its 4,578 resources, and all that are no terminology."""
    compared = set()
    for number, (name, content) in enumerate(r4core.files()):
        often = name.startswith(("CapabilityStatement", "CompartmentDefinition", "StructureMap"))
        if "/" in name or "-" not in name or not (often or number % 14 == 0):
            continue
        resource = jsonio.decode_checked(content)
        written = jsonio.encode(resource)
        assert jsonio.encode(xmlio.decode(xmlio.encode(resource))) == written, name
        compared.add(name)
    assert len(compared) > 300
    assert {name.split("-")[0] for name in compared} >= {
        "StructureDefinition",
        "ValueSet",
        "CodeSystem",
        "SearchParameter",
    }
