"""The steps of a dressing change, by the catalogue."""

from __future__ import annotations

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.chart.asking import Asked


def changed(entry: Asked) -> bool:
    """Whether something was taken off a wound or put on it: a step of the dressing change."""
    return any(entry.has(path) for path in _steps())


@per_catalogue()
def _steps() -> tuple[str, ...]:
    return tuple(concept.path for concept in catalogue().section("dressing", "care") if concept.is_group)
