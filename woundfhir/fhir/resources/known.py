"""Lists of what is known of the client, which can also say that there is none."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources.concepts import absent_concept, read_absent
from woundfhir.fhir.terms import has_code
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any
_DENIED = "says that there is none, or that it is not known, where another says one"


def write_known(
    out: WriteContext, key: str, found: Json, write: Callable[[WriteContext, str, Json, Json], None]
) -> None:
    """Write a list, ``{none: known}`` or an absent reason: one resource for each, by the same writer."""
    if isinstance(found, list):
        for index, item in enumerate(found, 1):
            write(out, f"{key}/{index}", item, None)
    elif isinstance(found, dict):
        code = out.terms.cc[f"no_known_{key}"] if "none" in found else absent_concept(out.terms, found)
        write(out, f"{key}/none", {}, code)


def read_known(source: ReadContext, patient: dict[str, Json], key: str, resource: Resource, item: Json) -> bool:
    """Put one item of a list into it, or that there is none, or why it is missing."""
    terms = source.terms
    code = resource.get("code")
    if has_code(code, terms.code_key(f"no_known_{key}")):
        item = {"none": "known"}
    elif (missing := read_absent(terms, code)) is not None:
        item = missing
    else:
        if item and isinstance(patient.get(key), dict):  # one that is there outweighs the word that there is none
            for other in source.none_known.get(key, ()):
                source.refuse(other, _DENIED, "conflict")
            del patient[key]
        return bool(item) and source.append(patient, key, item, resource, key)
    if key in patient:
        if isinstance(patient[key], list):
            source.refuse(resource, _DENIED, "conflict")
        return False
    patient[key] = item
    source.none_known.setdefault(key, []).append(resource)
    source.placed(resource, f"{key}/none")
    return True
