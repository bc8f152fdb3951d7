"""Is a wound of others healed? Its words and its status may say it, and may contradict each other."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.read_context import ReadContext
from woundfhir.intake.absence import unaccented
from woundfhir.intake.words import words

Json = Any


def says_healed(texts: Iterable[str]) -> bool:
    """Whether words say that a wound is healed.

    Examples
    --------
    >>> [says_healed([text]) for text in ("Ulcer, healed", "Partly healed ulcer", "Non-healing ulcer", "Ulcère guéri")]
    [True, False, False, True]
    """
    found = (match for text in texts for match in words().healed.finditer(unaccented(text)))
    return any(match["unless"] is None for match in found)


def settle_state(source: ReadContext, resource: Resource, wound: dict[str, Json], texts: Iterable[str]) -> None:
    """Close a wound that its words call healed; where its status says that it is open, neither is chosen."""
    status = wound.get("status")
    if status not in (None, "open") or source.place(resource) is not None or not says_healed(texts):
        return
    if status is None:
        wound["status"] = "closed"
        return
    del wound["status"]
    source.leave(resource, "clinicalStatus", "its words say that it is healed; neither was chosen", "conflict")
