"""What a site adds to the catalogue, and what is known of the site; ``woundfhir/site/`` reads both from its folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Raw = Mapping[str, Any]
#: The name by which a site's entries call the site's own code system.
OWN = "own"
#: Texts in other languages: each with the code of its language, in the order of the languages.
Labels = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SiteFacts:
    """What is known of a site beside its entries.

    Attributes
    ----------
    name, title
        A short name for ids of FHIR, and the name for people.
    base
        Base URL of its own codes, profiles and extensions.
    folder
        Where it was read from.
    version
        Of its package.
    identifiers
        ``wound`` and ``visit`` -> the system of the numbers that the site gives them.
    policy, defaults
        Its files, where it has them.
    checklists
        Checklists to judge by: names, and files.
    language
        The language of what people read there.
    """

    name: str
    title: str
    base: str
    folder: Path
    version: str = "0.1.0"
    identifiers: Mapping[str, str] = field(default_factory=dict)
    policy: Path | None = None
    defaults: Path | None = None
    checklists: tuple[str | Path, ...] = ()
    language: str | None = None

    @property
    def code_system(self) -> str:
        """Canonical URL of the CodeSystem of its own codes."""
        return f"{self.base}/CodeSystem/{self.name}"


@dataclass(frozen=True, slots=True)
class Additions:
    """Entries of a site, in the form of the shipped files, each whole.

    Attributes
    ----------
    site
        Whose they are.
    systems
        Name of a code system -> its URL.
    answers
        Key of a list -> the list; of a list that is shipped, its further ``words`` alone.
    concepts
        Group -> key -> the concept; of a concept that is shipped, its further ``fields`` alone.
    labels
        Path of a concept, or ``list/word`` -> its labels in other languages.
    """

    site: SiteFacts
    systems: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, Raw] = field(default_factory=dict)
    concepts: Mapping[str, Mapping[str, Raw]] = field(default_factory=dict)
    labels: Mapping[str, Labels] = field(default_factory=dict)
