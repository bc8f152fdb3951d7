"""Definitions that our resources point at and that the engine does not bring along."""

from __future__ import annotations

from typing import Any

Json = Any

_SDC = "http://hl7.org/fhir/uv/sdc/StructureDefinition/sdc-questionnaire-"
_CONTEXTS = {
    "root": ("Questionnaire",),
    "item": ("Questionnaire.item",),
    "both": ("Questionnaire", "Questionnaire.item"),
}


def _extension(name: str, where: str, *types: str) -> dict[str, Json]:
    url = _SDC + name
    value = [{"id": "Extension.value[x]", "path": "Extension.value[x]", "type": [{"code": one} for one in types]}]
    inner = [{"id": "Extension.extension", "path": "Extension.extension", "max": "0"}]
    return {
        "resourceType": "StructureDefinition",
        "url": url,
        "name": name[:1].upper() + name[1:],
        "status": "active",
        "fhirVersion": "4.0.1",
        "kind": "complex-type",
        "abstract": False,
        "context": [{"type": "element", "expression": one} for one in _CONTEXTS.get(where, (where,))],
        "type": "Extension",
        "baseDefinition": "http://hl7.org/fhir/StructureDefinition/Extension",
        "derivation": "constraint",
        "differential": {
            "element": [
                {"id": "Extension", "path": "Extension"},
                *(inner if types else ()),
                {"id": "Extension.url", "path": "Extension.url", "fixedUri": url},
                *(value if types else ()),
            ]
        },
    }


#: HL7 SDC's extensions that the form uses, since the SDC package is not to be had offline: where each may stand and
#: what it holds, written from the published descriptions (HL7 FHIR SDC; HL7/sdc@4032ec6, input/fsh/extensions).
SDC: tuple[dict[str, Json], ...] = (
    _extension("observationExtract", "both", "boolean"),
    _extension("minQuantity", "item", "Quantity"),
    _extension("maxQuantity", "item", "Quantity"),
    _extension("launchContext", "root"),
    _extension("initialExpression", "item", "Expression"),
    _extension("itemPopulationContext", "both", "Expression"),
    _extension("extractAllocateId", "both", "string"),
    _extension("templateExtract", "both"),
    _extension("templateExtractContext", "Element", "Expression", "string"),
    _extension("templateExtractValue", "Element", "string"),
)
