"""Shapes of other guides as data: tables in the form of SQL-on-FHIR's ViewDefinition, whose rows are facts.

A row says: this concept of the catalogue has this value; where a column is missing, the resource's own links say of
which wound, when and by whom. The columns that readers know are ``COLUMNS``, and the fields of a group.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import msgspec

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.errors import InputError
from woundfhir.maps.fhirpath import Compiled, Node, Nodes, compiled

Json = Any
Row = dict[str, Nodes]
#: concept: its path, or SYSTEM|CODE that a map knows; value: what is said; of which wound, when, by whom.
COLUMNS = ("concept", "value", "wound", "time", "author")
#: Beside the columns of a row: the node that forEach chose.
EACH = ""
_KEYS = {"forEach", "forEachOrNull", "repeat", "column", "select", "unionAll"}
_VIEW = {"resourceType", "name", "title", "description", "status", "resource", "constant", "where", "select"}


@dataclass(frozen=True, slots=True)
class Shape:
    """One view, compiled.

    Attributes
    ----------
    name, title, resource
        What it is called, what it reads, and the type of resource.
    where, select
        The conditions, and the selects.
    """

    name: str
    title: str
    resource: str
    where: tuple[Compiled, ...]
    select: tuple[Select, ...]

    def rows(self, resource: Mapping[str, Json]) -> Iterator[Row]:
        """Yield the rows of one resource.

        Examples
        --------
        >>> column = [{"name": "concept", "path": "'wound.cause'"}, {"name": "value", "path": "note.text"}]
        >>> view = {"resource": "Condition", "name": "x", "select": [{"column": column}]}
        >>> came = {"resourceType": "Condition", "note": [{"text": "fell"}]}
        >>> [row["value"][0].path for row in read(view, "x.json").rows(came)]
        [('note', 0, 'text')]
        """
        root = [Node((), dict(resource))]
        if all((found := test(root)) and found[0].value is True for test in self.where):
            yield from _crossed(self.select, root)


@dataclass(frozen=True, slots=True)
class Select:
    """One select: over which nodes, its columns, and what stands in it."""

    each: Compiled | None
    or_null: bool
    repeat: tuple[Compiled, ...]
    columns: tuple[tuple[str, Compiled], ...]
    inner: tuple[Select, ...]
    union: tuple[Select, ...]

    def rows(self, nodes: Nodes) -> Iterator[Row]:
        """Yield its rows for a node."""
        found = self._nodes(nodes)
        for one in ([node] for node in found):
            here = {name: path(one) for name, path in self.columns}
            if self.each is not None and one[0].path:
                here[EACH] = one
            for more in _crossed(self.inner, one):
                for row in (row for part in self.union for row in part.rows(one)) if self.union else ({},):
                    yield {**here, **more, **row}
        if not found and self.or_null:
            yield {name: [] for name, _ in self.columns}

    def _nodes(self, nodes: Nodes) -> Nodes:
        if not self.repeat:
            return nodes if self.each is None else self.each(nodes)
        out: Nodes = []
        todo = [node for path in self.repeat for node in path(nodes)]
        while todo and len(out) < 100_000:
            out.append(todo.pop(0))
            todo[:0] = [node for path in self.repeat for node in path(out[-1:])]
        return out


def _crossed(selects: tuple[Select, ...], nodes: Nodes) -> Iterator[Row]:
    """Every row of each select with every row of the others, as ViewDefinition has it."""
    if not selects:
        yield {}
        return
    for row in selects[0].rows(nodes):
        for more in _crossed(selects[1:], nodes):
            yield {**row, **more}


def read(view: Mapping[str, Json], where: str) -> Shape:
    """Return a view, compiled.

    Raises
    ------
    InputError
        For a key, a column or an expression that does not hold: names the file and the place.
    """
    try:
        return _compiled(view, where)
    except (AttributeError, KeyError, TypeError, ValueError):
        fix = "Hold it against the shipped ones: a list, an object or a path stands where another belongs"
        raise InputError(where, "a ViewDefinition of SQL on FHIR", fix) from None


def _compiled(view: Mapping[str, Json], where: str) -> Shape:
    _known(view, _VIEW, where)
    if not isinstance(view.get("resource"), str) or not isinstance(view.get("select"), list):
        raise InputError(where, "resource: a type, and select: a list", "Write both, as a ViewDefinition has them")
    constants = []
    for one in view.get("constant", ()):
        value = next((item for key, item in one.items() if key.startswith("value")), None)
        constants.append((str(one.get("name")), value))
    reader = _Reader(where, tuple(constants))
    tests = tuple(reader.path(one["path"], f"where[{n}]") for n, one in enumerate(view.get("where", ())))
    selects = tuple(reader.select(one, f"select[{n}]") for n, one in enumerate(view["select"]))
    return Shape(str(view.get("name", where)), str(view.get("title", "")), view["resource"], tests, selects)


def _known(holder: Json, keys: set[str], where: str) -> None:
    if not isinstance(holder, dict):
        raise InputError(where, "an object", "Look at a shipped shape")
    for key in holder:
        if key not in keys:
            fix = f"The keys are {', '.join(sorted(keys))}"
            raise InputError(f"{where}.{key}", "a key of a ViewDefinition that is read here", fix)


@dataclass(frozen=True, slots=True)
class _Reader:
    where: str
    constants: tuple[tuple[str, Json], ...]

    def path(self, text: Json, place: str) -> Compiled:
        try:
            return compiled(str(text), self.constants)
        except InputError as error:
            raise InputError(f"{self.where}, {place}", error.expected, error.fix, found=error.where) from None

    def select(self, raw: Json, place: str) -> Select:
        _known(raw, _KEYS, f"{self.where}, {place}")
        each = raw.get("forEach", raw.get("forEachOrNull"))
        columns = []
        for number, column in enumerate(raw.get("column", ())):
            here = f"{place}.column[{number}]"
            _known(column, {"name", "path", "collection", "description", "type"}, f"{self.where}, {here}")
            if column.get("name") not in {*COLUMNS, *_fields()}:
                fix = f"Write one of {', '.join(COLUMNS)}, or a field of a group"
                raise InputError(f"{self.where}, {here}.name", "a column that facts have", fix)
            columns.append((str(column["name"]), self.path(column.get("path"), here)))
        return Select(
            None if each is None else self.path(each, place),
            "forEachOrNull" in raw,
            tuple(self.path(one, f"{place}.repeat") for one in raw.get("repeat", ())),
            tuple(columns),
            tuple(self.select(one, f"{place}.select[{n}]") for n, one in enumerate(raw.get("select", ()))),
            tuple(self.select(one, f"{place}.unionAll[{n}]") for n, one in enumerate(raw.get("unionAll", ()))),
        )


@per_catalogue()
def _fields() -> frozenset[str]:
    known = catalogue()
    groups = {field for concept in known.concepts() for field in concept.fields}
    return frozenset(groups | set(known.groups["photo"]) | set(known.groups["supply"]))


def load(content: bytes, where: str) -> Shape:
    """Return the shape in a file.

    Raises
    ------
    InputError
        For what is no JSON, and as ``read``.
    """
    try:
        return read(msgspec.json.decode(content), where)
    except (msgspec.DecodeError, UnicodeDecodeError):
        raise InputError(where, "a ViewDefinition in JSON", "Check the file") from None


@per_catalogue()
def shipped_shapes() -> tuple[Shape, ...]:
    """Return the shapes that come with the toolkit."""
    folder = files("woundfhir.maps") / "data" / "shapes"
    names = sorted(one.name for one in folder.iterdir() if one.name.endswith(".json") and ".cases" not in one.name)
    return tuple(load((folder / name).read_bytes(), name) for name in names)
