"""Required codes: one rule over what R4 binds, for every ``code``, ``Coding`` and ``CodeableConcept``.

The lists come from HL7's definitions of R4, not from fhir.resources: its ``enum_values`` are cut short
(``Observation.status`` ends in "+").
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.r4.definitions import codes
from woundfhir.r4.structure.invariants.registry import coding, codings
from woundfhir.r4.structure.issue import Issues
from woundfhir.r4.structure.walk import Node

Json = Any
_MANY = 12


def check(node: Node, issues: Issues) -> None:
    """Add an issue for an element whose code is not of its required value set."""
    if node.element is None or not node.element.codes or node.value is None:
        return
    name = node.element.codes
    admitted = codes(name)
    if isinstance(node.value, str):
        if not any(node.value in words for words in admitted.values()):
            _add(issues, node, name, "another code", node.value)
        return
    said = codings(node.value) if node.type == "CodeableConcept" else {coding(node.value)}
    if any(code in admitted.get(str(system), ()) for system, code in said):
        return
    coded = any(code is not None for _, code in said)
    if coded or "extension" not in node.value:  # an extension may say why there is no code
        found = "a code of another system, or one not in its list" if coded else "no code"
        _add(issues, node, name, found, next((code for _, code in said if code is not None), None))


def _add(issues: Issues, node: Node, name: str, found: str, value: Json) -> None:
    issues.add("code-invalid", node.path, _listed(name), found, f"The value set {name} is required here", value=value)


def _listed(name: str) -> str:
    """Name the codes of a short list, and the list itself."""
    words = sorted(word for found in codes(name).values() for word in found)
    listed = ", ".join(words) if len(words) <= _MANY else f"a code of its {len(words)}"
    system = _system(codes(name))
    return f"{listed}{f' of {system}' if system else ''}"


def _system(admitted: Mapping[str, frozenset[str]]) -> str:
    return next(iter(admitted)) if len(admitted) == 1 else ""
