"""What of LOINC, SNOMED CT and US Core the engine may know: the part that the catalogue names, as CodeSystem fragments.

No such code system may be shipped or fetched here. With a fragment the engine warns of every code that is not in
it, so that a code which nobody put into the catalogue with a source does not pass.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue import Catalogue

Json = Any
_EXTERNAL = ("loinc", "sct", "us-careplan-category")


def fragments(known: Catalogue) -> list[dict[str, Json]]:
    """Return one CodeSystem with ``content: fragment`` for each external code system, codes in order."""
    return [_fragment(name, known.systems[name], known.emitted()) for name in _EXTERNAL]


def _fragment(name: str, system: str, codes: Mapping[tuple[str, str], str | None]) -> dict[str, Json]:
    found = sorted((code, display) for (where, code), display in codes.items() if where == system)
    return {
        "resourceType": "CodeSystem",
        "url": system,
        "name": f"{name}_fragment",
        "status": "active",
        "content": "fragment",
        "caseSensitive": True,
        "concept": [{"code": code, "display": display} if display else {"code": code} for code, display in found],
    }
