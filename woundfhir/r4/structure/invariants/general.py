"""Invariants of every element, extension, resource and reference."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.r4.narrative.check import forbidden, is_empty
from woundfhir.r4.structure.invariants.registry import has, has_choice, invariant, many, one, text
from woundfhir.r4.structure.walk import Node

Json = Any
Breaks = Iterator[tuple[str, str]]


@invariant(
    "ele-1",
    "Element",
    expression="hasValue() or (children().count() > id.count())",
    text="a value or at least one member beside the id",
)
def ele_1(node: Node) -> Breaks:
    """An element says something."""
    if not set(node.value) - {"id"}:
        yield "", "nothing but an id" if node.value else "an empty object"


@invariant(
    "ext-1", "Extension", expression="extension.exists() != value.exists()", text="either a value or inner extensions"
)
def ext_1(node: Node) -> Breaks:
    """An extension has one of the two."""
    inner, value = has(node.value, "extension"), has_choice(node.value, "value")
    if inner == value:
        yield "", "both" if inner else "neither"


@invariant(
    "dom-2",
    "DomainResource",
    expression="contained.contained.empty()",
    text="contained resources without contained ones of their own",
)
def dom_2(node: Node) -> Breaks:
    """Containment goes one level deep."""
    for number, inner in enumerate(many(node.value, "contained")):
        if has(inner, "contained"):
            yield f".contained[{number}].contained", "one inside the other"


@invariant(
    "dom-3",
    "DomainResource",
    expression=(
        "contained.where((('#'+id in (%resource.descendants().reference | %resource.descendants().as(canonical) | "
        "%resource.descendants().as(uri) | %resource.descendants().as(url))) or descendants().where(reference = '#')"
        ".exists() or descendants().where(as(canonical) = '#').exists() or descendants().where(as(canonical) = '#')"
        ".exists()).not()).trace('unmatched', id).empty()"
    ),
    text="each contained resource is referred to (#id), or refers to its container (#)",
)
def dom_3(node: Node) -> Breaks:
    """Nothing is contained for nobody."""
    said = set(_texts(node.value))
    for number, inner in enumerate(many(node.value, "contained")):
        if f"#{inner.get('id')}" not in said and "#" not in set(_texts(inner)):
            yield f".contained[{number}]", "no reference to it"


def _texts(value: Json) -> Iterator[str]:
    """Yield every text that starts with # (references, canonicals and uris do; other texts do no harm)."""
    if isinstance(value, Mapping):
        for item in value.values():
            yield from _texts(item)
    elif isinstance(value, list):
        for item in value:
            yield from _texts(item)
    elif isinstance(value, str) and value.startswith("#"):
        yield value


@invariant(
    "dom-4",
    "DomainResource",
    expression="contained.meta.versionId.empty() and contained.meta.lastUpdated.empty()",
    text="contained resources without version and time of update",
)
def dom_4(node: Node) -> Breaks:
    """What is contained has no life of its own."""
    for number, inner in enumerate(many(node.value, "contained")):
        for name in ("versionId", "lastUpdated"):
            if has(one(inner, "meta"), name):
                yield f".contained[{number}].meta.{name}", "one"


@invariant(
    "dom-5",
    "DomainResource",
    expression="contained.meta.security.empty()",
    text="contained resources without a security label",
)
def dom_5(node: Node) -> Breaks:
    """The container's label holds for what it contains."""
    for number, inner in enumerate(many(node.value, "contained")):
        if has(one(inner, "meta"), "security"):
            yield f".contained[{number}].meta.security", "a label"


@invariant(
    "dom-6",
    "DomainResource",
    expression="text.`div`.exists()",
    text="a narrative, so that a person can read the resource without a program",
    severity="warning",
)
def dom_6(node: Node) -> Breaks:
    """A resource can be read by a person; a contained one is described in the narrative of its container."""
    if node.value is node.root and not has(one(node.value, "text"), "div"):
        yield ".text", "none"


@invariant(
    "ref-1",
    "Reference",
    expression=(
        "reference.startsWith('#').not() or (reference.substring(1).trace('url') in "
        "%rootResource.contained.id.trace('ids'))"
    ),
    text="a reference to #id finds a contained resource with that id",
)
def ref_1(node: Node) -> Breaks:
    """``#`` alone means the container, and stands only inside what is contained."""
    reference = node.value.get("reference")
    if not isinstance(reference, str) or not reference.startswith("#"):
        return
    if reference == "#" and node.resource is not node.root:
        return
    if reference[1:] not in {text(inner, "id") for inner in many(node.root, "contained")}:
        yield ".reference", "no contained resource of that id"


@invariant(
    "txt-1",
    "xhtml",
    expression="htmlChecks()",
    text="XHTML for reading: HTML 4.0 text, tables, lists, links and images, without scripts, forms and outside styles",
)
def txt_1(node: Node) -> Breaks:
    """Source of the names that may stand: the XPath of txt-1 in R4's Narrative."""
    for found in forbidden(node.value):
        yield "", found


@invariant("txt-2", "xhtml", expression="htmlChecks()", text="words or an image")
def txt_2(node: Node) -> Breaks:
    """A narrative says something."""
    if is_empty(node.value):
        yield "", "only blanks"
