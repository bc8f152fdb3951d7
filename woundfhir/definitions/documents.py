"""Profiles of the Composition and of the Bundles: document, transaction, collection."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from woundfhir.definitions.definition import profile
from woundfhir.definitions.differential import PATIENT, Differential, pattern
from woundfhir.fhir.terms import Terms
from woundfhir.handover.document.sections import SECTIONS

Json = Any


def profiles(terms: Terms) -> Iterator[dict[str, Json]]:
    """Yield the profiles of documents and the other Bundles."""
    yield _composition(terms)
    yield _document(terms)
    for kind, words in (
        ("transaction", "A history for a server to store."),
        ("collection", "A history as a plain set."),
    ):
        made = Differential("Bundle")
        made.element("type", patternCode=kind)
        made.element("entry.fullUrl", min=1)
        made.element("entry.resource", min=1)
        made.element("entry.request", min=1 if kind == "transaction" else 0, max="1" if kind == "transaction" else "0")
        yield profile(f"bundle-{kind}", f"Wound history, {kind}", words, made, terms)


def _composition(terms: Terms) -> dict[str, Json]:
    made = Differential("Composition")
    made.element("identifier", min=1)
    made.element("subject", min=1, type=PATIENT)
    made.slicing("section", "pattern", "code", min=1)
    for section in SECTIONS:
        name = f"section:{section.key}"
        made.element(name, short=section.title, min=1 if section.required else 0, max="1")
        made.element(f"{name}.title", min=1)
        codings = [terms.coding(code) for code in section.codes]
        made.element(f"{name}.code", min=1, patternCodeableConcept=pattern(codings))
        made.element(f"{name}.text", min=1)
    return profile(
        "document",
        "Wound history for transfer",
        "The first page of a wound history: its sections in reading order.",
        made,
        terms,
    )


def _document(terms: Terms) -> dict[str, Json]:
    made = Differential("Bundle")
    made.element("identifier", min=1)
    made.element("type", patternCode="document")
    made.element("timestamp", min=1)
    made.slicing("entry", "type", "resource", min=1)
    made.element("entry.fullUrl", min=1)
    made.element("entry.resource", min=1)
    made.element("entry.search", max="0")
    made.element("entry.request", max="0")
    made.element("entry.response", max="0")
    made.element("entry:composition", min=1, max="1")
    made.element("entry:composition.resource", type=[{"code": "Composition", "profile": [made.url("document")]}])
    return profile(
        "bundle-document",
        "Wound history, document",
        "A wound history as a FHIR document: immutable, complete, readable without the system that wrote it.",
        made,
        terms,
    )
