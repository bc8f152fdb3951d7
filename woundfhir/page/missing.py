"""What a note still lacks: at most seven lines, what may hurt first, each with the field where it is answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from woundfhir.catalogue import catalogue
from woundfhir.checklist import Finding, Verdict
from woundfhir.checklist.finding import IMPORTANCE
from woundfhir.page import bedside
from woundfhir.page.answers import SUPPLIES, concept_of
from woundfhir.record.positions import positions
from woundfhir.report.words import shortened

#: So many lines at most; what does not fit is counted.
LINES = 7


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what was found, and where it is answered.

    Attributes
    ----------
    wound
        Number of the wound among those of the note; None where it is about the visit, or not about this note.
    concept
        Path of the concept whose field answers it; empty where none does.
    field
        Name of the very field, where it is one of a group.
    """

    finding: Finding
    wound: int | None = None
    concept: str = ""
    field: str = ""

    @property
    def opens(self) -> str:
        """What is opened on the way there: the concept, or all fields of its group."""
        return f"{self.concept}+" if self.field != self.concept else self.concept

    @property
    def words(self) -> str:
        """The message; of what is to be added, what it is alone."""
        return shortened(self.finding.message) if self.finding.to_add else self.finding.message

    @property
    def safety(self) -> bool:
        """Whether it is a safety prompt."""
        return self.finding.severity == "caution"


@dataclass(frozen=True, slots=True)
class Missing:
    """What a note lacks.

    Attributes
    ----------
    lines
        At most ``LINES``.
    safety, look, add
        How many there are of each kind, shown or not.
    """

    lines: tuple[Line, ...]
    safety: int
    look: int
    add: int

    @property
    def number(self) -> int:
        """How many there are."""
        return self.safety + self.look + self.add

    @property
    def hidden(self) -> int:
        """How many are not shown."""
        return self.number - len(self.lines)


def missing(found: Verdict, wound: int | None = None) -> Missing:
    """Return a verdict in lines.

    Parameters
    ----------
    found
        On one note.
    wound
        Number of the wound that is on the screen: of equal weight its lines come first.
    """
    lines = [_line(one) for one in found.findings]
    order = {path: number for number, path in enumerate(_bedside())}
    lines.sort(
        key=lambda one: (
            IMPORTANCE.index(one.finding.severity),
            one.wound not in (wound, None),
            order.get(one.concept, len(order)),
        )
    )
    counts = {kind: sum(one.finding.severity == kind for one in lines) for kind in IMPORTANCE}
    add = counts["required"] + counts["recommended"]
    return Missing(tuple(lines[:LINES]), counts["caution"], counts["sense"], add)


def _bedside() -> Sequence[str]:
    return [path for group in bedside.groups() for path in group.paths]


def _line(one: Finding) -> Line:
    visit, wound, _, rest = positions(one.path)
    if visit is None:
        return Line(one)
    if wound is None and not rest.startswith("client."):
        rest = f"visit.{rest}" if rest else ""
    path = concept_of(rest) if "." in rest or rest.startswith(SUPPLIES) else ""
    known = path == SUPPLIES or path in _paths()
    return Line(one, wound, path, rest) if known else Line(one, wound)


def _paths() -> set[str]:
    return {concept.path for concept in catalogue().concepts()}
