"""What a map says of one code: which concept, answer or code of ours it is read as, and how well that fits."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from woundfhir.catalogue import PATHS, Coding, catalogue

#: HL7 FHIR R4, ValueSet concept-map-equivalence: how the target relates to the source.
Equivalence = Literal[
    "equal",
    "equivalent",
    "wider",
    "subsumes",
    "narrower",
    "specializes",
    "inexact",
    "relatedto",
    "unmatched",
    "disjoint",
]
SILENT = frozenset(("equal", "equivalent"))
NEVER = frozenset(("unmatched", "disjoint"))
#: What is lost, or added, where the target does not mean the same.
LOST = {
    "wider": "its code says more than the answer that the record has for it",
    "subsumes": "its code says more than the answer that the record has for it",
    "narrower": "its code says less than the answer that the record has for it",
    "specializes": "its code says less than the answer that the record has for it",
    "inexact": "its code says something near the answer that the record has for it",
    "relatedto": "its code says something near the answer that the record has for it",
}
#: What a target names: a concept of the catalogue, an answer of one of its lists, an entry of its table of codes.
Kind = Literal["concept", "answer", "code"]


@dataclass(frozen=True, slots=True)
class Target:
    """What a code is read as.

    Attributes
    ----------
    kind
        ``concept``, ``answer`` or ``code``.
    name
        ``assessment.length``, ``wound_kind/pressure injury``, or a key of the catalogue's table of codes.
    """

    kind: Kind
    name: str

    @property
    def id(self) -> str:
        """As a map's file writes it.

        Examples
        --------
        >>> Target("concept", "assessment.length").id
        'concept:assessment.length'
        """
        return f"{self.kind}:{self.name}"

    @property
    def slot(self) -> str:
        """What a code can name once: one concept or code of ours, and one answer of each list."""
        return self.name.partition("/")[0] if self.kind == "answer" else ""

    @property
    def coding(self) -> Coding:
        """By which readers know it, and nothing else: its path, or the code of ours."""
        return catalogue().codes[self.name] if self.kind == "code" else Coding(PATHS, self.name)

    @property
    def standard(self) -> Coding:
        """The code that is written for it, for other systems; its path where it has none."""
        known = catalogue()
        if self.kind == "code":
            return known.codes[self.name]
        codings = known.concept(self.name).codings if self.kind == "concept" else known.word(self.name).codings
        return codings[0] if codings else Coding(PATHS, self.name)

    @property
    def label(self) -> str:
        """Its name for people."""
        known = catalogue()
        if self.kind == "concept":
            return known.concept(self.name).label
        return self.name.partition("/")[2] if self.kind == "answer" else known.codes[self.name].display or self.name


@dataclass(frozen=True, slots=True)
class Mapping:
    """One line of a map.

    Attributes
    ----------
    system, code, label
        The code that comes in, and its name.
    equivalence
        How the target relates to it (R4's word).
    target
        What it is read as; None where it is not to be read.
    comment, source
        What is lost; where the meaning was found.
    file, line
        Where it stands.
    """

    system: str
    code: str
    equivalence: Equivalence
    target: Target | None
    label: str = ""
    comment: str = ""
    source: str = ""
    file: str = ""
    line: int = 0

    @property
    def key(self) -> tuple[str, str]:
        """System and code."""
        return self.system, self.code

    @property
    def read(self) -> bool:
        """Whether it is read at all."""
        return self.target is not None and self.equivalence not in NEVER

    @property
    def where(self) -> str:
        """The file and the line."""
        return f"{self.file}, line {self.line}" if self.line else self.file

    @property
    def loss(self) -> str | None:
        """What a report says of it; None where nothing is lost."""
        words = LOST.get(self.equivalence)
        return None if words is None else f"{words} ({self.equivalence}; {self.where})"


@dataclass(frozen=True, slots=True)
class CodeMap:
    """One map of codes: a file.

    Attributes
    ----------
    name, title
        The file's name, and what it is about.
    mappings
        Its lines.
    """

    name: str
    title: str
    mappings: tuple[Mapping, ...]
    prefixes: dict[str, str] = field(default_factory=dict)
