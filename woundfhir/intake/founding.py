"""What says that there is a wound, and which place on the body a resource names."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from woundfhir.catalogue import PATHS, catalogue, per_catalogue
from woundfhir.catalogue.model import AnswerList
from woundfhir.fhir.came import Resource
from woundfhir.fhir.elements import first, texts_of, values_in
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources import body_site, wound
from woundfhir.fhir.terms import Terms, code_keys
from woundfhir.intake.absence import denied, unaccented
from woundfhir.intake.words import words

Json = Any
CodeKey = tuple[Json, Json]
_WORD = re.compile(r"\w+")


@per_catalogue()
def _codes() -> frozenset[CodeKey]:
    """Return the codes that only wounds have."""
    raw = tomllib.loads(files("woundfhir.intake").joinpath("founding.toml").read_text("utf-8"))
    known, codes = catalogue(), raw["codes"]
    general = set(codes.pop("general"))
    keys = {(known.systems[system], code) for system, found in codes.items() for code in found}
    own = known.systems["own"]
    for concept in known.concepts(fields=True):
        if concept.group in ("assessment", "care") and concept.of is None and concept.key not in general:
            keys |= {coding.key for coding in concept.codings if coding.system == own}
        if any(coding.key in keys for coding in concept.codings):
            keys.add((PATHS, concept.path))
    return frozenset(keys)


def only_wounds(keys: list[CodeKey]) -> bool:
    """Whether one of the codes is of a finding, or of care, that only wounds have.

    Examples
    --------
    >>> only_wounds([("http://loinc.org", "39126-8")]), only_wounds([("http://loinc.org", "72514-3")])
    (True, False)
    """
    return not _codes().isdisjoint(keys)


def is_wound(source: ReadContext, resource: Resource) -> bool:
    """Whether a Condition is a wound: by our own place, its category, its code, or its words."""
    if wound.is_wound(source, resource):
        return True
    if source.place(resource) is not None or source.terms.finding_codes & set(code_keys(resource.get("code"))):
        return False
    return any(names_wound(text) for text in texts_of(resource.get("code")))


def names_wound(text: str) -> bool:
    """Whether words name a wound, and nothing else that is called so.

    Examples
    --------
    >>> [names_wound(text) for text in ("Laceration of forearm", "Gastric ulcer", "Diabetes without foot ulcer")]
    [True, False, False]
    """
    known, plain = words(), unaccented(text)
    if known.wound.search(plain) is None or known.matter.search(plain) is not None:
        return False
    return any(known.wound.search(one) and not known.elsewhere.search(one) for one in known.clause.split(plain))


# -- places on the body ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Site:
    """A place on the body as a resource or a wound names it; None where it says nothing."""

    site: str | None
    side: str | None

    @property
    def named(self) -> bool:
        """Whether a place is named at all."""
        return self.site is not None or self.side is not None

    def fits(self, other: Site) -> bool | None:
        """Whether two are one place: True, False, or None where that cannot be told.

        Examples
        --------
        >>> Site("heel", "left").fits(Site("heel", "right")), Site("heel", "left").fits(Site("heel", None))
        (False, None)

        One place may lie in another where all words of that one stand in it too.

        >>> Site("lower leg", "left").fits(Site("lower leg, medial", "left"))
        """
        if self.side is not None and other.side is not None and self.side != other.side:
            return False
        if self.site is not None and other.site is not None and self.site != other.site:
            here, there = (set(_WORD.findall(one)) for one in (self.site, other.site))
            return None if here <= there or there <= here else False
        return True if self == other and self.site is not None else None


def founds(resource: Resource) -> bool:
    """Whether a finding says that something is there: a value, or parts or members that may; no reason, no denial.

    Examples
    --------
    >>> founds({"resourceType": "Observation", "valueString": "N/A"}), founds({"resourceType": "Procedure"})
    (False, True)
    """
    if resource.get("resourceType") != "Observation":
        return True
    if any(key in resource for key in ("component", "hasMember")):
        return True
    value = resource.get("valueString", (resource.get("valueCodeableConcept") or {}).get("text"))
    if isinstance(value, str) and denied(value):
        return False
    return "dataAbsentReason" not in resource and bool(values_in(resource))


def site_of(source: ReadContext, resource: Resource) -> tuple[Site, dict[str, Json]]:
    """Return the place that a resource names, and the answers that a wound there would have.

    It names it in ``bodySite``, else by a BodyStructure.
    """
    terms, body = source.terms, resource.get("bodySite")
    concept = first(body) if isinstance(body, list) else body
    structure = None if isinstance(concept, dict) else body_site.structure_of(source, resource)
    if structure is not None:
        concept = structure.get("location")
    if not isinstance(concept, dict):
        return Site(None, None), {}
    native = {t.concept.native: t for t in terms.groups["wound"].values() if t.concept.native}
    answers: dict[str, Json] = {}
    site, side = native["bodySite"], native["side"]
    word = site.codec.read({"valueCodeableConcept": concept}) or _code(concept)
    if isinstance(word, str):
        answers[site.concept.key] = word
    found = body_site.read_side(terms, side, concept) if structure is None else body_site.side_of(side, structure)
    if isinstance(found, str):
        answers[side.concept.key] = found
    return place(terms, answers), answers


def place(terms: Terms, answers: Mapping[str, Json]) -> Site:
    """Return the place that the answers ``site`` and ``side`` of a wound name, in words that can be compared."""
    site, side = (_said(terms, key, answers.get(key)) for key in ("site", "side"))
    sides = _listed(terms, "side")
    for head, rest in _ends(site or "") if side is None else ():
        if (word := sides.find(head)) is not None:
            site, side = rest or None, word.word  # "left heel", or a side alone, in one text
            break
    if side is None and site is not None:
        words = site.split()
        said = {n: known.word for n, one in enumerate(words) if (known := sides.find(one.strip("().,"))) is not None}
        if len(set(said.values())) == 1:  # "structure of left lower limb"
            side = next(iter(said.values()))
            site = " ".join(one for n, one in enumerate(words) if n not in said) or None
    return Site(_in_list(terms, site) if site else None, side)


def _listed(terms: Terms, key: str) -> AnswerList:
    found = terms.groups["wound"][key].concept.answers
    assert found is not None  # both have a list
    return found


def _said(terms: Terms, key: str, answer: Json) -> str | None:
    """Return the word of the list that an answer is; what it does not know in small letters, with single blanks."""
    if not isinstance(answer, str):
        return None
    word = _listed(terms, key).find(answer)
    return " ".join(answer.casefold().split()) if word is None else word.word


def _in_list(terms: Terms, words: str) -> str:
    """Return words in which the longest part that the list of sites has stands as the list calls it.

    "Shin, upper third" may so be "lower leg", as "shin" is.
    """
    listed, found = _listed(terms, "site"), list(_WORD.finditer(words))[:12]
    for size in range(len(found), 0, -1):
        for first_word, last_word in zip(found, found[size - 1 :], strict=False):
            start, end = first_word.start(), last_word.end()
            if (word := listed.find(words[start:end])) is not None:
                return f"{words[:start]}{word.word}{words[end:]}"
    return words


def _ends(words: str) -> Iterator[tuple[str, str]]:
    """Yield the first word and the rest, and the last word and the rest: "left heel", "heel, left", "left"."""
    head, _, rest = words.partition(" ")
    yield words.strip("().,"), ""
    if rest:
        yield head.strip("., "), rest
        before, _, last = words.rpartition(" ")
        yield last.strip("().,"), before.rstrip("-(, ")


def _code(concept: Mapping[str, Json]) -> str | None:
    coding = first(concept.get("coding"))
    return f"{coding['code']} ({coding.get('system', 'no system')})" if coding.get("code") else None
