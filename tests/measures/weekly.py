"""Measurements a week apart."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from woundfhir.measures import Measured

DAY = date(2026, 3, 1)


def at(days: int) -> str:
    return (DAY + timedelta(days=days)).isoformat()


def weekly(*lengths: str, **more: Any) -> list[Measured]:
    return [Measured(at(7 * i), f"{length} cm", "2.0 cm", depth="0.5 cm", **more) for i, length in enumerate(lengths)]
