"""Small builders for what a differential says: an element, a slice, an extension, a code pattern, a binding."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from woundfhir.catalogue import BASE, AnswerList, Coding, Concept
from woundfhir.fhir.term import slug
from woundfhir.r4.definitions import elements

Json = Any
Element = dict[str, Json]

FHIR = "http://hl7.org/fhir/StructureDefinition/"
#: The type of an element that refers to the client.
PATIENT = [{"code": "Reference", "targetProfile": [f"{FHIR}Patient"]}]


def pattern(codings: Iterable[Coding]) -> dict[str, Json]:
    """Return a CodeableConcept as a pattern: system and code of each coding, no words."""
    return {"coding": [{"system": coding.system, "code": coding.code} for coding in codings]}


def carried(concept: Concept) -> bool:
    """Whether a concept has an extension of its own.

    One without an element in R4 always has; the others where the element cannot hold every answer: an Attachment has
    no place for other words, and an abatement stands on a closed wound alone (con-4).
    """
    return concept.native is None or concept.group == "photo" or concept.native == "abatement"


def _rank(kind: str, name: str, slices: Mapping[str, int]) -> list[tuple[int, int]]:
    """Return the place of an element, step by step: that of R4, and behind it that of the slice."""
    found, known, so_far = [], elements(kind), kind
    for step in name.split(".")[1:]:
        so_far = f"{so_far}.{step}"
        bare, _, slice_name = step.partition(":")
        place, element = next((at, one) for at, one in enumerate(known.values()) if bare in (one.name, one.choice))
        found.append((place, 1 + slices.get(so_far, 0) if slice_name else 0))
        known = elements(element.type) if so_far != name and not element.choice else {}
    return found


class Differential:
    """The differential of one profile, element by element.

    Examples
    --------
    >>> made = Differential("Observation")
    >>> made.element("focus", min=1)
    >>> made.elements
    [{'id': 'Observation', 'path': 'Observation'}, {'id': 'Observation.focus', 'path': 'Observation.focus', 'min': 1}]
    """

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self.elements: list[Element] = [{"id": kind, "path": kind}]
        self._sliced: set[str] = set()

    def in_order(self) -> None:
        """Bring the elements into R4's order, each slice after what it slices, in the order of their names here."""
        slices = {name: at for at, name in enumerate(dict.fromkeys(one["id"] for one in self.elements))}
        self.elements.sort(key=lambda one: _rank(self.kind, one["id"], slices))

    def url(self, name: str, base: str = BASE) -> str:
        """Return the canonical URL of one of our own StructureDefinitions, or of the site's whose base is given."""
        return f"{base}/StructureDefinition/{name}"

    def element(self, name: str, **said: Json) -> None:
        """Constrain an element, named by its id below the resource, as ``component:length.code``; again adds to it."""
        for known in self.elements:
            if known["id"] == f"{self.kind}.{name}":
                known.update(said)
                return
        path = ".".join([self.kind, *(part.partition(":")[0] for part in name.split("."))])
        made: Element = {"id": f"{self.kind}.{name}", "path": path}
        if slice_name := name.rpartition(".")[2].partition(":")[2]:
            made["sliceName"] = slice_name
        self.elements.append({**made, **said})

    def slicing(self, name: str, kind: str, path: str, **said: Json) -> None:
        """Say once how an element is sliced: open, in any order, by a discriminator."""
        if name not in self._sliced:
            self._sliced.add(name)
            how = {"discriminator": [{"type": kind, "path": path}], "ordered": False, "rules": "open"}
            self.element(name, slicing=how, **said)

    def category(self, coding: Coding) -> None:
        """Ask for one category, and leave room for others beside it."""
        self.slicing("category", "pattern", "$this", min=1)
        self.element("category:own", min=1, max="1", patternCodeableConcept=pattern([coding]))

    def extension(
        self, name: str, least: int = 0, most: str = "1", at: str = "", short: str | None = None, base: str = BASE
    ) -> None:
        """Name one of our own extensions on the resource, or at an element inside it."""
        where = f"{at}.extension" if at else "extension"
        self.slicing(where, "value", "url")
        profile = [{"code": "Extension", "profile": [self.url(name, base)]}]
        words = {"short": short} if short else {}
        self.element(f"{where}:{slug(name)}", **words, min=least, max=most, type=profile)

    def reference(self, name: str, target: str, **said: Json) -> None:
        """Constrain an element to references to one of our own profiles."""
        self.element(name, type=[{"code": "Reference", "targetProfile": [self.url(target)]}], **said)

    def bound(self, answers: AnswerList | None) -> dict[str, Json]:
        """Return the binding of an answer list: other words are welcome, so it is never required."""
        if answers is None:
            return {}
        url = f"{answers.base}/ValueSet/{slug(answers.key)}"
        return {"binding": {"strength": "preferred" if answers.open else "extensible", "valueSet": url}}
