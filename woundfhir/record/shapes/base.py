"""What every shape of answer does in the record. Its other half, for FHIR, stands in ``woundfhir.fhir.shapes``."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any, ClassVar, NamedTuple

from woundfhir.catalogue import Concept
from woundfhir.record import spoken
from woundfhir.record.leaf import absent, text

Json = Any
Unknown = Callable[[str, Json], None]
LEAF: Json = {"$ref": "#/$defs/leaf"}
MISSING: Json = {"$ref": "#/$defs/absent"}


class Amount(NamedTuple):
    """One number inside an answer: the word that it belongs to, as written, and what is wrong with it, or None."""

    word: str
    text: str
    fault: str | None


class Shape(ABC):
    """One shape of answer: canonical form, JSON Schema, judgement and words, side by side.

    A value is never None and never ``{absent: reason}`` here: both are the same for every shape.

    Attributes
    ----------
    name
        As the catalogue writes it.
    free
        Whether any words are a good answer, a reason among them.
    """

    name: ClassVar[str]
    free: ClassVar[bool] = False

    @abstractmethod
    def canonical(self, concept: Concept, value: Json, zone: str | None, unknown: Unknown) -> Json:
        """Return the canonical form, None for nothing written; see ``woundfhir.record.answers.canonical``."""

    @abstractmethod
    def structures(self, concept: Concept) -> list[Json]:
        """Return the JSON Schemas of what an answer may be beside a scalar and an absent reason."""

    @abstractmethod
    def judge(self, concept: Concept, text: str) -> str | None:
        """Return what is wrong with one text that is no word of the concept's list, or None.

        The faults are those that the checklist names: ``number``, ``bare``, ``unit``, ``range``, ``whole``, ``date``,
        ``offset``, ``clock``, ``flag``.
        """

    @abstractmethod
    def words(self, concept: Concept, value: Json) -> str:
        """Return an answer as a reader sees it."""

    def labelled(self, concept: Concept, value: Json, *, bare: bool = False) -> str:
        """Return the answer to one field in the form that its entry gives, else after its label.

        ``bare`` leaves the label out: that of a group's main field says nothing new.
        """
        words, form = in_words(self, concept, value), concept.page.short
        if "{}" in form and absent(value) is None:
            one, _, many = form.partition("|")
            return (many if many and not spoken.is_one(words) else one).replace("{}", words)
        return words if bare else spoken.labelled(in_sentence(concept.label), words)

    @abstractmethod
    def examples(self, concept: Concept) -> list[str]:
        """Return answers in their canonical form, for the schema and for who asks how to write it."""

    def amounts(self, concept: Concept, value: Json) -> Iterator[Amount]:
        """Yield the numbers inside an answer that is neither one text nor a list of texts."""
        return iter(())

    def named(self, concept: Concept, value: Json) -> Iterator[tuple[Concept, str]]:
        """Yield the words of an answer, each with the concept whose list it belongs to."""
        if isinstance(value, str):
            yield concept, value

    def denied(self, concept: Concept, item: Mapping[str, Json]) -> bool:
        """Whether an item of a group says in words that there is none; see ``Group.denied``."""
        return False

    def says_none(self, concept: Concept, word: str) -> bool:
        """Whether words of a group's main field say that there is none; see ``Group.says_none``."""
        return False

    def unit(self, concept: Concept) -> str | None:
        """Return the unit that a number of this answer is written in, by its UCUM code."""
        return concept.unit

    def units(self, concept: Concept) -> tuple[str, ...]:
        """Return the UCUM codes of all units that fit."""
        return concept.units

    def limits(self, concept: Concept) -> tuple[str | None, str | None]:
        """Return the smallest and the largest number that fit, each None where there is no limit."""
        return concept.low, concept.high


class Leaf(Shape):
    """A shape whose answer is one text."""

    def canonical(self, concept: Concept, value: Json, zone: str | None, unknown: Unknown) -> str | None:
        if value.__class__ is str and len(value) < _SHORT:
            return _tidied(self, value, zone)
        found = text(value)
        return self.tidy(found, zone) if found else None

    def tidy(self, written: str, zone: str | None) -> str:
        """Return the text in its canonical spelling; other words come back as they are."""
        return written

    def structures(self, concept: Concept) -> list[Json]:
        return []

    def judge(self, concept: Concept, text: str) -> str | None:
        return None

    def words(self, concept: Concept, value: Json) -> str:
        return str(value)

    def examples(self, concept: Concept) -> list[str]:
        return [word.word for word in concept.answers.words] if concept.answers else []


#: Texts below this length, in characters, come again and again: numbers and words of a list.
_SHORT = 48


@lru_cache(maxsize=16384)
def _tidied(shape: Leaf, value: str, zone: str | None) -> str | None:
    found = text(value)
    return shape.tidy(found, zone) if found else None


def no_keys(path: str, value: Json) -> None:
    """Stand for the callback of unknown keys below a text, which has none."""


def canonical_in(shape: Shape, concept: Concept, value: Json, zone: str | None, unknown: Unknown) -> Json:
    """Return the canonical form of any answer, an absent reason too; None for nothing written."""
    if value.__class__ is not str:
        missing = absent(value)
        if value is None or missing is not None:
            return missing or None
    return shape.canonical(concept, value, zone, unknown)


def schema_in(shape: Shape, concept: Concept) -> Json:
    """Return the JSON Schema (draft 2020-12) of any answer; annotations carry the question and the words."""
    out: Json = {"title": concept.label, "description": concept.question}
    out["anyOf"] = [LEAF, MISSING, *shape.structures(concept)]
    if examples := shape.examples(concept):
        out["examples"] = examples
    return out


def in_sentence(label: str) -> str:
    """Return a label for the middle of a sentence; abbreviations keep their letters.

    Examples
    --------
    >>> in_sentence("Pain at rest"), in_sentence("PUSH total")
    ('pain at rest', 'PUSH total')
    """
    return label[:1].lower() + label[1:] if label[1:2].islower() or label[1:2] in ("", " ", "'") else label


def in_words(shape: Shape, concept: Concept, value: Json) -> str:
    """Return any answer as a reader sees it, an absent reason too."""
    if (missing := absent(value)) is not None:
        return spoken.absent_words(str(missing.get("absent", "")))
    return shape.words(concept, value)
