"""One concept, compiled: how it is coded, where its profile is, how its answer goes both ways."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.fhir.codecs import Codec, Member
from woundfhir.fhir.fixed_parts import CodeKey, FixedParts
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.shapes.base import FhirShape

Json = Any


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

    def __init__(self, concept: Concept, terms: FixedParts, parent: Concept | None = None) -> None:
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


def slug(key: str) -> str:
    """Return a catalogue key as part of a URL."""
    return key.replace("_", "-")
