"""The catalogue compiled for FHIR: URLs, CodeableConcepts, codecs, and the index by which codes are read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache, partial
from typing import Any, TypeVar

import msgspec

from woundfhir.catalogue import BASE, Catalogue, Coding, Concept, catalogue, per_catalogue
from woundfhir.catalogue.translation import translations
from woundfhir.fhir.codecs import Codec, Member, Reasons
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.shapes.base import FhirShape

Json = Any
T = TypeVar("T")
CodeKey = tuple[str, str]
_encode = msgspec.json.Encoder(decimal_format="number").encode
#: How many of the answers to one concept that come again and again are kept as they are written.
_KEPT = 1024


class Term:
    """One concept, compiled: how it is coded, where its profile is, how its answer goes both ways.

    What ``member``, ``component``, ``extension``, ``code`` and ``meta`` give is for writing, and nobody may change it
    or look into it: see ``Terms``.
    """

    __slots__ = (
        "beside",
        "by_code",
        "code",
        "codec",
        "component",
        "concept",
        "details",
        "extension",
        "fhir",
        "fields",
        "inner",
        "kind",
        "main",
        "member",
        "meta",
        "of_kind",
        "parent",
        "shape",
        "simple",
        "spread",
        "url",
        "used",
        "varies",
    )

    def __init__(self, concept: Concept, terms: Terms, parent: Concept | None = None) -> None:
        self.concept = concept
        self.parent = parent
        self.shape: FhirShape = fhir_shape(concept)
        self.codec: Codec = self.shape.codec(concept, terms.catalogue, terms.reasons)
        self.fhir: dict[str, Json] = self.coded({})
        self.code: Json = terms.fixed(self.fhir)
        #: Whether some of its codes depend on the other answers.
        self.varies = any(one.where for one in concept.known_as)
        #: Of the extension that carries the answer where R4 has no element for it.
        self.url = terms.ext(slug("-".join(filter(None, (concept.group, concept.of, concept.key)))), concept.base)
        self.spread = self.shape.spread
        #: Whether an answer is one value, on which no other answer of the group depends.
        self.simple = self.spread == "one" and not self.varies and concept.within is None
        kind = "step" if self.spread == "step" else "observation"
        self.meta = terms.meta(f"{kind}-{slug(concept.key)}", concept.base)
        #: Of a step: the code of the Observation in which earlier versions wrote what now stands in extensions.
        self.details: dict[str, Json] | None = None
        if concept.details:
            self.details = {"coding": [concept.details.fhir()], "text": f"{concept.label}: details"}
        #: What stands as components in its Observation, by key.
        self.inner: dict[str, Term] = {}
        self.fields: dict[str, Term] = {key: Term(inner, terms, concept) for key, inner in concept.fields.items()}
        #: Codes of the fields: the first coding of a field is its own, the others may be shared.
        self.by_code: dict[CodeKey, Term] = {
            f.concept.codings[0].key: f for f in self.fields.values() if f.concept.codings
        }
        for field in self.fields.values():
            for key in field.concept.keys:
                self.by_code.setdefault(key, field)
        self.main: Term | None = self.fields.get(concept.main) if concept.main else None
        #: Of a step: the field that names its kind, those in ``usedCode``, and those that stand in extensions.
        self.kind = next((field for field in self.fields.values() if field.concept.native == "code"), None)
        self.used = [field for field in self.fields.values() if field.concept.native == "used"]
        self.beside = {key: field for key, field in self.fields.items() if field not in self.used}
        self.of_kind: Callable[[str], Json] = terms.once(self.kind.codec, self._of_kind) if self.kind else self._of_kind
        self.member: Callable[[Json], Member] = terms.once(self.codec, self.codec.write)
        self.component: Callable[[Json], Json] = terms.once(self.codec, self._component)
        self.extension: Callable[[Json], Json] = terms.once(self.codec, partial(self._extension, terms.ext("absent")))

    def _of_kind(self, word: str) -> Json:
        """The code of a step of this kind: its own, and those of the word; None where the word has none."""
        concept = self.kind.codec.write(word)[1] if self.kind is not None else {}
        if "coding" not in concept:
            return None
        return {"coding": self.fhir["coding"] + concept["coding"], "text": concept["text"]}

    def _component(self, answer: Json) -> Json:
        """The component of an Observation that says an answer."""
        key, value = self.codec.write(answer)
        return {"code": self.code, key: value}

    def _extension(self, absent: str, answer: Json) -> Json:
        """The extension that says an answer, where R4 has no element for it."""
        key, value = self.codec.write(answer)
        if key == "dataAbsentReason":
            return {"url": self.url, "extension": [{"url": absent, "valueCodeableConcept": value}]}
        return {"url": self.url, key: value}

    def coded(self, answers: Mapping[str, Json]) -> dict[str, Json]:
        """Return its CodeableConcept among other answers, on which some of its codes depend."""
        if answers and not self.varies:
            return self.fhir
        return {"coding": [c.fhir() for c in self.concept.written(answers)], "text": self.concept.label}


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
            (one.language.code, one.concepts["assessment.share_percent"]["question"]) for one in translations().values()
        ),
    )


def slug(key: str) -> str:
    """Return a catalogue key as part of a URL."""
    return key.replace("_", "-")


class Terms:
    """Everything that the writers and readers look up.

    Parameters
    ----------
    encoded
        Whether what is the same in many resources (codes, ``meta``, answers that come again and again) is kept as JSON
        (``msgspec.Raw``) instead of as dicts: for bytes, which are then made without a walk through it.
    """

    def __init__(self, encoded: bool = False) -> None:
        self.catalogue: Catalogue = catalogue()
        self.encoded = encoded
        self._writers: dict[Callable[[Terms, str], Json], Callable[[str], Json]] = {}
        self._metas: dict[tuple[str, str], Json] = {}
        #: How the addresses of our definitions begin, and those of the site's.
        self.bases = tuple(f"{base}/" for base in self.catalogue.bases)
        self.reasons = Reasons(self.catalogue.answers["absent_reason"])
        self.groups: dict[str, dict[str, Term]] = {
            group: {key: Term(concept, self) for key, concept in concepts.items()}
            for group, concepts in self.catalogue.groups.items()
        }
        for terms_of in self.groups.values():
            for key, term in terms_of.items():
                if term.concept.within:
                    terms_of[term.concept.within].inner[key] = term
                    terms_of[term.concept.within].simple = False
        #: By group: the terms that an element of their resource carries, by its name.
        self.natives: dict[str, dict[str, list[Term]]] = {group: {} for group in self.groups}
        for group, terms_of in self.groups.items():
            for term in terms_of.values():
                if term.concept.native:
                    self.natives[group].setdefault(term.concept.native, []).append(term)
        #: The same, where one element carries one term.
        self.native = {group: {name: some[-1] for name, some in of.items()} for group, of in self.natives.items()}
        planned = {one.concept.activity for some in self.natives["plan"].values() for one in some}
        #: The kinds of work that a plan names, with their codes.
        self.activities = {name: self.code_key(name) for name in sorted(filter(None, planned))}
        self.cc: dict[str, Json] = {key: self.fixed(self.catalogue.cc(key)) for key in self.catalogue.codes}
        self.panels: dict[str, list[Term]] = {}
        for term in self.groups["assessment"].values():
            if term.concept.resource == "component" and term.concept.parent:
                self.panels.setdefault(term.concept.parent, []).append(term)
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
        self.finding_codes = {
            key
            for term in self.groups["assessment"].values()
            if term.concept.answers is not None
            for key in term.concept.answers.by_code
        } | {coding.key for key, coding in self.catalogue.codes.items() if key.startswith("finding_")}

    def keeping(self, write: Callable[[Terms, str], Json]) -> Callable[[str], Json]:
        """Return a writer of texts that come again and again: it writes each of them once."""
        found = self._writers.get(write)
        if found is None:
            found = self._writers[write] = lru_cache(_KEPT)(lambda text: self.fixed(write(self, text)))
        return found

    def ext(self, name: str, base: str = BASE) -> str:
        """URL of one of the project's own extensions, or of the site's whose base is given."""
        return f"{base}/StructureDefinition/{name}"

    def meta(self, profile: str, base: str = BASE) -> Json:
        """``meta`` that names one of the project's own profiles, or of the site's whose base is given."""
        found = self._metas.get((profile, base))
        if found is None:
            made = self.fixed({"profile": [f"{base}/StructureDefinition/{profile}"]})
            found = self._metas[profile, base] = made
        return found

    def fixed(self, value: Json) -> Json:
        """Return what stands in many resources as it is kept: as JSON, where bytes are made of it."""
        if not self.encoded or value is None or value.__class__ is str:
            return value
        if value.__class__ is tuple:  # a member: its name and its value
            return value[0], self.fixed(value[1])
        return msgspec.Raw(_encode(value))

    def once(self, codec: Codec, write: Callable[[Json], T]) -> Callable[[Json], T]:
        """Return a writer that writes a text once, where answers come again and again."""
        if not codec.recurs:
            return write
        known = lru_cache(_KEPT)(lambda text: self.fixed(write(text)))
        return lambda answer: known(answer) if answer.__class__ is str else write(answer)

    def coding(self, key: str) -> Coding:
        """One entry of the catalogue's table of codes."""
        return self.catalogue.codes[key]

    def code_key(self, key: str) -> CodeKey:
        """The (system, code) of one entry of the table of codes."""
        return self.catalogue.codes[key].key

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
    if not isinstance(concept, dict):
        return []
    return [(coding.get("system"), coding.get("code")) for coding in concept.get("coding", ())]


def has_code(concept: Json, key: CodeKey) -> bool:
    """Whether a CodeableConcept holds a code."""
    return key in code_keys(concept)


@per_catalogue()
def terms(encoded: bool = False) -> Terms:
    """Return the compiled catalogue: its fixed parts as dicts, or as JSON."""
    return Terms(encoded)
