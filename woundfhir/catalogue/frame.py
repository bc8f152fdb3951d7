"""The frame of a record (client, author, visit, wound, contact, allergy) as data, read strictly from ``frame.toml``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from woundfhir.catalogue.data_file import data_file
from woundfhir.catalogue.model import CatalogueError
from woundfhir.catalogue.reader import GROUPS
from woundfhir.language import ENGLISH, spoken
from woundfhir.texts import over

#: Shape of a key -> what ``of`` names: a part of the frame, a group of concepts, or nothing.
SHAPES: Mapping[str, str] = {
    "version": "",
    "zone": "",
    "id": "",
    "text": "",
    "texts": "",
    "date": "",
    "word": "",
    "known texts": "",
    "part": "part",
    "parts": "part",
    "known parts": "part",
    "answers": "group",
    "inline answers": "group",
    "item answers": "group",
}
#: Groups whose answers stand under their own names in what a visit says of one wound (the part ``entry``).
ENTRY_GROUPS = ("assessment", "care", "plan")
#: Lists there -> the group of their items.
ENTRY_LISTS: Mapping[str, str] = {"supplies": "supply", "photos": "photo"}
_KEYS = frozenset(("label", "question", "shape", "of", "words", "needed", "always", "bare", "note"))
_PART_KEYS = frozenset(("title", "says", "bare", "keys"))


@dataclass(frozen=True, slots=True, eq=False)
class FrameKey:
    """One key of a part of the frame; ``frame.toml`` says what each member means."""

    key: str
    path: str
    label: str
    question: str
    shape: str
    of: str = ""
    words: tuple[str, ...] = ()
    needed: bool = False
    always: bool = False
    bare: str = ""
    note: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One part of the frame, its keys in canonical order."""

    name: str
    title: str
    says: str
    bare: str
    keys: Mapping[str, FrameKey]


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """All parts, by name."""

    parts: Mapping[str, Part]

    @property
    def record(self) -> Part:
        """The part at the top."""
        return self.parts["record"]

    def every_key(self) -> Iterator[FrameKey]:
        """Yield every key that is written as such, part by part."""
        for part in self.parts.values():
            yield from (key for key in part.keys.values() if key.shape != "inline answers")

    def at(self, steps: Sequence[str | int], start: str = "record") -> FrameKey | None:
        """Return the key that a path ends in, or None where that is no key of the frame.

        Parameters
        ----------
        steps
            Keys, and positions in lists.
        start
            The part in which the first key stands.

        Examples
        --------
        >>> frame().at(["visits", 0, "by", "name"]).path
        'author.name'
        >>> frame().at(["by", "name"], "visit").path, frame().at(["visits", 0, "nurse"])
        ('author.name', None)
        """
        part = self.parts.get(start)
        found = None
        for step in steps:
            if isinstance(step, str):
                found = part.keys.get(step) if part is not None else None
                part = self.parts.get(found.of) if found is not None and SHAPES[found.shape] == "part" else None
        return found


def frame() -> Frame:
    """Return the frame, its titles and questions in the language that holds; each is loaded once.

    Raises
    ------
    CatalogueError
        For a misspelt key, an unknown shape, part or group, a part that nothing holds.

    Examples
    --------
    >>> list(frame().parts["contact"].keys)
    ['name', 'role', 'phone']
    """
    return _frame(spoken().key)


@cache
def _frame(language: str) -> Frame:
    raw = data_file("frame.toml")
    if language != ENGLISH.key:
        parts = _other(language)
        raw = over(raw, {name: part for name, part in parts.items() if name != "words"})
    return read_frame(raw)


@cache
def _other(language: str) -> dict[str, Any]:
    """What another language says; nothing for one that has no file yet."""
    return data_file(language, "frame.toml")


def frame_word(written: str) -> str:
    """Return a word of a key that has few (a status, a sex) in the language that holds; other words as they are.

    Examples
    --------
    >>> from woundfhir.language import speaking
    >>> with speaking("fr"):
    ...     frame_word("open"), frame_word("entered in error"), frame_word("on hold")
    ('ouverte', 'inscrite par erreur', 'on hold')
    """
    found = {} if spoken() is ENGLISH else _other(spoken().key).get("words", {})
    return str(found.get(written.casefold(), written))


def read_frame(raw: Mapping[str, Any]) -> Frame:
    """Read the parts from their TOML; see ``frame``."""
    parts = {name: _part(name, entry) for name, entry in raw.items()}
    for part in parts.values():
        for key in part.keys.values():
            known = {"part": parts, "group": GROUPS, "": ("",)}[SHAPES[key.shape]]
            if key.of not in known:
                raise CatalogueError(f"frame.{key.path}: no {SHAPES[key.shape] or 'need for'} {key.of!r}")
    held = {key.of for part in parts.values() for key in part.keys.values() if SHAPES[key.shape] == "part"}
    if lost := parts.keys() - held - {"record"}:
        raise CatalogueError(f"frame: nothing holds {', '.join(sorted(lost))}")
    return Frame(parts)


def _part(name: str, raw: Mapping[str, Any]) -> Part:
    if unknown := raw.keys() - _PART_KEYS:
        raise CatalogueError(f"frame.{name}: unknown keys {sorted(unknown)}")
    keys = {key: _key(name, key, entry) for key, entry in raw["keys"].items()}
    bare = raw.get("bare", "")
    if bare and bare not in keys:
        raise CatalogueError(f"frame.{name}: bare names no key")
    return Part(name, raw["title"], raw["says"], bare, keys)


def _key(part: str, key: str, raw: Mapping[str, Any]) -> FrameKey:
    where = f"frame.{part}.{key}"
    if unknown := raw.keys() - _KEYS:
        raise CatalogueError(f"{where}: unknown keys {sorted(unknown)}")
    if missing := {"label", "question", "shape"} - raw.keys():
        raise CatalogueError(f"{where}: no {', '.join(sorted(missing))}")
    if raw["shape"] not in SHAPES:
        raise CatalogueError(f"{where}: unknown shape {raw['shape']!r}")
    if (raw["shape"] == "word") != bool(raw.get("words")) and raw["shape"] != "text":
        raise CatalogueError(f"{where}: words belong to word and text, and word needs them")
    return FrameKey(key, f"{part}.{key}", **{**raw, "words": tuple(raw.get("words", ()))})
