"""The forms that the catalogue's TOML is read into: coding, word, answer list, concept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Literal, get_args

from woundfhir.catalogue.base import BASE, PATHS
from woundfhir.catalogue.coding import Coding, KnownAs, written
from woundfhir.catalogue.nothing import names_nothing, without_ending
from woundfhir.catalogue.site import Labels
from woundfhir.catalogue.spelling import same_form
from woundfhir.catalogue.translation import without_accents
from woundfhir.errors import WoundfhirError

RESOURCES = frozenset(["observation", "component", "condition", "procedure", "supply", "plan", "encounter", "photo"])
ROLES = ("required", "expected", "optional")


class CatalogueError(WoundfhirError):
    """The catalogue's own files do not hold together."""


@dataclass(frozen=True, slots=True)
class Word:
    """One answer of a list: the word a nurse says, its synonyms, its codes and the facts that rules use.

    ``substances`` are those that a product carries (keys of substances.toml); None where it is no product.
    """

    word: str
    also: tuple[str, ...]
    codings: tuple[Coding, ...]
    tags: frozenset[str]
    source: str
    recheck: bool = False
    note: str = ""
    substances: frozenset[str] | None = None
    key: str = ""  # its list and itself: tissue/slough
    labels: Labels = ()
    known_as: tuple[KnownAs, ...] = ()
    forms: tuple[str, ...] = ()  # its words in other languages than English
    spoken: str = ""  # its word in the language of the catalogue, where that is not English

    @property
    def shown(self) -> str:
        """Its word in the language of the catalogue."""
        return self.spoken or self.word

    @property
    def written(self) -> tuple[Coding, ...]:
        """Its codes, and those of others beside them, in the order of writing."""
        return written(self.codings, self.known_as, {})


@dataclass(frozen=True, slots=True, eq=False)
class AnswerList:
    """A list of answers. Other words are always kept; ``open`` says that they are expected."""

    key: str
    title: str
    open: bool
    source: str
    words: tuple[Word, ...]
    by_word: Mapping[str, Word]
    by_code: Mapping[tuple[str, str], Word]
    other: str = ""  # the hazard that a word stands for which the list does not know
    substances: str = ""  # of a list of products: who says what each of them carries
    base: str = BASE  # of its value set

    def find(self, word: object) -> Word | None:
        """Return the entry for a word or one of its synonyms, however it is spelt (``same_form``).

        One word that says "none" (N, neg) is the list's "none", where it has one.
        """
        if not isinstance(word, str):
            return None
        found = self.by_word.get(same_form(word))
        if found is None and not word.isascii():
            found = self.by_word.get(without_accents(same_form(word)))
        if found is None and (none := self.by_word.get("none")) is not None:
            if word.strip(" .").isalnum():
                return none if names_nothing(word) else None
            shorter = without_ending(word)
            if shorter is not None and self.by_word.get(same_form(shorter)) is none:
                return none
        return found


#: How far a source can be trusted: read itself, read about elsewhere, remembered, practice without a source, weak, a
#: standard that anybody can look up, plain arithmetic.
Mark = Literal[
    "seen",
    "seen, secondary source",
    "from memory",
    "common practice, no source",
    "low-quality source",
    "published standard",
    "arithmetic",
]
MARKS = frozenset(get_args(Mark))


@dataclass(frozen=True, slots=True)
class Asked:
    """Why a note must hold a concept, and how an answer looks.

    Attributes
    ----------
    why, example
        For the reader of a finding: the reason, and an answer as it stands in a note.
    source, mark
        Who asks for it, and how sure that is (``MARKS``).
    instead
        Paths of concepts under which the same may be written.
    standing
        Whether an earlier note's answer still holds.
    """

    why: str
    example: str
    source: str
    mark: str
    instead: tuple[str, ...] = ()
    standing: bool = False


#: The section of what names no other, and the rank of what has none.
ALSO = "also"
LAST = 1_000_000


