"""What an item of a list is, and two of one list told apart, whatever is amended of them; ``keys`` names them by it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.ids import digest

Json = Any
Resource = dict[str, Json]
#: Where and when it is, who wrote it, in which state: not what it is.
_AROUND = frozenset(
    (
        *("id", "meta", "text", "identifier", "status", "subject", "patient", "encounter", "focus", "performer"),
        *("partOf", "author", "context", "hasMember", "reasonReference", "performedPeriod"),
        *("effectiveDateTime", "occurrenceDateTime", "performedDateTime"),
        *("_effectiveDateTime", "_occurrenceDateTime", "_performedDateTime"),
    )
)
#: What is amended: amounts, states, notes, the words of a code.
_AMENDED = frozenset(
    (
        *("note", "valueQuantity", "_valueQuantity", "quantity", "valueInteger", "valueRange", "reaction", "display"),
        *("clinicalStatus", "verificationStatus", "docStatus", "dataAbsentReason"),
        *("size", "creation", "_creation", "data"),
    )
)


def same_item(one: Resource, other: Resource) -> bool:
    """Whether two items of one list are the same by what they are, whatever was amended."""
    return item_digest(one, whole=False) == item_digest(other, whole=False)


def item_digests(items: list[tuple[str, Resource] | None]) -> list[str]:
    """Return a digest for each item of a list that tells it from the others, whatever their order."""
    short = [item and (item[0], item[1]["resourceType"], item_digest(item[1], whole=False)) for item in items]
    alone = Counter(short)
    seen: Counter[Any] = Counter()
    made = []
    for item, name in zip(items, short, strict=True):
        if item is None or name is None:
            made.append("")
            continue
        text = name[2] if alone[name] == 1 else item_digest(item[1], whole=True)
        seen[name[:2], text] += 1
        again = seen[name[:2], text]
        made.append(f"~{text}" if again == 1 else f"~{text}~{again}")
    return made


def item_digest(resource: Mapping[str, Json], *, whole: bool) -> str:
    """Return twelve digits that follow from what an item is, or from all that it says.

    Examples
    --------
    >>> one = {"resourceType": "SupplyDelivery", "suppliedItem": {"quantity": {"value": 2}, "itemReference": {}}}
    >>> other = {**one, "suppliedItem": {"quantity": {"value": 3}, "itemReference": {}}}
    >>> [item_digest(one, whole=whole) == item_digest(other, whole=whole) for whole in (False, True)]
    [True, False]
    """
    said = {key: value for key, value in resource.items() if key not in _AROUND and key != "resourceType"}
    named = {key: left for key, value in said.items() if key not in _AMENDED and (left := _without(value, _AMENDED))}
    # An Observation whose answer is an amount is named by nothing but that: its code is that of the whole list.
    names = bool(named.keys() - {"code", "category", "type"}) or resource["resourceType"] != "Observation"
    everything = {key: left for key, value in said.items() if (left := _without(value, frozenset()))}
    return digest(everything if whole or not names else named)


def _without(value: Json, away: frozenset[str]) -> Json:
    """Return a value without members of these names, without references, and without what is left empty by that."""
    if isinstance(value, dict):
        if "reference" in value or "valueReference" in value:
            return None
        parts = {key: _without(item, away) for key, item in value.items() if key not in away}
        kept = {key: item for key, item in parts.items() if item not in (None, {}, [])}
        # A component or an extension without its value says nothing.
        return (
            None if len(kept) < len(value) and kept.keys() <= {"code", "url"} and kept.keys() & value.keys() else kept
        )
    if isinstance(value, list):
        return [item for item in (_without(one, away) for one in value) if item not in (None, {}, [])]
    return value
