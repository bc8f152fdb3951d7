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


def _part(name: str, kind: str) -> list[Json]:
    at = f"Extension.extension:{name}"
    return [
        {"id": at, "path": "Extension.extension", "sliceName": name, "type": [{"code": "Extension"}]},
        {"id": f"{at}.extension", "path": "Extension.extension.extension", "max": "0"},
        {"id": f"{at}.url", "path": "Extension.extension.url", "fixedUri": name},
        {"id": f"{at}.value[x]", "path": "Extension.extension.value[x]", "min": 1, "type": [{"code": kind}]},
    ]


def _extension(name: str, where: str, /, *types: str, **parts: str) -> dict[str, Json]:
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
                *(one for part, kind in parts.items() for one in _part(part, kind)),
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
    _extension("launchContext", "root", name="Coding", type="code"),
    _extension("initialExpression", "item", "Expression"),
    _extension("itemPopulationContext", "both", "Expression"),
    _extension("extractAllocateId", "both", "string"),
    _extension("templateExtract", "both", template="Reference", fullUrl="string", resourceId="string"),
    _extension("templateExtractContext", "Element", "Expression", "string"),
    _extension("templateExtractValue", "Element", "string"),
    {
        "resourceType": "CodeSystem",
        "url": "http://hl7.org/fhir/uv/sdc/CodeSystem/launchContext",
        "status": "active",
        "content": "fragment",
        "concept": [{"code": code, "display": code.title()} for code in ("patient", "encounter", "user")],
    },
)
