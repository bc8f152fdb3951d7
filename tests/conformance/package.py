"""A FHIR package as HL7's own package reader gives it."""

from __future__ import annotations

import json
from typing import Any

from .engine import java

Json = Any


def unpacked(content: bytes) -> tuple[str, str, list[dict[str, Json]]]:
    """Return name, version and resources of a package as ``org.hl7.fhir.utilities.npm.NpmPackage`` reads them."""
    jpype = java()
    stream = jpype.JClass("java.io.ByteArrayInputStream")(jpype.JArray(jpype.JByte)(content))
    found = jpype.JClass("org.hl7.fhir.utilities.npm.NpmPackage").fromPackage(stream)
    names = [str(name) for name in found.listResources(*_TYPES)]
    read = jpype.JClass("java.lang.String")
    return (
        str(found.name()),
        str(found.version()),
        [json.loads(str(read(found.load("package", name).readAllBytes(), "UTF-8"))) for name in names],
    )


_TYPES = ("StructureDefinition", "ValueSet", "CodeSystem", "ConceptMap", "Questionnaire", "ImplementationGuide")
