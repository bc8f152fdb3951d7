"""A runner of ViewDefinitions from outside: sqlonfhir (PyPI, Apache-2.0), on the FHIRPath library fhirpathpy.

Held against the shape tests of HL7's SQL on FHIR (FHIR/sql-on-fhir-v2) on 2026-11-27, outside this repository: 104 of
144 pass, all of them of the functions that our views use (where, exists, empty, first, ofType, extension, reference
keys, forEach, unionAll, select, constants); it has no repeat, %rowIndex, join and boundaries, which we do not use.
A second runner (fhir4ds-v2 0.0.17, on DuckDB; AGPL, and so no part of our tests) gave the same rows of all tables for
the story of examples/leg-and-sacrum on the same day; it had found a number with an exponent and types that FHIR has
not.

Two of its faults are mended here, each in one place: a reference that is not there has no key (the standard: empty in,
empty out), and an element that it iterates over keeps its type, so that ``value`` is ``valueQuantity`` there too.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest

sqlonfhir = pytest.importorskip("sqlonfhir")
from fhirpathpy.engine.nodes import ResourceNode  # noqa: E402 (the library is an extra of the tests)
from sqlonfhir.sqlonfhir import ViewDefinitionEvaluator  # noqa: E402

Json = Any
_key, _eval = ViewDefinitionEvaluator.get_reference_key, ViewDefinitionEvaluator.eval_fhirpath


def _typed(self: Any, element: Json, path: str) -> Json:
    if isinstance(element, dict) and "resourceType" not in element and "code" in element and "value" not in element:
        element = ResourceNode.create_node(element, "Observation.component")
    return _eval(self, element, path)


def rows_of(view: Json, resources: list[Json], patch: pytest.MonkeyPatch) -> list[Json]:
    """Return the rows of a ViewDefinition."""
    patch.setattr(
        ViewDefinitionEvaluator,
        "get_reference_key",
        staticmethod(lambda ctx, kind=None: _key(ctx, kind) if ctx else []),
    )
    patch.setattr(ViewDefinitionEvaluator, "eval_fhirpath", _typed)
    found: list[Json] = sqlonfhir.evaluate(resources, copy.deepcopy(view))
    return found
