"""Definitions that our resources point at and that the engine does not bring along."""

from __future__ import annotations

from typing import Any

Json = Any

#: HL7 SDC's extension for observation-based extraction, in its boolean form. Written from the published description
#: (HL7 FHIR SDC 3.0: boolean, on Questionnaire and Questionnaire.item), since the SDC package is not to be had offline.
OBSERVATION_EXTRACT: dict[str, Json] = {
    "resourceType": "StructureDefinition",
    "url": "http://hl7.org/fhir/uv/sdc/StructureDefinition/sdc-questionnaire-observationExtract",
    "name": "ObservationExtract",
    "status": "active",
    "fhirVersion": "4.0.1",
    "kind": "complex-type",
    "abstract": False,
    "context": [
        {"type": "element", "expression": "Questionnaire"},
        {"type": "element", "expression": "Questionnaire.item"},
    ],
    "type": "Extension",
    "baseDefinition": "http://hl7.org/fhir/StructureDefinition/Extension",
    "derivation": "constraint",
    "differential": {
        "element": [
            {"id": "Extension", "path": "Extension", "max": "1"},
            {"id": "Extension.extension", "path": "Extension.extension", "max": "0"},
            {
                "id": "Extension.url",
                "path": "Extension.url",
                "fixedUri": "http://hl7.org/fhir/uv/sdc/StructureDefinition/sdc-questionnaire-observationExtract",
            },
            {"id": "Extension.value[x]", "path": "Extension.value[x]", "min": 1, "type": [{"code": "boolean"}]},
        ]
    },
}
