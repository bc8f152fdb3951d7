"""Resources in which an element holds another kind of value than R4 has there: they are set aside, others are read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from woundfhir.fhir.came import Came
from woundfhir.fhir.reasons import MISNAMED, MISSHAPEN
from woundfhir.r4.kinds import of_another_kind

Json = Any
#: What says of a Patient who it is, and whether it counts: without it nothing else of the Patient is read.
_WHO = frozenset(("identifier", "link", "active", "deceasedBoolean", "deceasedDateTime", "implicitRules"))


def set_aside(came: Iterable[Came]) -> None:
    """Give what does not have the kinds of values of R4 a reason; a Patient who is sure loses the element alone."""
    for one in came:
        one.view = _without_null(one.view)
        wrong = list(of_another_kind(one.original))
        if one.reason is MISNAMED or not wrong:
            continue
        if one.original["resourceType"] == "Patient" and _WHO.isdisjoint(wrong):
            one.view = {key: value for key, value in one.view.items() if key not in wrong}
            one.left += [(name, MISSHAPEN) for name in wrong]
            continue
        one.view = {key: one.view[key] for key in ("resourceType", "id") if isinstance(one.view.get(key), str)}
        one.reason = one.reason or MISSHAPEN


def _without_null(value: Json) -> Json:
    """Return a value without members that are null: some programs write it where there is nothing."""
    if isinstance(value, dict):
        return {key: _without_null(item) for key, item in value.items() if item is not None}
    return [_without_null(item) for item in value] if isinstance(value, list) else value
