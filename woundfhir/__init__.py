"""Wound care notes to and from HL7 FHIR R4 (4.0.1), a documentation checklist, and a history to hand over.

The whole public interface stands here; each name is loaded when it is first used, so that importing the
package costs next to nothing. Every function stands behind ``border``: a wrong type is refused by name, and an error
carries no value of a client, nor does anything behind it.

Examples
--------
>>> import woundfhir
>>> woundfhir.__version__.count(".")
2
"""

from __future__ import annotations

from importlib import import_module
from inspect import isfunction
from typing import TYPE_CHECKING, Any

from woundfhir._version import __version__
from woundfhir.errors import InputError, WoundfhirError

if TYPE_CHECKING:
    from woundfhir.checklist import Finding, check
    from woundfhir.fhir import Losses, to_fhir, to_models
    from woundfhir.flat.arrow import to_arrow
    from woundfhir.flat.rows import to_rows
    from woundfhir.handover import bundle
    from woundfhir.handover.compare import compare
    from woundfhir.handover.merge import merge
    from woundfhir.handover.receive import receive
    from woundfhir.intake.given import loads, read, read_many
    from woundfhir.intake.resources import from_fhir
    from woundfhir.intake.result import ReadResult
    from woundfhir.intake.rows import from_rows
    from woundfhir.intake.validation import validate
    from woundfhir.output import dumps, write
    from woundfhir.r4.structure import Issue
    from woundfhir.record import History
    from woundfhir.report.coverage import Coverage, coverage
    from woundfhir.site import Site

_HOMES = {
    "History": "woundfhir.record",
    "read": "woundfhir.intake.given",
    "read_many": "woundfhir.intake.given",
    "ReadResult": "woundfhir.intake.result",
    "loads": "woundfhir.intake.given",
    "dumps": "woundfhir.output",
    "write": "woundfhir.output",
    "to_fhir": "woundfhir.fhir",
    "to_models": "woundfhir.fhir",
    "from_fhir": "woundfhir.intake.resources",
    "from_rows": "woundfhir.intake.rows",
    "to_rows": "woundfhir.flat.rows",
    "to_arrow": "woundfhir.flat.arrow",
    "Losses": "woundfhir.fhir",
    "validate": "woundfhir.intake.validation",
    "Issue": "woundfhir.r4.structure",
    "check": "woundfhir.checklist",
    "Finding": "woundfhir.checklist",
    "bundle": "woundfhir.handover",
    "compare": "woundfhir.handover.compare",
    "coverage": "woundfhir.report.coverage",
    "Coverage": "woundfhir.report.coverage",
    "merge": "woundfhir.handover.merge",
    "receive": "woundfhir.handover.receive",
    "Site": "woundfhir.site",
}

__all__ = [
    "Coverage",
    "Finding",
    "History",
    "InputError",
    "Issue",
    "Losses",
    "ReadResult",
    "Site",
    "WoundfhirError",
    "__version__",
    "bundle",
    "check",
    "compare",
    "coverage",
    "dumps",
    "from_fhir",
    "from_rows",
    "loads",
    "merge",
    "read",
    "read_many",
    "receive",
    "to_arrow",
    "to_fhir",
    "to_models",
    "to_rows",
    "validate",
    "write",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        from woundfhir.border import guarded

        found = getattr(import_module(_HOMES[name]), name)
        globals()[name] = found = guarded(found, name) if isfunction(found) else found
        return found
    raise AttributeError(f"module 'woundfhir' has no attribute {name!r}")


def __dir__() -> list[str]:
    """The public names, so that ``dir(woundfhir)``, ``help(woundfhir)`` and an editor show them before their use."""
    return sorted(__all__)
