"""The one table that says what a code means, and which map decides it: the maps shipped, and those of a site."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from importlib.resources import files
from pathlib import Path
from typing import Any

import msgspec

from woundfhir.catalogue import Catalogue, catalogue, per_catalogue
from woundfhir.errors import InputError
from woundfhir.limits import SITE_LIMIT, read_whole
from woundfhir.maps import conceptmap, shapes, tsv
from woundfhir.maps.model import CodeMap, Mapping, Target
from woundfhir.maps.shapes import Shape

Json = Any
CodeKey = tuple[str, str]
SUFFIXES = (".tsv", ".json")


class Table:
    """What each code means, by layers of maps: a later layer decides alone about the codes that it names.

    Parameters
    ----------
    layers
        The maps of each layer; the first is what is shipped.

    Raises
    ------
    InputError
        Where one layer reads one code as two things: names both lines.
    """

    def __init__(self, layers: Sequence[Sequence[CodeMap | Shape]]) -> None:
        self.layers = [[one for one in layer if isinstance(one, CodeMap)] for layer in layers]
        named = {one.name: one for layer in layers for one in layer if isinstance(one, Shape)}
        #: Shapes by the type of resource that they read; of two with one name the later one.
        self.shapes: dict[str, list[Shape]] = {}
        for shape in named.values():
            self.shapes.setdefault(shape.resource, []).append(shape)
        self.by_code: dict[CodeKey, tuple[Mapping, ...]] = {}
        #: Codes that a site's map decides, though the catalogue has them.
        self.overruled: set[CodeKey] = set()
        known = set(catalogue().emitted())
        #: Codes that the catalogue writes beside others, with those others: where one of them stands, it decides.
        self.beside = catalogue().beside()
        for number, layer in enumerate(self.layers):
            found = _layer(layer)
            self.by_code |= found
            if number:
                self.overruled |= found.keys() & known
        self.codes = frozenset(code for _, code in self.by_code)

    def joined(self, layers: Sequence[Sequence[CodeMap | Shape]]) -> Table:
        """Return this table with more layers, which decide before it."""
        mine: list[list[CodeMap | Shape]] = [list(layer) for layer in self.layers]
        mine[0] += [shape for some in self.shapes.values() for shape in some]
        return Table([*mine, *layers])

    def meaning(self, system: str, code: str) -> list[Mapping]:
        """Return what a code means: a line for each concept, and each answer of a list, with the map that says so.

        Examples
        --------
        >>> [one.target.id for one in shipped().meaning("http://snomed.info/sct", "399912005")]
        ['answer:wound_kind/pressure injury']
        """
        found = list(self.by_code.get((system, code), ()))
        return found if (system, code) in self.overruled else [*_of_catalogue(system, code), *found]

    def systems_of(self, code: str) -> list[str]:
        """Return the systems in which a code is known."""
        found = [*self.by_code, *catalogue().emitted()]
        return sorted({system for system, one in found if one == code})


def _layer(maps: Iterable[CodeMap]) -> dict[CodeKey, tuple[Mapping, ...]]:
    found: dict[CodeKey, list[Mapping]] = {}
    for one in (mapping for code_map in maps for mapping in code_map.mappings):
        for other in found.setdefault(one.key, []):
            if one.target == other.target and one.equivalence == other.equivalence:
                break
            if (
                one.target is None
                or other.target is None
                or one.target == other.target
                or one.target.slot == other.target.slot
            ):
                wrong = f"the same code is read as another thing in {other.where}"
                raise InputError(one.where, "one meaning for one code", "Take one of the two out", found=wrong)
        else:
            found[one.key].append(one)
    return {key: tuple(some) for key, some in found.items()}


def _of_catalogue(system: str, code: str) -> Iterator[Mapping]:
    known, key = catalogue(), (system, code)
    for concept in known.concepts(fields=True):
        if key in concept.keys:
            yield Mapping(system, code, "equal", Target("concept", concept.path), file="the catalogue")
    for name, coding in known.codes.items():
        if coding.key == key:
            yield Mapping(system, code, "equal", Target("code", name), file="the catalogue")
    seen = set()
    for answers in known.answers.values():
        word = answers.by_code.get(key)
        if word is not None and word.key not in seen:
            seen.add(word.key)
            yield Mapping(system, code, "equal", Target("answer", word.key), file="the catalogue")


# -- maps in files ---------------------------------------------------------------------------------


def load(path: str | os.PathLike[str]) -> list[CodeMap | Shape]:
    """Return the maps in a file, or in the files of a folder.

    Raises
    ------
    InputError
        For what is no map: names the file, the line and what is wrong.
    """
    given = Path(path)
    if not given.is_dir():
        return [parse(_bytes(given), str(given))]
    found = sorted(one for one in given.rglob("*") if is_map(one.name) and one.is_file())
    if not found:
        raise InputError(str(given), "a folder with maps in it (.tsv or .json)", "Name a map, or the folder of some")
    return [parse(_bytes(one), str(one)) for one in found]


def is_map(name: str) -> bool:
    """Whether a file of a folder is a map, by its name: its cases stand beside it.

    Examples
    --------
    >>> is_map("north.tsv"), is_map("north.cases.json"), is_map("notes.txt")
    (True, False, False)
    """
    return name.lower().endswith(SUFFIXES) and ".cases." not in name


def parse(content: bytes, where: str) -> CodeMap | Shape:
    """Return what is in a file: a map of codes (ConceptMap in JSON, else TSV), or a shape (ViewDefinition)."""
    if content.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
        try:
            found = msgspec.json.decode(content.removeprefix(b"\xef\xbb\xbf"))
            return shapes.read(found, where) if "select" in found else conceptmap.read(found, where)
        except (msgspec.DecodeError, UnicodeDecodeError, AttributeError, TypeError):
            fix = "Check the file with a FHIR validator"
            raise InputError(where, "a ConceptMap or a ViewDefinition in JSON", fix) from None
    try:
        return tsv.read(content.decode("utf-8-sig"), where)
    except UnicodeDecodeError:
        raise InputError(where, "text in UTF-8", "Save it again as UTF-8") from None


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return read_whole(file, SITE_LIMIT)
    except FileNotFoundError:
        wrong = "there is no such file"
        raise InputError(str(path), "a map: a file or a folder", "Check the name", found=wrong) from None
    except (OSError, ValueError):
        raise InputError(str(path), "a map that can be read", "Check the file") from None


def shipped_folder() -> Path:
    """Return the folder of the maps that come with the toolkit."""
    return Path(str(files("woundfhir.maps"))) / "data"


@per_catalogue()
def shipped() -> Table:
    """Return the table of the maps that come with the toolkit.

    Examples
    --------
    >>> [line.read for line in shipped().meaning("http://snomed.info/sct", "399912005")]
    [True]
    """
    folder = shipped_folder()
    names = sorted(one.name for one in folder.iterdir() if one.name.endswith(".tsv"))
    maps: list[CodeMap | Shape] = [tsv.read((folder / name).read_text("utf-8"), name) for name in names]
    return Table([[*maps, *shapes.shipped_shapes()]])


#: The maps in force, with the catalogue that they are for: under a site's they are others.
_IN_FORCE: ContextVar[tuple[Catalogue, Table] | None] = ContextVar("maps in force", default=None)


def in_force() -> Table:
    """Return the table by which codes are read here: what is shipped, and the maps of ``using``.

    Examples
    --------
    >>> in_force() is shipped()
    True
    """
    held = _IN_FORCE.get()
    return held[1] if held is not None and held[0] is catalogue() else shipped()


@contextmanager
def using(paths: Iterable[str | os.PathLike[str]]) -> Iterator[Table]:
    """Read codes by these maps too, later ones first; until the block ends, and for nobody else.

    Raises
    ------
    InputError
        For whatever ``load`` and ``Table`` refuse.
    """
    layers = [load(path) for path in paths]
    table = in_force().joined(layers) if layers else in_force()
    token = _IN_FORCE.set((catalogue(), table))
    try:
        yield table
    finally:
        _IN_FORCE.reset(token)
