"""One resource that came in several versions: the newest is the fact, the earlier ones are kept and named as that.

Two resources are one where they have one id at one server (or in one Bundle); or, of a finding, one identifier and
the same code, time and place. Which is newer is said by meta.lastUpdated, meta.versionId and issued, and where these
are silent by the status (FHIR R4, Observation.status: amended and corrected follow final). Where nothing says it,
both stay what they are: two values that contradict each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from woundfhir.fhir.came import Came, Resource
from woundfhir.fhir.reasons import EARLIER, SUPERSEDED
from woundfhir.fhir.terms import terms
from woundfhir.intake.contested import contest
from woundfhir.r4.times import point
from woundfhir.record.canonical import as_json
from woundfhir.record.clients import is_placeholder

Json = Any
_FINDINGS = frozenset(("Observation", "Condition", "Procedure", "AllergyIntolerance", "DocumentReference"))
#: What must be the same where only an identifier says that two are one: an order number names a whole series.
_SAME = (
    *("code", "subject", "focus", "bodySite", "encounter", "effectiveDateTime", "effectivePeriod", "effectiveInstant"),
    *("performedDateTime", "performedPeriod", "onsetDateTime"),
)
#: Codes of statuses (FHIR R4, ObservationStatus and EventStatus), in the order in which they follow each other.
_RANKS = {
    **{"registered": 0, "preparation": 0, "preliminary": 1, "in-progress": 1, "final": 2, "completed": 2},
    **{"amended": 3, "corrected": 3, "cancelled": 4, "entered-in-error": 4},
}


def mark_superseded(came: Iterable[Came]) -> None:
    """Give what a newer version of it came of the reason that it is no fact of today."""
    by_id: dict[tuple[Json, ...], list[Came]] = {}
    by_number: dict[tuple[Json, ...], list[Came]] = {}
    for one in came:
        if one.reason is EARLIER:  # a history says so
            continue
        resource = one.original
        kind, where, named = resource.get("resourceType"), one.base or one.bundle, resource.get("identifier")
        if isinstance(kind, str) and isinstance(resource.get("id"), str):
            by_id.setdefault((where, kind, resource["id"]), []).append(one)
        for item in named if kind in _FINDINGS and isinstance(named, list) else ():
            number = (item.get("system"), item.get("value")) if isinstance(item, dict) else (None,)
            if all(isinstance(part, str) for part in number):
                by_number.setdefault((where, kind, *number), []).append(one)
    groups = [some for some in by_id.values() if len(some) > 1]
    one_thing = {id(some) for some in groups}
    for key, some in by_number.items():
        if len(some) > 1 and not is_placeholder(key[2]) and not is_placeholder(key[3]):
            groups += _alike(some)
    for some in groups:
        newest = [one for one in some if all(other is one or newer(one.original, other.original) for other in some)]
        for other in some if newest else ():
            if other is not newest[0]:
                other.reason = SUPERSEDED
        if not newest and id(some) in one_thing:
            contest(some)


def _alike(came: Iterable[Came]) -> Iterable[list[Came]]:
    """Part what has one number by all that must be the same in two versions of one finding; ours has its place."""
    groups: dict[str, list[Came]] = {}
    for one in came:
        if not terms().is_ours(one.original):
            groups.setdefault(as_json([one.original.get(key) for key in _SAME]), []).append(one)
    return groups.values()


def newer(one: Resource, other: Resource) -> bool:
    """Whether the first is certainly the newer one: the first stamp that both have and that differs decides.

    Examples
    --------
    >>> newer({"meta": {"versionId": "10"}}, {"meta": {"versionId": "9"}})
    True
    """
    for mine, theirs in zip(_stamps(one), _stamps(other), strict=True):
        if mine is not None and theirs is not None and mine != theirs:
            return bool(mine > theirs)
    return False


def _stamps(resource: Resource) -> Iterator[Any]:
    meta = resource.get("meta")
    meta = meta if isinstance(meta, dict) else {}
    version = meta.get("versionId")
    yield point(meta.get("lastUpdated"))
    yield int(version) if isinstance(version, str) and version.isascii() and version.isdigit() else None
    yield point(resource.get("issued"))
    yield None if terms().is_ours(resource) else _rank(resource)


def _rank(resource: Resource) -> int | None:
    verification = resource.get("verificationStatus")
    codes = [coding.get("code") for coding in (verification or {}).get("coding", ()) if isinstance(coding, dict)]
    if resource.get("resourceType") in ("Condition", "AllergyIntolerance"):
        return 4 if "entered-in-error" in codes else 3 if "refuted" in codes else 2  # it was asserted before
    return _RANKS.get(str(resource.get("status")))
