"""Read the catalogue's TOML strictly: a misspelt key, an unknown list or a code without a source stops the load."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from woundfhir.catalogue.model import CatalogueError, Concept
from woundfhir.catalogue.page import check_together
from woundfhir.catalogue.reader import Reader
from woundfhir.catalogue.site import Additions
from woundfhir.catalogue.whole import Catalogue
from woundfhir.language import ENGLISH, Language


@cache
def shipped() -> Catalogue:
    """Load the catalogue that comes with the toolkit, once.

    Raises
    ------
    CatalogueError
        When the files do not hold together.
    """
    return load()


def load(added: Additions | None = None, language: Language = ENGLISH) -> Catalogue:
    """Return the shipped catalogue, with what a site adds to it; what it says to readers in a language.

    Raises
    ------
    CatalogueError
        When the files, or they and what is added, do not hold together.
    """
    reader = Reader(added, language)
    for key, raw in reader.raw_answers().items():
        reader.answers[key] = reader.answer_list(key, raw)
    groups = {
        group: {key: reader.concept(group, key, raw) for key, raw in raws.items()}
        for group, raws in reader.raw_concepts().items()
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
        codes_known_as={
            key: reader.known_as(raw, f"codes.{key}") for key, raw in raw_codes.items() if "known_as" in raw
        },
        sources={key: raw["source"] for key, raw in raw_codes.items()},
        pages=reader.pages,
        reasoned=_reasoned(reader, groups),
        units={spelling: code for code, spellings in reader.toml("units.toml").items() for spelling in spellings},
        site=None if added is None else added.site,
        added=added,
        language=language,
    )


def _reasoned(reader: Reader, groups: Mapping[str, Mapping[str, Concept]]) -> frozenset[str]:
    """Read ``reasons.toml``; refuse a path that names nothing. ``patient`` is the frame's, not a group's."""
    paths = frozenset(reader.toml("reasons.toml")["needed"])
    known = {c.path for group in groups.values() for one in group.values() for c in (one, *one.fields.values())}
    if wrong := sorted(path for path in paths - known if not path.startswith("patient.")):
        raise CatalogueError(f"reasons.toml: no concept {', '.join(wrong)}")
    return paths
