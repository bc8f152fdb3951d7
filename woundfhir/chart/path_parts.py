"""The parts of a path of the catalogue."""

from __future__ import annotations

from typing import NamedTuple

from woundfhir.catalogue import Concept, catalogue, per_catalogue


class PathParts(NamedTuple):
    """The parts of a path of the catalogue."""

    group: str
    key: str
    field: str
    concept: Concept
    in_list: bool


@per_catalogue()
def spot(path: str) -> PathParts:
    """Return the parts of ``group.key`` or ``group.key.field``.

    Examples
    --------
    >>> spot("care.cleansing.volume").field
    'volume'
    """
    try:
        concept = catalogue().concept(path)
    except KeyError:
        raise KeyError(f"the catalogue has no {path}") from None
    group, key, field = (*path.split("."), "")[:3]
    return PathParts(group, key, field, concept, bool(field) and catalogue().concept(f"{group}.{key}").many)
