"""Invariants of Bundle and Composition. (References and R4's rules of documents are in bundle.py.)"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.r4.structure.invariants.registry import has, holds, invariant, many, one
from woundfhir.r4.structure.walk import Node

Json = Any
Breaks = Iterator[tuple[str, str]]


@invariant(
    "bdl-1",
    "Bundle",
    expression="total.empty() or (type = 'searchset') or (type = 'history')",
    text="a total only in a search set or a history",
)
def bdl_1(node: Node) -> Breaks:
    """A total counts matches."""
    if has(node.value, "total") and node.value.get("type") not in ("searchset", "history"):
        yield ".total", "a total in another Bundle"


@invariant(
    "bdl-2",
    "Bundle",
    expression="entry.search.empty() or (type = 'searchset')",
    text="entry.search only in a search set",
)
def bdl_2(node: Node) -> Breaks:
    """Only a search finds."""
    if node.value.get("type") != "searchset":
        for number, entry in enumerate(many(node.value, "entry")):
            if has(entry, "search"):
                yield f".entry[{number}].search", "one in another Bundle"


def _only_in(node: Node, name: str, kinds: tuple[str, ...]) -> Breaks:
    needed = node.value.get("type") in kinds
    for number, entry in enumerate(many(node.value, "entry")):
        if has(entry, name) != needed:
            yield f".entry[{number}].{name}", "none" if needed else "one in another Bundle"


@invariant(
    "bdl-3",
    "Bundle",
    expression=(
        "entry.all(request.exists() = (%resource.type = 'batch' or %resource.type = 'transaction' or "
        "%resource.type = 'history'))"
    ),
    text="entry.request in each entry of a batch, transaction or history, and in no other Bundle",
)
def bdl_3(node: Node) -> Breaks:
    """Only these ask a server to do something."""
    yield from _only_in(node, "request", ("batch", "transaction", "history"))


@invariant(
    "bdl-4",
    "Bundle",
    expression=(
        "entry.all(response.exists() = (%resource.type = 'batch-response' or "
        "%resource.type = 'transaction-response' or %resource.type = 'history'))"
    ),
    text="entry.response in each entry of a response or history, and in no other Bundle",
)
def bdl_4(node: Node) -> Breaks:
    """Only these tell what a server did."""
    yield from _only_in(node, "response", ("batch-response", "transaction-response", "history"))


@holds(
    "bdl-5",
    "Bundle.entry",
    expression="resource.exists() or request.exists() or response.exists()",
    text="a resource, unless there is a request or a response",
    found="none of them",
)
def bdl_5(value: Mapping[str, Json]) -> bool:
    """An entry holds something."""
    return has(value, "resource") or has(value, "request") or has(value, "response")


@invariant(
    "bdl-7",
    "Bundle",
    expression=(
        "(type = 'history') or entry.where(fullUrl.exists()).select(fullUrl&resource.meta.versionId).isDistinct()"
    ),
    text="one fullUrl for one resource (and version)",
)
def bdl_7(node: Node) -> Breaks:
    """Two resources of one name cannot be told apart."""
    if node.value.get("type") == "history":
        return
    seen: set[tuple[str, str]] = set()
    for number, entry in enumerate(many(node.value, "entry")):
        if has(entry, "fullUrl"):
            name = (str(entry.get("fullUrl")), str(one(one(entry, "resource"), "meta").get("versionId", "")))
            if name in seen:
                yield f".entry[{number}].fullUrl", "the same as in an entry before"
            seen.add(name)


@invariant(
    "bdl-8", "Bundle.entry", expression="fullUrl.contains('/_history/').not()", text="a fullUrl that names no version"
)
def bdl_8(node: Node) -> Breaks:
    """A fullUrl is the name of the resource, not of one of its versions."""
    if "/_history/" in str(node.value.get("fullUrl", "")):
        yield ".fullUrl", "one with /_history/"


@invariant(
    "bdl-9",
    "Bundle",
    expression="type = 'document' implies (identifier.system.exists() and identifier.value.exists())",
    text="an identifier with system and value on a document",
)
def bdl_9(node: Node) -> Breaks:
    """A document can be named, wherever it travels."""
    if node.value.get("type") == "document":
        identifier = one(node.value, "identifier")
        missing = [name for name in ("system", "value") if not has(identifier, name)]
        if missing:
            yield ".identifier", f"one without {' and '.join(missing)}"


@invariant(
    "bdl-10", "Bundle", expression="type = 'document' implies (timestamp.hasValue())", text="a timestamp on a document"
)
def bdl_10(node: Node) -> Breaks:
    """A document was put together at some time."""
    if node.value.get("type") == "document" and not node.value.get("timestamp"):
        yield ".timestamp", "none"


def _first(node: Node, kind: str, first: str) -> Breaks:
    entries = many(node.value, "entry")
    if node.value.get("type") == kind and (not entries or one(entries[0], "resource").get("resourceType") != first):
        yield ".entry[0].resource" if entries else ".entry", "another resource" if entries else "no entry"


@invariant(
    "bdl-11",
    "Bundle",
    expression="type = 'document' implies entry.first().resource.is(Composition)",
    text="a Composition as the first entry of a document",
)
def bdl_11(node: Node) -> Breaks:
    """A document starts with its table of contents."""
    yield from _first(node, "document", "Composition")


@invariant(
    "bdl-12",
    "Bundle",
    expression="type = 'message' implies entry.first().resource.is(MessageHeader)",
    text="a MessageHeader as the first entry of a message",
)
def bdl_12(node: Node) -> Breaks:
    """A message starts with its header."""
    yield from _first(node, "message", "MessageHeader")


@holds(
    "cmp-1",
    "Composition.section",
    expression="text.exists() or entry.exists() or section.exists()",
    text="a text, an entry or an inner section",
    found="none of them",
)
def cmp_1(value: Mapping[str, Json]) -> bool:
    """A section says something."""
    return has(value, "text") or has(value, "entry") or has(value, "section")


@holds(
    "cmp-2",
    "Composition.section",
    expression="emptyReason.empty() or entry.empty()",
    text="a reason for emptiness only in an empty section",
    found="both",
)
def cmp_2(value: Mapping[str, Json]) -> bool:
    """A section is empty or it is not."""
    return not (has(value, "emptyReason") and has(value, "entry"))
