"""The view of the client."""

from __future__ import annotations

from typing import Any

from woundfhir.catalogue.illness import names
from woundfhir.chart.allergies import substances_named
from woundfhir.chart.asking import Answers, is_absent
from woundfhir.chart.conditional import Conditional

Json = Any

#: Statuses of an allergy that was never one, and of one that no longer holds.
IN_ERROR = frozenset(("entered in error", "entered-in-error"))
INACTIVE = IN_ERROR | {"inactive", "resolved", "refuted"}


class PatientView(Conditional):
    """The client."""

    scope = "patient"

    def __init__(self, record: Any, data: Answers) -> None:
        super().__init__()
        self.record = record
        self.data = data

    def path(self, path: str = "") -> str:
        """Return the place in the record."""
        return f"patient.{path}" if path else "patient"

    def given(self, key: str) -> Json:
        """Return what stands under a key of the client: name, born, identifiers, allergies, conditions, contact ..."""
        return self.data.get(key)

    @property
    def allergies(self) -> list[dict[str, str]]:
        """Allergies as written; empty where none is known, and where nothing is written."""
        found = self.data.get("allergies")
        return found if type(found) is list else []

    def says_absent(self, key: str) -> bool:
        """Whether ``allergies`` or ``conditions`` carries a reason instead of a list."""
        return is_absent(self.data.get(key))

    @property
    def active_allergies(self) -> list[tuple[str, str]]:
        """Path and name of each allergy that holds."""
        return [
            (f"patient.allergies[{index}]", one.get("to", ""))
            for index, one in enumerate(self.allergies)
            if one.get("status", "").casefold() not in INACTIVE
        ]

    def allergic_to(self, substance: str) -> list[str]:
        """Return the paths of active allergies that name a substance (a key of the catalogue's substances.toml)."""
        return [path for path, name in self.active_allergies if substance in substances_named(name)]

    def has_condition(self, *illnesses: str) -> list[str]:
        """Return the paths of conditions that name an illness (keys of the catalogue's illnesses.toml)."""
        found = self.data.get("conditions")
        texts = found if type(found) is list else []
        return [f"patient.conditions[{i}]" for i, one in enumerate(texts) if any(names(w, one) for w in illnesses)]
