"""The catalogue as one object: what can be charted, whoever says so, and what is kept with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from woundfhir.catalogue.base import BASE
from woundfhir.catalogue.coding import Coding, KnownAs, written
from woundfhir.catalogue.model import AnswerList, Concept, Word
from woundfhir.catalogue.page import Hazard, PageTables, Section
from woundfhir.catalogue.site import Additions, SiteFacts
from woundfhir.language import ENGLISH, Language


@dataclass(frozen=True, slots=True, eq=False)
class Catalogue:
    """All that can be charted.

    Attributes
    ----------
    site
        Whose catalogue it is; None for the one that comes with the toolkit.
    added
        What the site adds.
    language
        In which labels, questions and titles are written.
    kept
        What ``per_catalogue`` keeps of it.
    """

    systems: Mapping[str, str]
    groups: Mapping[str, Mapping[str, Concept]]
    answers: Mapping[str, AnswerList]
    codes: Mapping[str, Coding]
    #: Key of the table of codes -> the codes of others that are written beside it.
    codes_known_as: Mapping[str, tuple[KnownAs, ...]]
    sources: Mapping[str, str]
    units: Mapping[str, str]
    pages: PageTables
    #: Paths of the answers that need a reason where there is none (``reasons.toml``).
    reasoned: frozenset[str]
    site: SiteFacts | None = None
    added: Additions | None = None
    language: Language = ENGLISH
    kept: dict[Any, Any] = field(default_factory=dict, repr=False)

    @property
    def sections(self) -> Mapping[str, Section]:
        """The sections of the printed page, in reading order."""
        return self.pages.sections

    @property
    def hazards(self) -> Mapping[str, Hazard]:
        """What calls for attention, most urgent first."""
        return self.pages.hazards

    def section(self, key: str, group: str | None = None) -> list[Concept]:
        """Return the concepts of a section by rank, of one group or of all.

        Examples
        --------
        >>> from woundfhir.catalogue import catalogue
        >>> [concept.key for concept in catalogue().section("people")]
        ['next_contact', 'team', 'equipment_needed', 'advance_notice']
        """
        found = [
            c for c in self.concepts() if c.page.section == key and group in (None, c.group) and not c.page.unprinted
        ]
        return sorted(found, key=lambda concept: concept.page.rank)

    @property
    def own(self) -> str:
        """Canonical URL of the project's CodeSystem."""
        return self.systems["own"]

    @property
    def own_systems(self) -> tuple[str, ...]:
        """Canonical URLs of the project's CodeSystem, and of the site's."""
        return (self.own,) if self.site is None else (self.own, self.site.code_system)

    @property
    def bases(self) -> tuple[str, ...]:
        """Base URLs of the project's definitions, and of the site's."""
        return (BASE,) if self.site is None else (BASE, self.site.base)

    def concepts(self, fields: bool = False) -> Iterator[Concept]:
        """Yield every concept, in catalogue order; with ``fields`` also the fields of groups and steps."""
        for group in self.groups.values():
            for concept in group.values():
                yield concept
                if fields:
                    yield from concept.fields.values()

    def concept(self, path: str) -> Concept:
        """Return the concept at ``group.key`` or ``group.key.field``; KeyError when there is none."""
        group, _, rest = path.partition(".")
        key, _, inner = rest.partition(".")
        found = self.groups[group][key]
        return found.fields[inner] if inner else found

    def word(self, key: str) -> Word:
        """Return the answer at ``list/word``; KeyError when there is none."""
        listed, _, word = key.partition("/")
        found = self.answers[listed].find(word)
        if found is None:
            raise KeyError(key)
        return found

    def cc(self, key: str) -> dict[str, Any]:
        """A CodeableConcept of one entry of the table of codes."""
        codings = written((self.codes[key],), self.codes_known_as.get(key, ()), {})
        return {"coding": [coding.fhir() for coding in codings]}

    def beside(self) -> dict[tuple[str, str], set[tuple[str, str]]]:
        """Every code that is written beside others, with those that decide what it means there."""
        out: dict[tuple[str, str], set[tuple[str, str]]] = {}
        for codings, some in self._known_as():
            for one in some:
                out.setdefault(one.coding.key, set()).update(coding.key for coding in codings)
        return out

    def _known_as(self) -> Iterator[tuple[tuple[Coding, ...], tuple[KnownAs, ...]]]:
        yield from (((self.codes[key],), some) for key, some in self.codes_known_as.items())
        yield from ((concept.codings, concept.known_as) for concept in self.concepts(fields=True))
        yield from ((word.codings, word.known_as) for answers in self.answers.values() for word in answers.words)

    def emitted(self) -> dict[tuple[str, str], str | None]:
        """Every (system, code) that the writers may write, with its display."""
        out: dict[tuple[str, str], str | None] = {c.key: c.display for c in self.codes.values()}
        for concept in self.concepts(fields=True):
            out.update((c.key, c.display) for c in concept.codings)
            if concept.details:
                out[concept.details.key] = concept.details.display
        for answers in self.answers.values():
            out.update((c.key, c.display) for word in answers.words for c in word.codings)
        out.update((one.coding.key, one.coding.display) for _, some in self._known_as() for one in some)
        return out
