"""How what is written, or what came, is coded: by concept, published codes, one house's, words, or kept aside."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from woundfhir.catalogue import BASE, catalogue, per_catalogue
from woundfhir.fhir.convert import to_fhir
from woundfhir.fhir.losses import Losses
from woundfhir.fhir.terms import Terms, code_keys, terms
from woundfhir.record import History

Json = Any
Path = tuple[Any, ...]
Coded = Literal["standard", "own", "words", "kept"]
#: How a value is coded: with a code of a published system; with codes of one house alone, ours or a sender's; in words
#: alone; or kept aside, not in the record.
KINDS: tuple[Coded, ...] = ("standard", "own", "words", "kept")
#: Roots of systems that are published for all.
_PUBLISHED = (
    "http://loinc.org",
    "http://snomed.info/",
    "http://hl7.org/",
    "http://terminology.hl7.org/",
    "http://unitsofmeasure.org",
    "http://www.nlm.nih.gov/",
    "urn:iso:",
    "urn:oid:2.16.840.1.113883.",
)
#: Fates of what the record says.
_SAID = frozenset(("understood", "reworded", "bookkeeping"))
#: Elements that say nothing of care.
_ASIDE = frozenset(("meta", "text"))
#: Elements of other types that may hold words alone.
_NO_CONCEPT = frozenset(("note", "name", "address", "authorName"))
#: Places that the text form names, of each kind.
_NAMED = 3


@dataclass(frozen=True, slots=True)
class Coverage:
    """How each concept is coded: never a value, and no words of a client.

    Attributes
    ----------
    found
        One line for each coded element: concept, element, how it is coded, and the resource that it stands in.

    Examples
    --------
    >>> from woundfhir.record import History
    >>> wounds = [{"id": "W1", "kind": "venous leg ulcer"}]
    >>> made = coverage(History.of({"woundfhir": 1, "patient": {}, "wounds": wounds}))
    >>> made.counts, list(made.by(0))
    ({'standard': 2, 'own': 0, 'words': 0, 'kept': 0}, ['Condition', 'Condition.category'])
    """

    found: tuple[tuple[str, str, Coded, str], ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many elements are coded in each way, in the order of ``KINDS``."""
        return {kind: sum(1 for one in self.found if one[2] == kind) for kind in KINDS}

    def by(self, number: Literal[0, 1]) -> dict[str, dict[str, int]]:
        """Return the counts by concept (0) or by element (1), in the order of names.

        Examples
        --------
        >>> from woundfhir import History, coverage
        >>> wounds = [{"id": "W1", "kind": "burn"}]
        >>> found = coverage(History.of({"woundfhir": 1, "patient": {}, "wounds": wounds}))
        >>> found.by(0)["Condition"]
        {'standard': 1, 'own': 0, 'words': 0, 'kept': 0}
        """
        counted: dict[str, Counter[str]] = {}
        for one in self.found:
            counted.setdefault(one[number], Counter())[one[2]] += 1
        return {name: {kind: counted[name][kind] for kind in KINDS} for name in sorted(counted)}

    def places(self, concept: str, kind: Coded) -> list[str]:
        """Return where a concept is coded in one way: ``Observation/...: code``.

        Examples
        --------
        >>> from woundfhir import History, coverage
        >>> wound = {"id": "W1", "kind": "burn", "site": "a place of its own"}
        >>> found = coverage(History.of({"woundfhir": 1, "patient": {}, "wounds": [wound]}))
        >>> [one.partition(": ")[2] for one in found.places("Condition.bodySite", "words")]
        ['Condition.bodySite']
        """
        return [f"{where}: {element}" for name, element, how, where in self.found if (name, how) == (concept, kind)]

    def json(self) -> dict[str, Json]:
        """Return the report as plain data: counts, by element, by concept with the places of all but standard codes.

        Examples
        --------
        >>> from woundfhir import History, coverage
        >>> wounds = [{"id": "W1", "kind": "burn"}]
        >>> found = coverage(History.of({"woundfhir": 1, "patient": {}, "wounds": wounds}))
        >>> sorted(found.json())
        ['concepts', 'counts', 'elements']
        """
        concepts = [
            {"concept": name, **counts, "places": {kind: self.places(name, kind) for kind in KINDS[1:] if counts[kind]}}
            for name, counts in self.by(0).items()
        ]
        return {"counts": self.counts, "elements": self.by(1), "concepts": concepts}

    def text(self) -> list[str]:
        """Return the report as lines of text; places are those of words alone and of what was set aside.

        Examples
        --------
        >>> from woundfhir import History, coverage
        >>> wounds = [{"id": "W1", "kind": "burn"}]
        >>> found = coverage(History.of({"woundfhir": 1, "patient": {}, "wounds": wounds}))
        >>> found.text()[0]
        '2 of 2 coded in standard systems; 0 own code alone, 0 words alone, 0 kept aside.'
        """
        counts = self.counts
        lines = [f"{counts['standard']} of {len(self.found)} coded in standard systems; {_words(counts)}."]
        for name, found in self.by(0).items():
            lines.append(f"  {name}: {found['standard']} standard; {_words(found)}")
            for kind in (one for one in KINDS[2:] if found[one]):
                places = self.places(name, kind)
                more = f" and {len(places) - _NAMED} more" if len(places) > _NAMED else ""
                lines.append(f"    {_NAMES[kind]}: {', '.join(places[:_NAMED])}{more}")
        return lines


