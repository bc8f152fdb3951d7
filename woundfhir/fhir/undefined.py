"""What stood in XML and R4 does not define: kept word for word, and listed in the report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from woundfhir.fhir.fates import kind_of
from woundfhir.fhir.losses import Loss
from woundfhir.fhir.reasons import NO_TYPE
from woundfhir.record import History

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

UNDEFINED = "no element of FHIR R4"


def keep_undefined(history: History, found: Sequence[Unknown]) -> list[Loss]:
    """Keep what R4 does not define and XML cannot say, word for word, and return it as losses.

    It has no element to be put back into: on the way out it is carried along with the rest.
    """
    if found:
        history.keep({"from": one.path, "why": _why(one), "came": one.text} for one in found)
    return [Loss(one.path, one.path, _why(one), kind_of(_why(one))) for one in found]


def _why(one: Unknown) -> str:
    return NO_TYPE.words if one.resource else UNDEFINED
