"""Do resources that came keep to R4? The check of structure on whatever a program or a file holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from woundfhir.errors import InputError
from woundfhir.intake import formats
from woundfhir.intake.faults import faults
from woundfhir.intake.given import Given, content_of
from woundfhir.r4.objects import from_object
from woundfhir.r4.structure import check_resource, check_resources
from woundfhir.r4.structure.issue import Issue, Issues
from woundfhir.record.values import plain

if TYPE_CHECKING:
    from fhir_core.fhirabstractmodel import FHIRAbstractModel

    from woundfhir.r4.xmltree import Unknown

Json = Any


def validate(
    given: Given | FHIRAbstractModel | Sequence[FHIRAbstractModel], *, show_values: bool = False
) -> list[Issue]:
    """Return where FHIR resources break the rules of R4 (4.0.1): structure, codes, invariants, references, documents.

    It knows no profiles and no terminology server; the HL7 validator does (``tests/conformance`` runs it on what this
    toolkit writes).

    Parameters
    ----------
    given
        A resource, a Bundle or a list of resources, decoded or as objects of ``fhir.resources``; or a FHIR file in
        JSON, XML or NDJSON, as path, text, bytes or open file. It is not changed.
    show_values
        Put offending values into ``found``. They may be a client's.

    Returns
    -------
    list of Issue
        Each with ``severity``, ``key``, ``path``, ``expected``, ``found`` and ``why``; empty where nothing is broken.

    Raises
    ------
    InputError
        For what is no FHIR: a plain record is checked by ``check``.

    Examples
    --------
    >>> patient = {"resourceType": "Patient", "birthDate": "09/03/1948"}
    >>> [(one.severity, one.key, one.path) for one in validate(patient) if one.severity == "error"]
    [('error', 'value', 'Patient.birthDate')]
    """
    undefined: list[Unknown] = []
    return issues(_resources(given, undefined), undefined, show_values=show_values)


def issues(came: Sequence[Json], undefined: Sequence[Unknown], *, show_values: bool = False) -> list[Issue]:
    """Return what resources break; ``undefined`` is what stood in XML and R4 does not define."""
    found = Issues()
    for item in undefined:
        found.undefined(item.path)
    check = check_resources(came, show_values=show_values) if len(came) != 1 else None
    broken = check_resource(came[0], show_values=show_values) if check is None else check
    return [*found.items, *broken, *faults(came, show_values=show_values)]


def _resources(given: Any, undefined: list[Unknown]) -> list[dict[str, Json]]:
    if isinstance(given, Mapping) or hasattr(given, "elements_sequence"):
        return [_resource(given)]
    if isinstance(given, Sequence) and not isinstance(given, str | bytes | bytearray | memoryview):
        return [_resource(one) for one in given]
    name, content = content_of(given)
    form = formats.recognised(content, name)
    if not form.media:
        raise InputError(name, "FHIR R4 in JSON, XML or NDJSON", "A plain record is checked by `check`")
    return form.resources(content, name, undefined)


def _resource(given: Any) -> dict[str, Json]:
    found = plain(given, "FHIR") if isinstance(given, Mapping) else from_object(given)
    if not isinstance(found, dict) or not isinstance(found.get("resourceType"), str):
        raise InputError("FHIR", "a FHIR resource with its resourceType", "A plain record is checked by `check`")
    return found