_NAMES: Mapping[str, str] = {"own": "own code alone", "words": "words alone", "kept": "kept aside"}


def _words(counts: Mapping[str, int]) -> str:
    return ", ".join(f"{counts[kind]} {name}" for kind, name in _NAMES.items())


def coverage(of: History | Losses) -> Coverage:
    """Say of each coded element whether others know its code.

    Parameters
    ----------
    of
        A record: how it is written as FHIR. The report of a reading: how what came was coded, and what of it was kept
        aside.

    Returns
    -------
    Coverage

    Examples
    --------
    >>> import woundfhir
    >>> history, report = woundfhir.read([{"resourceType": "Condition", "id": "c", "code": {"text": "sore"}}])
    >>> coverage(report).counts
    {'standard': 0, 'own': 0, 'words': 1, 'kept': 0}
    """
    known = terms()
    if isinstance(of, History):
        return Coverage(tuple(line for one in to_fhir(of) for line in _lines(one, frozenset(), known)))
    lines: list[tuple[str, str, Coded, str]] = []
    for taken in of.taken:
        if isinstance(taken.came, Mapping) and "resourceType" in taken.came:
            aside = frozenset(leaf.path for leaf in taken.leaves() if leaf.kind not in _SAID)
            lines += _lines(taken.came, aside, known)
    return Coverage(tuple(lines))


def _lines(resource: Mapping[str, Json], aside: frozenset[Path], known: Terms) -> Iterator[tuple[str, str, Coded, str]]:
    kind = str(resource["resourceType"])
    where = f"{kind}/{resource.get('id', '')}"
    about = _named(resource.get("code"), kind, known)
    for path, value, holder in _coded(resource, ()):
        element = ".".join([kind, *(str(step) for step in path if not isinstance(step, int))])
        concept = about if path in (("code",), ("valueCodeableConcept",)) else _concept(path, holder, element, known)
        kept = any(one[: len(path)] == path for one in aside)
        yield concept, element, "kept" if kept else _kind(value), where


def _coded(value: Json, path: Path, holder: Json = None) -> Iterator[tuple[Path, Mapping[str, Json], Json]]:
    """Yield each CodeableConcept with its path and with what holds it."""
    if isinstance(value, Mapping):
        if path and ("coding" in value or ("text" in value and value.keys() <= {"text", "id", "extension"})):
            yield path, value, holder
            return
        for key, item in value.items():
            if key not in _NO_CONCEPT and (path or key not in _ASIDE):
                yield from _coded(item, (*path, key), value)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _coded(item, (*path, number), holder)


def _kind(value: Mapping[str, Json]) -> Coded:
    systems = [str(coding.get("system", "")) for coding in value.get("coding", ()) if coding.get("code")]
    if not systems:
        return "words"
    return "standard" if any(one.startswith(_PUBLISHED) for one in systems) else "own"


def _concept(path: Path, holder: Json, element: str, known: Terms) -> str:
    """Name the concept of what is not the code of the resource itself: that of its component, or of its extension."""
    if "component" in path and isinstance(holder, Mapping):
        return _named(holder.get("code"), element.rpartition(".")[0], known)
    if isinstance(holder, Mapping) and str(holder.get("url", "")).startswith(f"{BASE}/"):
        return str(holder["url"]).rpartition("/")[2]
    return element


def _named(code: Json, otherwise: str, known: Terms) -> str:
    """The path of the concept that a code names."""
    keys = code_keys(code)
    term = known.named(keys) or next((known.steps[key] for key in keys if key in known.steps), None)
    if term is not None:
        return term.concept.path
    names = _names()
    return next((names[key] for key in keys if key in names), otherwise)


@per_catalogue()
def _names() -> dict[tuple[str, str], str]:
    """Name every code: those of fields, and those of the table of codes."""
    known = catalogue()
    names = {coding.key: name for name, coding in known.codes.items()}
    for concept in known.concepts(fields=True):
        for coding in concept.codings:
            names.setdefault(coding.key, concept.path)
    return names
