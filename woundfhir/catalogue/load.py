"""Read the catalogue's TOML strictly: a misspelt key, an unknown list or a code without a source stops the load."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from woundfhir.catalogue.base import BASE, PATHS
from woundfhir.catalogue.model import RESOURCES, ROLES, AnswerList, CatalogueError, Coding, Concept, Word
from woundfhir.catalogue.page import PAGE_KEYS, Hazard, PageTables, Section, check_together, read_asked, read_page
from woundfhir.catalogue.spelling import same_form

GROUPS = ("wound", "visit", "client", "assessment", "care", "supply", "plan", "photo")
_CONCEPT_KEYS = frozenset(("label", "question", "shape", "answers", "resource", "code", "also", "role"))
_CONCEPT_KEYS |= {"source", "unit", "units", "low", "high", "parent", "many", "main", "native", "activity", "details"}
_CONCEPT_KEYS |= {"recheck", "fields", "note", "ratio", "when", "asked"} | PAGE_KEYS
_WORD_KEYS = frozenset(["word", "also", "code", "more", "tags", "source", "recheck", "note", "substances"])


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All that can be charted."""

    systems: Mapping[str, str]
    groups: Mapping[str, Mapping[str, Concept]]
    answers: Mapping[str, AnswerList]
    codes: Mapping[str, Coding]
    sources: Mapping[str, str]
    units: Mapping[str, str]
    pages: PageTables
    #: Paths of the answers that need a reason where there is none (``reasons.toml``).
    reasoned: frozenset[str]

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
        return {"coding": [self.codes[key].fhir()]}

    def emitted(self) -> dict[tuple[str, str], str | None]:
        """Every (system, code) that the writers may write, with its display."""
        out: dict[tuple[str, str], str | None] = {c.key: c.display for c in self.codes.values()}
        for concept in self.concepts(fields=True):
            out.update((c.key, c.display) for c in concept.codings)
            if concept.details:
                out[concept.details.key] = concept.details.display
        for answers in self.answers.values():
            out.update((c.key, c.display) for word in answers.words for c in word.codings)
        return out


