"""What the service is: a CapabilityStatement, an OpenAPI document, and the discovery of CDS Hooks."""

from __future__ import annotations

from functools import cache
from typing import Any

from woundfhir._version import __version__
from woundfhir.service.hooks import SERVICES, discovery
from woundfhir.service.media import OUTCOMES, READ, WRITTEN

Json = Any
#: When what follows was last changed.
DATE = "2026-11-26"
_ABOUT = (
    "Judges wound care notes by a documentation checklist and converts them to and from FHIR R4. Nothing "
    "that is sent is stored. A documentation aid: it does not diagnose and does not recommend treatment."
)
_VALIDATE = (
    "Judges the wound notes in the body by the documentation checklist, and what came as FHIR by the structure of R4. "
    "One issue a finding: severity, code, details, expression, diagnostics with what to write. HTTP 200 whatever is "
    "found. The header Woundfhir-Report has the counts."
)
_CONVERT = (
    "Writes the body (Content-Type) in another format (Accept), nothing lost: what has no place is kept. The header "
    "Woundfhir-Report says how many values were understood; Woundfhir-Asks is yes where a person must look. With "
    "Prefer: return=OperationOutcome the answer says what became of each value instead."
)


@cache
def capability_statement() -> dict[str, Json]:
    """Return what the service can do, as R4 says it (http://hl7.org/fhir/R4/capabilitystatement.html)."""
    return {
        "resourceType": "CapabilityStatement",
        "status": "active",
        "date": DATE,
        "kind": "instance",
        "software": {"name": "woundfhir", "version": __version__},
        "implementation": {"description": _ABOUT},
        "fhirVersion": "4.0.1",
        "format": ["application/fhir+json", "application/fhir+xml", "application/fhir+ndjson"],
        "rest": [
            {
                "mode": "server",
                "documentation": _ABOUT,
                "resource": [{"type": "Bundle", "operation": [_operation("validate", _VALIDATE)]}],
                "operation": [_operation("validate", _VALIDATE), _operation("convert", _CONVERT)],
            }
        ],
    }


def _operation(name: str, documentation: str) -> Json:
    canonical = f"http://hl7.org/fhir/OperationDefinition/Resource-{name}"
    return {"name": name, "definition": canonical, "documentation": documentation}


# -- OpenAPI ---------------------------------------------------------------------------------------

_OUTCOME = {
    "type": "object",
    "required": ["resourceType", "issue"],
    "properties": {
        "resourceType": {"const": "OperationOutcome"},
        "issue": {
            "type": "array",
            "minItems": 1,
            "items": {
                "type": "object",
                "required": ["severity", "code"],
                "properties": {
                    "severity": {"enum": ["fatal", "error", "warning", "information"]},
                    "code": {"type": "string"},
                    "details": {"type": "object", "properties": {"text": {"type": "string"}}},
                    "diagnostics": {"type": "string"},
                    "expression": {"type": "array", "items": {"type": "string"}},
                },
            },
        },
    },
}
_SERVICE = {
    "type": "object",
    "required": ["hook", "id", "description"],
    "additionalProperties": False,
    "properties": {
        "hook": {"type": "string"},
        "id": {"type": "string"},
        "title": {"type": "string"},
        "description": {"type": "string"},
        "prefetch": {"type": "object", "additionalProperties": {"type": "string"}},
        "usageRequirements": {"type": "string"},
    },
}
_CALL = {
    "type": "object",
    "required": ["hook", "hookInstance", "context"],
    "properties": {
        "hook": {"enum": list(SERVICES)},
        "hookInstance": {"type": "string", "format": "uuid"},
        "fhirServer": {"type": "string", "format": "uri"},
        "context": {
            "type": "object",
            "required": ["userId", "patientId"],
            "properties": {name: {"type": "string"} for name in ("userId", "patientId", "encounterId")},
        },
        "prefetch": {"type": "object"},
    },
}
_CARD = {
    "type": "object",
    "required": ["summary", "indicator", "source"],
    "additionalProperties": False,
    "properties": {
        "uuid": {"type": "string", "format": "uuid"},
        "summary": {"type": "string", "minLength": 1, "maxLength": 139},
        "indicator": {"enum": ["info", "warning", "critical"]},
        "detail": {"type": "string"},
        "source": {
            "type": "object",
            "required": ["label"],
            "additionalProperties": False,
            "properties": {"label": {"type": "string", "minLength": 1}},
        },
    },
}
_SCHEMAS = {
    "OperationOutcome": _OUTCOME,
    "Services": {
        "type": "object",
        "required": ["services"],
        "properties": {"services": {"type": "array", "items": _SERVICE}},
    },
    "Call": _CALL,
    "Cards": {
        "type": "object",
        "required": ["cards"],
        "additionalProperties": False,
        "properties": {"cards": {"type": "array", "items": _CARD}},
    },
}
#: Status -> what it means.
_ERRORS = {
    400: "The body or a parameter cannot be used",
    401: "The token is missing or wrong",
    406: "No media type of Accept is written",
    412: "The prefetch lacks what is needed",
    413: "The body is too large",
    415: "The Content-Type is not read",
    422: "The format that is asked for holds one client, and several came",
    500: "A fault of ours",
    503: "Too many requests at once (Retry-After), or one that took too long",
}


