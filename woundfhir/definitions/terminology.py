"""ValueSets (expanded), the project's own CodeSystem, and ConceptMaps from codes that are read to those written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from woundfhir.catalogue import AnswerList, Coding, Labels
from woundfhir.definitions.definition import COPYRIGHT, DATE, head
from woundfhir.fhir.dialects.model import dialect
from woundfhir.fhir.dialects.names import NAMES
from woundfhir.fhir.ids import NAMESPACE, uuid5
from woundfhir.fhir.tags import DIALECT, OF_SENT, SENT
from woundfhir.fhir.term import slug
from woundfhir.fhir.terms import Terms
from woundfhir.maps import shipped

Json = Any

#: Concepts that SNOMED International made inactive; the catalogue says what is written in their place.
#: Source: SNOMED CT Editorial Guide, "Pressure ulcer / Pressure injury" (edition of January 2026).
RETIRED = frozenset(("399912005", "421076008", "420324007", "421927004", "420597008", "421594008"))


class Row(NamedTuple):
    """One line of a ConceptMap."""

    source: Coding
    target: Coding
    equivalence: str
    comment: str


def resources(terms: Terms) -> Iterator[dict[str, Json]]:
    """Yield every terminology resource."""
    yield code_system(terms)
    yield from _tags(terms)
    for answers in terms.catalogue.answers.values():
        yield value_set(terms, answers)
    yield from concept_maps(terms)


def of_site(terms: Terms, base: str) -> Iterator[dict[str, Json]]:
    """Yield the CodeSystem of a site, and the value sets of its lists and of those that it adds to."""
    yield code_system(terms)
    for answers in terms.catalogue.answers.values():
        if answers.base == base:
            yield value_set(terms, answers)


def code_system(terms: Terms) -> dict[str, Json]:
    """Return the CodeSystem with every code of ours, or of the site that holds, in order of the codes."""
    site, labels = terms.catalogue.site, _labels(terms)
    own = terms.catalogue.own_systems[-1]
    codes = sorted((code, display) for (system, code), display in terms.catalogue.emitted().items() if system == own)
    name = own.rpartition("/")[2]
    return {
        **head("CodeSystem", name, *(("Wound care", _OWN) if site is None else (site.title, _SITE)), terms),
        "caseSensitive": True,
        "content": "complete",
        "count": len(codes),
        "concept": [
            {"code": code, "display": display or code, **_designations(labels.get((own, code), ()))}
            for code, display in codes
        ],
    }


def _tags(terms: Terms) -> Iterator[dict[str, Json]]:
    """Yield the CodeSystems of the tags of ours, at the addresses that the tags name."""
    of_dialect = {name: dialect(name).title for name in NAMES}
    for url, title, about, codes in (
        (DIALECT, "Dialects", "In which form of others a resource of ours is written.", of_dialect),
        (SENT, "What became of what was sent", "Marks on resources of ours at a server.", OF_SENT),
    ):
        yield {
            **head("CodeSystem", url.rpartition("/")[2], title, about, terms),
            **{"url": url, "caseSensitive": True, "content": "complete", "count": len(codes)},
            "concept": [{"code": code, "display": display} for code, display in codes.items()],
        }


def _labels(terms: Terms) -> dict[tuple[str, str], Labels]:
    """The labels in other languages by the first code of what they are of."""
    known = terms.catalogue
    found = {one.codings[0].key: one.labels for one in known.concepts(fields=True) if one.codings}
    words = (word for answers in known.answers.values() for word in answers.words)
    return found | {one.codings[0].key: one.labels for one in words if one.codings}


def _designations(labels: Labels) -> dict[str, Json]:
    return {"designation": [{"language": language, "value": label} for language, label in labels]} if labels else {}


_OWN = "Codes for what wound care notes say and no open code system was found to hold: generic categories, no product."


_SITE = "Codes of a site for what neither an open code system nor woundfhir has: its own words and data elements."


def value_set(terms: Terms, answers: AnswerList) -> dict[str, Json]:
    """Return one answer list as a ValueSet with its expansion."""
    codings = list(dict.fromkeys(coding for word in answers.words for coding in word.codings))
    made = head("ValueSet", slug(answers.key), answers.title, _about(answers), terms)
    systems = dict.fromkeys(coding.system for coding in codings)
    made["copyright"] = COPYRIGHT
    made["compose"] = {
        "include": [
            {"system": system, "concept": [_concept(c) for c in codings if c.system == system]} for system in systems
        ]
    }
    made["expansion"] = {
        "identifier": f"urn:uuid:{uuid5(NAMESPACE.bytes, made['url'])}",
        "timestamp": DATE,
        "total": len(codings),
        "contains": [coding.fhir() for coding in codings],
    }
    return made


def _about(answers: AnswerList) -> str:
    words = ", ".join(word.word for word in answers.words)
    return f"{answers.title}: {words}. Other words are allowed and are kept as text."


def _concept(coding: Coding) -> dict[str, str]:
    return {key: value for key, value in coding.fhir().items() if key != "system"}


def concept_maps(terms: Terms) -> Iterator[dict[str, Json]]:
    """Yield the maps: retired codes, other guides' words, other guides' questions."""
    answers = list(_rows("answer"))
    retired = [row for row in answers if row.source.code in RETIRED]
    yield _map(terms, "retired-codes", "Retired codes to current codes", _RETIRED, retired)
    rest = [row for row in answers if row.source.code not in RETIRED]
    yield _map(terms, "answer-codes", "Answers of other guides", _ANSWERS, rest)
    yield _map(terms, "question-codes", "Questions of other guides", _QUESTIONS, _rows("concept"))


_RETIRED = (
    "Codes that SNOMED CT has made inactive (SNOMED CT Editorial Guide, pressure ulcer / pressure injury, January 2026)"
    " and the codes that are written in their place. The pairing by stage is by name."
)
_ANSWERS = "Codes that other guides use for an answer: they are read, and the code of the same word is written."
_QUESTIONS = "Codes that other guides use for a question: they are read, and our code for the question is written."


def _rows(kind: str) -> Iterator[Row]:
    """The lines of the shipped maps whose target is of one kind, by the codes that are written for it."""
    for one in shipped().layers[0]:
        for line in one.mappings:
            if line.target is not None and line.target.kind == kind:
                source = Coding(line.system, line.code, line.label or None)
                yield Row(source, line.target.standard, line.equivalence, line.comment or line.target.label)


def _map(terms: Terms, name: str, title: str, about: str, rows: Iterable[Row]) -> dict[str, Json]:
    groups: dict[tuple[str, str], dict[Coding, list[Row]]] = {}
    for row in _merged(rows):
        groups.setdefault((row.source.system, row.target.system), {}).setdefault(row.source, []).append(row)
    return {
        **head("ConceptMap", name, title, about, terms),
        "copyright": COPYRIGHT,
        "group": [
            {
                "source": source,
                "target": target,
                "element": [
                    _element(coding, found) for coding, found in sorted(by.items(), key=lambda pair: pair[0].code)
                ],
            }
            for (source, target), by in groups.items()
        ],
    }


def _merged(rows: Iterable[Row]) -> list[Row]:
    """One row for each pair of codes, with the lists that it stands in."""
    found: dict[tuple[Coding, Coding], Row] = {}
    for row in rows:
        known = found.get((row.source, row.target))
        comment = row.comment if known is None else f"{known.comment}; {row.comment}"
        found[row.source, row.target] = row._replace(comment=comment)
    return list(found.values())


def _element(source: Coding, rows: list[Row]) -> dict[str, Json]:
    targets = [{**_concept(row.target), "equivalence": row.equivalence, "comment": row.comment} for row in rows]
    return {**_concept(source), "target": targets}
