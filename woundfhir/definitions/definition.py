"""One StructureDefinition around a differential: the head that all of ours share."""

from __future__ import annotations

from typing import Any

from woundfhir import __version__
from woundfhir.definitions.differential import FHIR, Differential
from woundfhir.definitions.snapshot import snapshot
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
    """Return the members that every conformance resource begins with; those of a site where one holds."""
    site = terms.catalogue.site
    return {
        "resourceType": kind,
        "id": name,
        "text": _narrative(title, description),
        "url": f"{terms.catalogue.bases[-1]}/{kind}/{name}",
        "version": __version__ if site is None else site.version,
        "name": pascal(name),
        "title": title,
        "status": "active",
        "experimental": False,
        "date": DATE,
        "publisher": PUBLISHER if site is None else site.title,
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
        **_bodies(made, terms),
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
        **_bodies(made, terms),
    }


def _bodies(made: Differential, terms: Terms) -> dict[str, Json]:
    """Return snapshot and differential; of a site the differential alone.

    A snapshot needs HL7's core package, which only the makers of this toolkit install; whatever loads a package makes
    the snapshots that it lacks (R4, profiling, "Snapshots and differentials").
    """
    if terms.catalogue.site is not None:
        made.in_order()
        return {"differential": {"element": made.elements}}
    order = {element["id"]: at for at, element in enumerate(snapshot(made.kind, made.elements))}
    made.elements.sort(key=lambda element: order[element["id"]])
    return {"snapshot": {"element": snapshot(made.kind, made.elements)}, "differential": {"element": made.elements}}


__all__ = ["COPYRIGHT", "DATE", "PUBLISHER", "extension", "head", "pascal", "profile"]