def _schema(name: str) -> Json:
    return {"$ref": f"#/components/schemas/{name}"}


def _answers(good: Json, *errors: int) -> Json:
    found = {"200": good}
    for status in errors:
        content = {OUTCOMES[0]: {"schema": _schema("OperationOutcome")}}
        found[str(status)] = {"description": _ERRORS[status], "content": content}
    return found


def _json(description: str, name: str, media: str = "application/json") -> Json:
    return {"description": description, "content": {media: {"schema": _schema(name)}}}


def _query(name: str, words: str, schema: Json) -> Json:
    return {"name": name, "in": "query", "description": words, "schema": schema}


def _any(media: dict[str, Json]) -> Json:
    return {kind: {"schema": {}} for kind in media}


_REPORTS = {
    "Woundfhir-Report": {"description": "Counts in words", "schema": {"type": "string"}},
    "Woundfhir-Asks": {
        "description": "Whether something came that is no fact, or contradicts",
        "schema": {"enum": ["yes", "no"]},
    },
}


def _validate(name: str) -> Json:
    return {
        "post": {
            "operationId": name,
            "summary": "Judge wound notes by the documentation checklist",
            "description": _VALIDATE,
            "parameters": [
                _query("policy", "The numbers to judge by", {"enum": ["ontario", "international"]}),
                _query("checklist", "Which checklist", {"enum": ["standard", "transfer"]}),
                _query("today", "The day to judge on", {"type": "string", "format": "date"}),
                _query("visit", "Only the newest note", {"enum": ["last"]}),
            ],
            "requestBody": {"required": True, "content": _any(READ)},
            "responses": _answers(
                {**_json("What was found", "OperationOutcome", OUTCOMES[0]), "headers": _REPORTS},
                *(400, 401, 406, 413, 415, 500, 503),
            ),
        }
    }


def _hook(name: str) -> Json:
    body = {"required": True, "content": {"application/json": {"schema": _schema("Call")}}}
    return {
        "post": {
            "operationId": name,
            "summary": SERVICES[name].title,
            "description": SERVICES[name].description,
            "requestBody": body,
            "responses": _answers(_json("Cards", "Cards"), 400, 401, 412, 413, 415, 500, 503),
        }
    }


def _get(name: str, summary: str, good: Json) -> Json:
    return {"get": {"operationId": name, "summary": summary, "security": [{}], "responses": {"200": good}}}


@cache
def openapi() -> dict[str, Json]:
    """Return the description of the service in OpenAPI 3.1."""
    schema = {"schema": {"type": "object"}}
    plain = {"description": "This OpenAPI document", "content": {"application/json": schema}}
    fhir = {"description": "A CapabilityStatement", "content": {OUTCOMES[0]: schema}}
    convert = {
        "operationId": "convert",
        "summary": "Convert between the plain record and FHIR R4",
        "description": _CONVERT,
        "parameters": [
            {
                "name": "Prefer",
                "in": "header",
                "description": "return=OperationOutcome: what became of each value",
                "schema": {"type": "string"},
            }
        ],
        "requestBody": {"required": True, "content": _any(READ)},
        "responses": _answers(
            {"description": "The record, or FHIR", "content": _any(WRITTEN), "headers": _REPORTS},
            *(400, 401, 406, 413, 415, 422, 500, 503),
        ),
    }
    return {
        "openapi": "3.1.0",
        "info": {"title": "woundfhir serve", "version": __version__, "description": _ABOUT},
        "servers": [{"url": "/"}],
        "security": [{"bearer": []}, {}],
        "paths": {
            "/metadata": _get("metadata", "The CapabilityStatement", fhir),
            "/openapi.json": _get("openapi", "This document", plain),
            "/$validate": _validate("validate"),
            "/Bundle/$validate": _validate("validateBundle"),
            "/$convert": {"post": convert},
            "/cds-services": _get("discovery", "What CDS Hooks are offered", _json("Services", "Services")),
            **{f"/cds-services/{name}": _hook(name) for name in SERVICES},
        },
        "components": {"schemas": _SCHEMAS, "securitySchemes": {"bearer": {"type": "http", "scheme": "bearer"}}},
    }


__all__ = ["capability_statement", "discovery", "openapi"]