class Reader:
    """One pass over the files; holds what later entries refer to."""

    def __init__(self) -> None:
        self.folder = files("woundfhir.catalogue") / "data"
        self.systems: dict[str, str] = {
            key: value.replace("{base}", BASE) for key, value in self.toml("systems.toml").items()
        }
        self.answers: dict[str, AnswerList] = {}
        self.sources: dict[str, str] = {}
        sections, hazards, named = (self.toml(f"{name}.toml") for name in ("sections", "hazards", "substances"))
        self.pages = PageTables.read(sections, hazards, named, self.toml("texts/en.toml"))

    def toml(self, name: str) -> dict[str, Any]:
        return tomllib.loads((self.folder / name).read_text("utf-8"))

    def folder_toml(self, name: str) -> Iterator[tuple[str, dict[str, Any]]]:
        for path in sorted((self.folder / name).iterdir(), key=lambda p: p.name):
            if path.name.endswith(".toml"):
                yield path.name[:-5], tomllib.loads(path.read_text("utf-8"))

    def coding(self, raw: Mapping[str, Any], where: str) -> Coding:
        if raw.get("system") not in self.systems or not raw.get("code"):
            raise CatalogueError(f"{where}: a code needs a system of systems.toml and a code")
        return Coding(self.systems[raw["system"]], str(raw["code"]), raw.get("display"))

    def codings(self, raws: list[Mapping[str, Any]], where: str) -> tuple[Coding, ...]:
        return tuple(self.coding(raw, where) for raw in raws)

    def word(self, raw: Mapping[str, Any], default_source: str, where: str, product: bool = False) -> Word:
        where = f"{where}.{raw.get('word')}"
        if unknown := raw.keys() - _WORD_KEYS:
            raise CatalogueError(f"{where}: unknown keys {sorted(unknown)}")
        named = {tag.removeprefix("hazard:") for tag in raw.get("tags", ()) if tag.startswith("hazard:")}
        if wrong := named - self.pages.hazards.keys():
            raise CatalogueError(f"{where}: no hazard {', '.join(sorted(wrong))} in hazards.toml")
        source = raw.get("source", default_source)
        if not source:
            raise CatalogueError(f"{where}: no source")
        substances = self.pages.carried(raw.get("substances"), product, where)
        own = [raw["code"]] if "code" in raw else []
        return Word(
            word=raw["word"],
            also=tuple(raw.get("also", ())),
            codings=self.codings(own + list(raw.get("more", ())), where),
            tags=frozenset(raw.get("tags", ())),
            source=source,
            recheck=bool(raw.get("recheck", False)),
            note=raw.get("note", ""),
            substances=substances,
            key=f"{where.split('.')[1]}/{raw['word']}",
        )

    def answer_list(self, key: str, raw: Mapping[str, Any]) -> AnswerList:
        """Read a list; the words of the lists that ``with`` names, which stand before it, come first."""
        if wrong := set(raw.get("with", ())) - self.answers.keys():
            raise CatalogueError(f"answers.{key}: with names no list before it: {', '.join(sorted(wrong))}")
        words = tuple(word for other in raw.get("with", ()) for word in self.answers[other].words)
        carried = raw.get("substances", "")
        words += tuple(self.word(w, raw.get("source", ""), f"answers.{key}", bool(carried)) for w in raw["words"])
        by_word: dict[str, Word] = {}
        by_code: dict[tuple[str, str], Word] = {}
        for word in words:
            for spelling in (word.word, *word.also):
                if by_word.setdefault(same_form(spelling), word) is not word:
                    raise CatalogueError(f"answers.{key}: {spelling!r} stands for two words")
        for word in words:
            if word.codings and by_code.setdefault(word.codings[0].key, word) is not word:
                raise CatalogueError(f"answers.{key}: code {word.codings[0].code} stands for two words")
        for word in words:
            by_code[PATHS, word.key] = word
            for coding in word.codings[1:]:
                by_code.setdefault(coding.key, word)
        if raw.get("other") and raw["other"] not in self.pages.hazards:
            raise CatalogueError(f"answers.{key}: no hazard {raw['other']!r} in hazards.toml")
        title, source, other = raw.get("title", key), raw.get("source", ""), raw.get("other", "")
        return AnswerList(key, title, bool(raw.get("open", True)), source, words, by_word, by_code, other, carried)

    def concept(
        self, group: str, key: str, raw: Mapping[str, Any], of: Concept | None = None, of_key: str = ""
    ) -> Concept:
        where = f"{group}.{of_key + '.' if of_key else ''}{key}"
        if unknown := raw.keys() - _CONCEPT_KEYS:
            raise CatalogueError(f"{where}: unknown keys {sorted(unknown)}")
        if lacking := [key for key in ("label", "shape") if not raw.get(key)]:
            raise CatalogueError(f"{where}: lacks {', '.join(lacking)}")
        shape, resource = raw["shape"], raw.get("resource", "component" if of_key else "observation")
        role = raw.get("role", "optional")
        if not isinstance(shape, str) or resource not in RESOURCES or role not in ROLES:
            raise CatalogueError(f"{where}: unknown shape, resource or role")
        codes = ([raw["code"]] if "code" in raw else []) + list(raw.get("also", ()))
        if codes and not (raw.get("source") or of_key):
            raise CatalogueError(f"{where}: no source")
        try:
            answers = self.answers[raw["answers"]] if "answers" in raw else None
        except KeyError as error:
            raise CatalogueError(f"{where}: no answer list {error}") from None
        fields = {k: self.concept(group, k, v, of_key=key) for k, v in raw.get("fields", {}).items()}
        if raw.get("main") is not None and raw["main"] not in fields:
            raise CatalogueError(f"{where}: main names no field")
        return Concept(
            key=key,
            group=group,
            label=raw["label"],
            question=raw.get("question", raw["label"]),
            shape=shape,
            resource=resource,
            codings=self.codings(codes, where),
            role=role,
            when=tuple(raw.get("when", ())),
            source=raw.get("source", ""),
            page=read_page(raw, where, bool(of_key), self.pages),
            answers=answers,
            unit=raw.get("unit"),
            units=tuple(raw.get("units", [raw["unit"]] if "unit" in raw else [])),
            ratio=bool(raw.get("ratio", False)),
            low=raw.get("low"),
            high=raw.get("high"),
            parent=raw.get("parent"),
            many=bool(raw.get("many", False)),
            main=raw.get("main"),
            native=raw.get("native"),
            activity=raw.get("activity"),
            details=self.coding(raw["details"], where) if "details" in raw else None,
            recheck=bool(raw.get("recheck", False)),
            of=of_key or None,
            asked=read_asked(raw.get("asked"), role, where),
            fields=fields,
        )


@cache
def catalogue() -> Catalogue:
    """Load the catalogue once.

    Returns
    -------
    Catalogue

    Raises
    ------
    CatalogueError
        When the files do not hold together.

    Examples
    --------
    >>> catalogue().concept("assessment.length").codings[0].code
    '39126-8'
    """
    reader = Reader()
    for _, lists in reader.folder_toml("answers"):
        for key, raw in lists.items():
            if key in reader.answers:
                raise CatalogueError(f"answers.{key} stands in two files")
            reader.answers[key] = reader.answer_list(key, raw)
    raw_groups = dict(reader.folder_toml("concepts"))
    groups = {
        group: {key: reader.concept(group, key, raw) for key, raw in raw_groups[group].items()} for group in GROUPS
    }
    check_together(groups)
    raw_codes = reader.toml("codes.toml")
    for key, raw in raw_codes.items():
        if not raw.get("source"):
            raise CatalogueError(f"codes.{key}: no source")
    return Catalogue(
        systems=reader.systems,
        groups=groups,
        answers=reader.answers,
        codes={key: reader.coding(raw, f"codes.{key}") for key, raw in raw_codes.items()},
        sources={key: raw["source"] for key, raw in raw_codes.items()},
        pages=reader.pages,
        reasoned=_reasoned(reader, groups),
        units={spelling: code for code, spellings in reader.toml("units.toml").items() for spelling in spellings},
    )


def _reasoned(reader: Reader, groups: Mapping[str, Mapping[str, Concept]]) -> frozenset[str]:
    """Read ``reasons.toml``; refuse a path that names nothing. ``patient`` is the frame's, not a group's."""
    paths = frozenset(reader.toml("reasons.toml")["needed"])
    known = {c.path for group in groups.values() for one in group.values() for c in (one, *one.fields.values())}
    if wrong := sorted(path for path in paths - known if not path.startswith("patient.")):
        raise CatalogueError(f"reasons.toml: no concept {', '.join(wrong)}")
    return paths
