"""The catalogue compiled for FHIR: URLs, CodeableConcepts, codecs, and the index by which codes are read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from woundfhir.catalogue import BASE, Catalogue, Concept, per_catalogue
from woundfhir.catalogue.translation import translations
from woundfhir.fhir.fixed_parts import CodeKey, FixedParts
from woundfhir.fhir.term import Term

Json = Any


def _share_part(known: Catalogue) -> Concept:
    """The share of one tissue, as a concept: the component that stands beside the tissue's name."""
    return Concept(
        key="share_percent",
        group="assessment",
        label="Share of the wound bed",
        question="How much of the bed?",
        shape="quantity",
        resource="component",
        codings=(known.codes["share_percent"],),
        role="optional",
        when=(),
        source=known.sources["share_percent"],
        unit="%",
        asked_as=tuple(
            (one.language.code, one.concepts["assessment.share_percent"]["question"])
            for one in translations().values()
            if "assessment.share_percent" in one.concepts
        ),
    )


def _by_native(terms_of: Iterable[Term]) -> dict[str, list[Term]]:
    """Return the terms that an element of their resource carries, by its name."""
    found: dict[str, list[Term]] = {}
    for term in terms_of:
        if term.concept.native:
            found.setdefault(term.concept.native, []).append(term)
    return found


def _by_panel(terms_of: Iterable[Term]) -> dict[str, list[Term]]:
    """Return the terms that are components of a panel, by its key."""
    found: dict[str, list[Term]] = {}
    for term in terms_of:
        if term.concept.resource == "component" and term.concept.parent:
            found.setdefault(term.concept.parent, []).append(term)
    return found


class Terms(FixedParts):
    """Everything that the writers and readers look up.

    Parameters
    ----------
    encoded
        Whether what is the same in many resources (codes, ``meta``, answers that come again and again) is kept as JSON
        (``msgspec.Raw``) instead of as dicts: for bytes, which are then made without a walk through it.
    """

    def __init__(self, encoded: bool = False) -> None:
        super().__init__(encoded)
        #: How the addresses of our definitions begin, and those of the site's.
        self.bases = tuple(f"{base}/" for base in self.catalogue.bases)
        self.groups: dict[str, dict[str, Term]] = {
            group: {key: Term(concept, self) for key, concept in concepts.items()}
            for group, concepts in self.catalogue.groups.items()
        }
        self._put_within()
        #: By group: the terms that an element of their resource carries, by its name.
        self.natives = {group: _by_native(terms_of.values()) for group, terms_of in self.groups.items()}
        #: The same, where one element carries one term.
        self.native = {group: {name: some[-1] for name, some in of.items()} for group, of in self.natives.items()}
        planned = {one.concept.activity for some in self.natives["plan"].values() for one in some}
        #: The kinds of work that a plan names, with their codes.
        self.activities = {name: self.code_key(name) for name in sorted(filter(None, planned))}
        self.cc: dict[str, Json] = {key: self.fixed(self.catalogue.cc(key)) for key in self.catalogue.codes}
        self.panels = _by_panel(self.groups["assessment"].values())
        #: The terms whose answers stand at ``visit/wound/key`` or ``visit/key`` as Observations, by that key.
        self.by_place = {
            key: term
            for group in ("plan", "care", "assessment", "client")
            for key, term in self.groups[group].items()
            if term.spread != "step" and term.concept.resource != "component" and term.concept.native is None
        }
        self.written_as = self.ext("as-written")
        self.none: Json = self.fixed({"coding": [self.coding("none").fhir()], "text": "none"})
        self.share_part = Term(_share_part(self.catalogue), self)
        self.by_code: dict[CodeKey, list[Term]] = {}
        self.steps: dict[CodeKey, Term] = {}
        self.details: dict[CodeKey, Term] = {}
        self._index()
        #: Codes of words that describe a wound: a Condition with one of them is a finding, not an illness.
        self.finding_codes = self._finding_codes()

    def is_ours(self, resource: Json) -> bool:
        """Whether a resource names a profile of ours or of the site, or us as its source: written by this toolkit."""
        meta = resource.get("meta")
        named = meta.get("profile") if isinstance(meta, dict) else None
        if isinstance(meta, dict) and str(meta.get("source")).partition("#")[0] == BASE:  # servers add what follows #
            return True
        return isinstance(named, list) and any(str(name).startswith(self.bases) for name in named)

    def knows(self, concept: Json) -> bool:
        """Whether a code names anything that has a place in the record."""
        keys = set(code_keys(concept))
        panels = {self.code_key(name) for name in ("panel", "dressing_change", "plan_category", "photo", *self.panels)}
        return bool(keys & panels) or any(
            key in self.by_code or key in self.steps or key in self.details for key in keys
        )

    def is_none(self, concept: Json) -> bool:
        """Whether a CodeableConcept says that there is none."""
        return has_code(concept, self.code_key("none"))

    def _put_within(self) -> None:
        """Let each term know which terms stand within it."""
        for terms_of in self.groups.values():
            for key, term in terms_of.items():
                if term.concept.within:
                    terms_of[term.concept.within].inner[key] = term
                    terms_of[term.concept.within].simple = False

    def _finding_codes(self) -> set[CodeKey]:
        lists = (term.concept.answers for term in self.groups["assessment"].values())
        words = {key for answers in lists if answers is not None for key in answers.by_code}
        return words | {one.key for key, one in self.catalogue.codes.items() if key.startswith("finding_")}

    def _index(self) -> None:
        for group in ("assessment", "client", "care", "plan"):
            for term in self.groups[group].values():
                if term.shape.spread == "step":
                    for key in term.concept.keys:
                        self.steps.setdefault(key, term)
                    if term.concept.details:
                        self.details[term.concept.details.key] = term
                else:
                    self._add(term)
                    if not term.main:
                        continue
                    for inner in term.fields.values():
                        self._add(inner)

    def _add(self, term: Term) -> None:
        for key in term.concept.keys:
            self.by_code.setdefault(key, []).append(term)

    def find(self, concept: Json) -> Term | None:
        """Return the term that a CodeableConcept names: by a code that only it has, else by the first that fits."""
        return self.named(code_keys(concept))

    def named(self, keys: list[CodeKey]) -> Term | None:
        """Return the term that (system, code) pairs name, as ``find`` does."""
        options = [self.by_code[key] for key in keys if key in self.by_code]
        alone = next((found for found in options if len(found) == 1), None)
        return (alone or options[0])[0] if options else None


def code_keys(concept: Json) -> list[CodeKey]:
    """Return the (system, code) pairs of a CodeableConcept."""
    codings: Json = concept.get("coding") if isinstance(concept, dict) else None
    if not isinstance(codings, list):
        return []
    keys: list[Json] = []
    for one in codings:
        if isinstance(one, dict):
            system, code = one.get("system"), one.get("code")  # of others perhaps a list, which has no place in a key
            keys.append((system if isinstance(system, str) else None, code if isinstance(code, str) else None))
    return keys


def has_code(concept: Json, key: CodeKey) -> bool:
    """Whether a CodeableConcept holds a code."""
    return key in code_keys(concept)


@per_catalogue()
def terms(encoded: bool = False) -> Terms:
    """Return the compiled catalogue: its fixed parts as dicts, or as JSON."""
    return Terms(encoded)
