"""What became of a record that was sent, or would become of it: in words and in numbers."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from woundfhir.server.planning import Step


@dataclass
class Sent:
    """What became of a record.

    Attributes
    ----------
    outcomes
        Key in words, and what became of it: "created", "updated to version 2", "unchanged", "refused: ...".
    notices
        What a person should know besides.
    """

    outcomes: list[tuple[str, str]] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    @property
    def counts(self) -> Counter[str]:
        """How many of each outcome: the words before a colon or a version."""
        return Counter(words.split(":")[0].split(" to version")[0] for _, words in self.outcomes)

    @property
    def asks(self) -> bool:
        """Whether a person must look."""
        return bool(self.notices) or any(words.startswith("refused") for _, words in self.outcomes)


def became(step: Step) -> str:
    """Return what became of one resource."""
    match step.action:
        case "create":
            return "created"
        case "update":
            return f"updated to version {step.version}" if step.version else "updated"
        case "withdraw":
            return "withdrawn: it left the record, and is marked as entered in error there"
        case "unchanged":
            return "unchanged"
        case _:
            return f"{step.action}: {step.why}"


def would(step: Step) -> str:
    """Return what would become of one resource."""
    plain = {"create": "to create", "update": "to update", "withdraw": "to mark as entered in error"}
    return plain.get(step.action) or became(step)
