"""What an entry says for a reader: why it is asked for, where it is printed, which answers call for attention."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from woundfhir.catalogue.model import ALSO, LAST, MARKS, Asked, CatalogueError, Concept, Front, Page

#: Keys of a concept's entry that are read here.
PAGE_KEYS = frozenset(("section", "rank", "short", "pattern", "brief", "stays", "front", "hazard", "unprinted"))
PAGE_KEYS |= {"each", "dated", "beside", "lasting"}
#: The name of a field in a pattern.
SLOT = re.compile(r"\{(\w+)\}")
_ASKED_TEXTS = frozenset(("why", "example", "source", "mark"))
_ASKED_KEYS = _ASKED_TEXTS | {"instead", "standing"}


@dataclass(frozen=True, slots=True)
class Section:
    """A section of the printed page, and the section of the document whose narrative holds the same."""

    key: str
    title: str
    document: str


@dataclass(frozen=True, slots=True)
class Hazard:
    """Something that calls for attention: a title, the question that is asked, and who says so.

    Attributes
    ----------
    rank
        Place in order of urgency, from 0.
    tags, least
        Beginning of the tags that are counted, and how many different ones are a hazard together.
    rules
        Codes of the rules of the checklist that ask the same.
    client
        Whether it is about the whole client, and not about one wound.
    """

    key: str
    title: str
    ask: str
    source: str
    mark: str
    rank: int
    tags: str = ""
    least: int = 0
    rules: tuple[str, ...] = ()
    client: bool = False


@dataclass(frozen=True, slots=True)
class Substance:
    """Something that products carry: the words by which an allergy names it.

    ``by_name`` says that no product states it, and that one is meant whose own name holds such a word.
    """

    key: str
    called: tuple[str, ...]
    by_name: bool = False


def read_page(raw: Mapping[str, Any], where: str, is_field: bool, known: PageTables) -> Page:
    """Read where a concept stands; refuse a section or hazard that does not exist, and a section without a rank."""
    section = raw.get("section")
    if is_field and section is not None:
        raise CatalogueError(f"{where}: a field is printed with its group and has no section")
    if section is not None and raw.get("unprinted"):
        raise CatalogueError(f"{where}: it has a section, so it cannot be unprinted")
    if section is not None and section not in known.sections:
        raise CatalogueError(f"{where}: no section {section!r} in sections.toml")
    if (section is None) == isinstance(raw.get("rank"), int):
        raise CatalogueError(f"{where}: a section needs a rank (a whole number), and a rank a section")
    slots = [raw[key] for key in ("each", "dated") if key in raw] + SLOT.findall(raw.get("pattern", ""))
    if wrong := set(slots) - raw.get("fields", {}).keys():
        raise CatalogueError(f"{where}: each, dated and pattern name fields of its own, not {', '.join(sorted(wrong))}")
    hazards = raw.get("hazard", {})
    if wrong := {*hazards.values()} - known.hazards.keys():
        raise CatalogueError(f"{where}: no hazard {', '.join(sorted(wrong))} in hazards.toml")
    front = raw.get("front")
    if front is not None and (not front.get("question") or front.keys() - {"question", "missing", "when", "own"}):
        raise CatalogueError(f"{where}: front holds question, and missing, when and own where they apply")
    return Page(
        section=section or ALSO,
        rank=raw.get("rank", LAST),
        short=raw.get("short", ""),
        pattern=raw.get("pattern", ""),
        brief=bool(raw.get("brief", False)),
        stays=bool(raw.get("stays", False)),
        front=Front(**front) if front is not None else None,
        hazards=hazards,
        unprinted=raw.get("unprinted", ""),
        each=raw.get("each", ""),
        dated=raw.get("dated", ""),
        beside=raw.get("beside", ""),
        lasting=bool(raw.get("lasting", False)),
    )


@dataclass(frozen=True, slots=True)
class PageTables:
    """What entries refer to: sections in reading order, hazards most urgent first, substances and their names."""

    sections: Mapping[str, Section]
    hazards: Mapping[str, Hazard]
    substances: Mapping[str, Substance]

    def carried(self, raw: Sequence[str] | None, product: bool, where: str) -> frozenset[str] | None:
        """Return the substances that a word states; a product states them (none is an empty list), others do not."""
        if (raw is not None) is not product:
            raise CatalogueError(f"{where}: " + ("lacks substances, [] for none" if product else "is no product"))
        stated = {key for key, one in self.substances.items() if not one.by_name}
        if wrong := set(raw or ()) - stated:
            raise CatalogueError(f"{where}: no substance {', '.join(sorted(wrong))} in substances.toml")
        return None if raw is None else frozenset(raw)

    @classmethod
    def read(
        cls, sections: Mapping[str, Any], hazards: Mapping[str, Any], substances: Mapping[str, Any], texts: Any
    ) -> PageTables:
        """Read the files; refuse a section or hazard without its words, source or mark."""
        for name, table in (("sections", sections), ("hazards", hazards)):
            if wrong := table.keys() ^ texts[name].keys():
                raise CatalogueError(f"texts, {name}: not the same keys as {name}.toml: {', '.join(sorted(wrong))}")
        made = {key: Section(key, texts["sections"][key], raw["document"]) for key, raw in sections.items()}
        for key, raw in hazards.items():
            if not raw.get("source") or raw.get("mark") not in MARKS:
                raise CatalogueError(f"hazards.{key}: needs a source and a mark")
        asked = {
            key: Hazard(key=key, rank=rank, **texts["hazards"][key], **{**raw, "rules": tuple(raw.get("rules", ()))})
            for rank, (key, raw) in enumerate(hazards.items())
        }
        carried = {
            key: Substance(key, tuple(raw["called"]), bool(raw.get("by_name", False)))
            for key, raw in substances.items()
        }
        return cls(made, asked, carried)


def read_asked(raw: Mapping[str, Any] | None, role: str, where: str) -> Asked | None:
    """Read why a concept is asked for: needed where it is required or expected, refused where it is optional."""
    if raw is None:
        if role != "optional":
            raise CatalogueError(f"{where}: {role}, so it needs a table 'asked' with {', '.join(sorted(_ASKED_TEXTS))}")
        return None
    if role == "optional":
        raise CatalogueError(f"{where}: optional, so it has no table 'asked'; make it required or expected")
    if unknown := raw.keys() - _ASKED_KEYS:
        raise CatalogueError(f"{where}.asked: unknown keys {sorted(unknown)}")
    if lacking := sorted(key for key in _ASKED_TEXTS if not raw.get(key)):
        raise CatalogueError(f"{where}.asked: lacks {', '.join(lacking)}")
    if raw["mark"] not in MARKS:
        raise CatalogueError(f"{where}.asked: mark is one of {'; '.join(sorted(MARKS))}")
    return Asked(
        raw["why"],
        raw["example"],
        raw["source"],
        raw["mark"],
        tuple(raw.get("instead", ())),
        bool(raw.get("standing", False)),
    )


def check_together(groups: Mapping[str, Mapping[str, Concept]]) -> None:
    """Refuse an ``instead`` that names no concept, and two concepts of one group at one place of a section."""
    paths = {c.path for group in groups.values() for top in group.values() for c in (top, *top.fields.values())}
    taken: dict[tuple[str, str, int], str] = {}
    for concept in (one for group in groups.values() for one in group.values()):
        if concept.asked and (wrong := set(concept.asked.instead) - paths):
            raise CatalogueError(f"{concept.path}.asked: instead names no concept: {', '.join(sorted(wrong))}")
        outer = groups[concept.group].get(concept.within) if concept.within else None
        if concept.within and (outer is None or outer.within or outer.fields or outer.shape in ("choices", "share")):
            raise CatalogueError(f"{concept.path}: within names no concept of its group with one Observation")
        host = groups[concept.group].get(concept.page.beside)
        if concept.page.beside and (host is None or host.page.section != concept.page.section or host.page.beside):
            raise CatalogueError(f"{concept.path}: beside names no concept of its group and section with a cell")
        place = (concept.group, concept.page.section, concept.page.rank)
        if concept.page.rank != LAST and taken.setdefault(place, concept.path) != concept.path:
            raise CatalogueError(f"{concept.path}: rank {concept.page.rank} of its section is that of {taken[place]}")
