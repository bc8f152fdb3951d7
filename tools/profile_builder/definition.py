"""One StructureDefinition around a differential: the head that all of ours share."""

from __future__ import annotations

from typing import Any

from tools.profile_builder.differential import FHIR, Differential
from tools.profile_builder.snapshot import snapshot
from woundfhir import __version__
from woundfhir.catalogue import BASE
from woundfhir.fhir.terms import Terms
from woundfhir.r4.narrative import element, narrative

Json = Any
#: The day of the definitions, not of the run: the same catalogue gives the same bytes.
DATE = "2026-11-25"
PUBLISHER = "woundfhir"
COPYRIGHT = (
    "This material contains content from LOINC (http://loinc.org). LOINC is copyright Regenstrief Institute, Inc. and"
    " the LOINC Committee and is available at no cost under the license at http://loinc.org/license. It also contains"
    " SNOMED CT codes, used by permission of SNOMED International; their use may need an affiliate licence."
)


def head(kind: str, name: str, title: str, description: str, terms: Terms) -> dict[str, Json]:
    """Return the members that every conformance resource of ours begins with."""
    return {
        "resourceType": kind,
        "id": name,
        "text": _narrative(title, description),
        "url": f"{BASE}/{kind}/{name}",
        "version": __version__,
        "name": pascal(name),
        "title": title,
        "status": "active",
        "experimental": False,
        "date": DATE,
        "publisher": PUBLISHER,
        "description": description,
    }


def _narrative(title: str, description: str) -> dict[str, Json]:
    """Return the text that a person sees where no tool reads the definition."""
    return narrative(element("h1", title), element("p", description))


def pascal(name: str) -> str:
    """Return a name in the form that FHIR asks for machine-readable names.

    Examples
    --------
    >>> pascal("observation-exudate-amount")
    'ObservationExudateAmount'
    """
    return "".join(part[:1].upper() + part[1:] for part in name.replace("_", "-").split("-"))


def profile(name: str, title: str, description: str, made: Differential, terms: Terms) -> dict[str, Json]:
    """Return a profile on an R4 resource."""
    made.elements[0]["short"] = title
    made.elements[0]["definition"] = description
    return {
        **head("StructureDefinition", name, title, description, terms),
        "copyright": COPYRIGHT,
        "fhirVersion": "4.0.1",
        "kind": "resource",
        "abstract": False,
        "type": made.kind,
        "baseDefinition": FHIR + made.kind,
        "derivation": "constraint",
        **_bodies(made),
    }


def extension(
    name: str, title: str, description: str, contexts: list[str], made: Differential, terms: Terms
) -> dict[str, Json]:
    """Return the definition of an extension, with the elements that it may stand on."""
    made.elements[0].update(short=title, definition=description)
    return {
        **head("StructureDefinition", name, title, description, terms),
        "fhirVersion": "4.0.1",
        "kind": "complex-type",
        "abstract": False,
        "context": [{"type": "element", "expression": context} for context in contexts],
        "type": "Extension",
        "baseDefinition": FHIR + "Extension",
        "derivation": "constraint",
        **_bodies(made),
    }


def _bodies(made: Differential) -> dict[str, Json]:
    order = {element["id"]: at for at, element in enumerate(snapshot(made.kind, made.elements))}
    made.elements.sort(key=lambda element: order[element["id"]])
    return {"snapshot": {"element": snapshot(made.kind, made.elements)}, "differential": {"element": made.elements}}


__all__ = ["COPYRIGHT", "DATE", "PUBLISHER", "extension", "head", "pascal", "profile"]