@dataclass(frozen=True, slots=True)
class Front:
    """A question of the first page that an answer belongs to.

    Attributes
    ----------
    question
        Its key.
    missing
        What is missing where neither this concept nor another one with the same words is answered.
    when
        Tag of the wound's kind or site; without it, it is asked of every wound.
    own
        Whether its words stand on the wound's own page alone.
    """

    question: str
    missing: str = ""
    when: str = ""
    own: bool = False


@dataclass(frozen=True, slots=True)
class Page:
    """How and where an answer is printed.

    Attributes
    ----------
    section, rank
        Section of the printed page, and place in it; ``also`` for what names none.
    short
        A shorter label; of a field, the words around its answer, which stands at ``{}`` (one|more than one).
    pattern
        Of a group, words for fields that are read together, each at its name in braces.
    brief
        Of a field, whether a glance needs it.
    stays
        Of a step, whether it leaves something on the wound.
    front
        The question of the first page that it answers.
    hazards
        Answer (yes or no) -> hazard.
    unprinted
        Why it is not printed.
    each, dated
        Of a group, the field of which each answer has its own newest item, and the field with the item's own day.
    beside
        Key of the concept of the same group in whose cell of a table it stands.
    lasting
        Whether it is about more than the wound as it lies there, and so holds on after the wound has closed.
    """

    section: str = ALSO
    rank: int = LAST
    short: str = ""
    pattern: str = ""
    brief: bool = False
    stays: bool = False
    front: Front | None = None
    hazards: Mapping[str, str] = field(default_factory=dict)
    unprinted: str = ""
    each: str = ""
    dated: str = ""
    beside: str = ""
    lasting: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Concept:
    """One thing that can be charted, and all that follows from it."""

    key: str
    group: str
    label: str
    question: str
    shape: str
    resource: str
    codings: tuple[Coding, ...]
    role: str
    when: tuple[str, ...]
    source: str
    answers: AnswerList | None = None
    unit: str | None = None
    units: tuple[str, ...] = ()
    ratio: bool = False  # a number that has no unit
    low: str | None = None
    high: str | None = None
    parent: str | None = None
    many: bool = False
    main: str | None = None
    native: str | None = None
    within: str | None = None  # the concept of its group in whose Observation it stands, where that one is answered
    activity: str | None = None
    details: Coding | None = None
    recheck: bool = False
    of: str | None = None
    page: Page = Page()
    asked: Asked | None = None  # for what is required or expected, and for nothing else
    fields: Mapping[str, Concept] = field(default_factory=dict)
    labels: Labels = ()
    asked_as: Labels = ()  # its question in other languages
    headers: tuple[str, ...] = ()  # other words in other languages by which a column may be headed
    base: str = BASE  # of its profile, or its extension
    known_as: tuple[KnownAs, ...] = ()
    #: Group, key and field joined by dots, as ``explain`` and CSV headers use it.
    path: str = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "path", ".".join(part for part in (self.group, self.of, self.key) if part))

    def written(self, answers: Mapping[str, object]) -> tuple[Coding, ...]:
        """Return its codes, and those of others beside them, in the order of writing.

        Parameters
        ----------
        answers
            The answers of its group; of a step, those of its fields.
        """
        return written(self.codings, self.known_as, answers)

    @property
    def keys(self) -> frozenset[tuple[str, str]]:
        """The codes by which it is known: its own, those of others that mean the same, and its path."""
        return _keys(self)

    @property
    def heading(self) -> str:
        """Its name on paper: the short form where the entry has one."""
        return self.label if not self.page.short or "{}" in self.page.short else self.page.short

    @property
    def names(self) -> tuple[str, ...]:
        """Its labels in every language, that of the catalogue first."""
        return tuple(dict.fromkeys((self.label, *(label for _, label in self.labels))))

    @property
    def is_group(self) -> bool:
        """Whether the answer is a set of fields."""
        return bool(self.fields)


@cache
def _keys(concept: Concept) -> frozenset[tuple[str, str]]:
    same = (one.coding.key for one in concept.known_as if one.fit == "equal" and not one.where)
    return frozenset(((PATHS, concept.path), *(coding.key for coding in concept.codings), *same))
