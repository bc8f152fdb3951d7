"""One resource that came in several versions, of which none is the newest: what they disagree on is a conflict.

They are one thing: what names it finds it, and no wound, visit or person more is made. What only one of them says
stands; of what they say differently, neither is chosen and all is kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Any

from woundfhir.fhir.came import Came, Resource
from woundfhir.fhir.keys import in_record_form
from woundfhir.fhir.leaves import ASIDE
from woundfhir.fhir.reasons import Reason
from woundfhir.fhir.references import address, references, rename
from woundfhir.fhir.resources.patient import client_of
from woundfhir.fhir.terms import terms
from woundfhir.record.clients import evidence

Json = Any
DIFFERS = "came twice under one id, with another value, and neither is newer; neither was chosen"
_CONFLICT = Reason("conflict", DIFFERS)
_AGAIN = Reason("kept", "came twice under one id, and names the same in another way; read once")
#: Read each: wounds and visits are put together answer by answer, and no allergy is ever taken away.
_READ_EACH = frozenset(("Condition", "Encounter", "AllergyIntolerance"))
#: What may differ where two findings are still of one place: the record says there that two values came.
_VALUES = frozenset(("component", "dataAbsentReason", "interpretation", "note", "issued", "method", "referenceRange"))


def contest(versions: list[Came]) -> None:
    """Make one of versions of one resource that differ: the first is what names mean, the others stand beside it."""
    some = [one for one in versions if one.reason is None]
    kind = versions[0].original.get("resourceType")
    if len(some) < 2 or (kind == "Patient" and _two_persons(some)):
        return
    first, others = some[0], some[1:]
    differing = sorted(_differing([one.original for one in some]))
    reads_each = kind in _READ_EACH
    if reads_each:
        for one in some:
            one.left += [(key, _CONFLICT) for key in differing]
    elif not differing or kind != "Observation":
        first.left += [(key, _CONFLICT) for key in differing if kind != "Patient" or not _listed(some, key)]
        first.view = in_record_form(_in_common(some, kind == "Patient"))
    elif not all(key in _VALUES or key.startswith("value") for key in differing):
        first.reason = _CONFLICT
    else:
        reads_each = True
    for one in others:
        one.same_as = first
        if not reads_each:
            one.reason = _CONFLICT if differing else _AGAIN


def _two_persons(some: list[Came]) -> bool:
    found = [client_of(terms(), one.view) for one in some]
    return any(evidence(one, other).contradict for one, other in combinations(found, 2))


def _differing(some: list[Resource]) -> Iterator[str]:
    """Yield the elements that two have, and not alike."""
    for key in {key for one in some for key in one} - ASIDE:
        found = [_meant(one[key]) for one in some if key in one]
        if any(value != found[0] for value in found):
            yield key


def _meant(value: Json) -> Json:
    """Return a value with its references as type and id: an address or a version more means the same here."""
    return rename(value, {one: "/".join(address(one).rsplit("/", 2)[-2:]) for one in references(value)})


def _listed(some: list[Came], key: str) -> bool:
    return all(isinstance(one.original.get(key, []), list) for one in some)


def _in_common(some: list[Came], lists: bool) -> Resource:
    """Return what no version contradicts; with ``lists``, all items of lists."""
    wholes = [one.original for one in some]
    away = set(_differing(wholes))
    made: Resource = {}
    for one in wholes:
        for key, value in one.items():
            if key in away and lists and _listed(some, key):
                made[key] = [*made.get(key, ()), *(item for item in value if item not in made.get(key, ()))]
            elif key not in away:
                made.setdefault(key, value)
    return made
