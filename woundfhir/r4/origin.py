"""FHIR that was made of another form: each value remembers where in the source it stood.

A converter builds resources of ``Leaf`` values. ``Source.add`` takes them apart into plain resources and traces, and
``Source`` accounts for every leaf of the source, those that no resource took among them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

Json = Any
#: Steps from the root of a source to one of its values; joined they are its name.
Position = tuple[str, ...]
Path = tuple[Any, ...]
Trace = dict[Path, tuple[Position, ...]]


class Leaf(NamedTuple):
    """One value, and the places in the source that say it."""

    value: Json
    at: tuple[Position, ...]


class Fate(NamedTuple):
    """What becomes of a leaf of the source: kind and reason, as in a report."""

    kind: str
    why: str


def tagged(value: Json, at: tuple[Position, ...]) -> Json:
    """Return a value in which every leaf remembers one origin.

    Examples
    --------
    >>> tagged({"text": "x"}, (("a",),))
    {'text': Leaf(value='x', at=(('a',),))}
    """
    if isinstance(value, Mapping):
        return {key: tagged(item, at) for key, item in value.items()}
    if isinstance(value, list):
        return [tagged(item, at) for item in value]
    return value if isinstance(value, Leaf) else Leaf(value, at)


def apart(value: Json) -> tuple[Json, Trace]:
    """Return a value without its origins, and the origins by path; empty members are left out.

    Examples
    --------
    >>> apart({"name": [{"text": Leaf("x", (("a",),))}], "note": []})
    ({'name': [{'text': 'x'}]}, {('name', 0, 'text'): (('a',),)})
    """
    trace: Trace = {}
    return _apart(value, (), trace), trace


def _apart(value: Json, path: Path, trace: Trace) -> Json:
    if isinstance(value, Leaf):
        trace[path] = value.at
        return value.value
    if isinstance(value, dict):
        made = {key: _apart(item, (*path, key), trace) for key, item in value.items() if item not in (None, {}, [])}
        return {key: item for key, item in made.items() if item not in (None, {}, [])}
    if isinstance(value, list):
        full = [item for item in value if item not in (None, {}, [])]
        return [_apart(item, (*path, number), trace) for number, item in enumerate(full)]
    return value


@dataclass(slots=True)
class Source:
    """One source, and what was made of it.

    Parameters
    ----------
    leaves
        Every value of the source, and what becomes of it where no resource takes it.
    units
        Parts that are kept whole where the record does not hold all of them: position -> its text.
    reported
        Leaves whose fate is known, whatever was made of them.
    resources, traces
        Plain resources, and by ``Type/id`` where their values stood.
    spans
        Parts of which a resource was made -> ``Type/id`` of it: what becomes of that becomes of what is around its
        values.
    notices, inferred
        What the reader must know; what was concluded without being written.
    """

    leaves: dict[Position, Fate] = field(default_factory=dict)
    units: dict[Position, Callable[[], str]] = field(default_factory=dict)
    reported: dict[Position, Fate] = field(default_factory=dict)
    resources: list[dict[str, Json]] = field(default_factory=list)
    traces: dict[str, Trace] = field(default_factory=dict)
    spans: dict[Position, str] = field(default_factory=dict)
    notices: list[str] = field(default_factory=list)
    inferred: list[str] = field(default_factory=list)
    _named: dict[str, dict[str, Json]] = field(default_factory=dict, init=False, repr=False)

    def add(self, made: dict[str, Json]) -> dict[str, str]:
        """Add a resource made of leaves and return a reference to it.

        One that came before under the same name is the same thing again: what it adds is added, and what it
        says otherwise is a conflict, in which the first stands. The converter sees to it that both may be one.
        """
        plain, trace = apart(made)
        name = f"{plain['resourceType']}/{plain['id']}"
        if name in self.traces:
            self._fold(self._named[name], plain, (), name, trace)
        else:
            self._named[name] = plain
            self.resources.append(plain)
            self.traces[name] = trace
        return {"reference": name}

    def _fold(self, known: Json, plain: Json, path: Path, name: str, trace: Trace) -> None:
        for key, item in plain.items() if isinstance(plain, dict) else enumerate(plain):
            here = (*path, key)
            fresh = key not in known if isinstance(known, dict) else key >= len(known)
            if fresh:
                if isinstance(known, dict):
                    known[key] = item
                else:
                    known.append(item)
                self.traces[name].update({where: at for where, at in trace.items() if where[: len(here)] == here})
            elif isinstance(item, dict | list) and type(known[key]) is type(item):
                self._fold(known[key], item, here, name, trace)
            elif known[key] == item:
                self.traces[name][here] = (*self.traces[name].get(here, ()), *trace.get(here, ()))
            else:
                for at in trace.get(here, ()):
                    self.reported[at] = Fate("conflict", SAYS_OTHERWISE)

    def unit_of(self, position: Position) -> Position | None:
        """Return the part that a value stands in."""
        found = (position[:length] for length in range(len(position), 0, -1))
        return next((one for one in found if one in self.units), None)

    def below(self, position: Position) -> Iterator[Position]:
        """Yield every leaf that stands in a part."""
        return (one for one in self.leaves if one[: len(position)] == position)

    def aside(self, position: Position, kind: str, why: str) -> None:
        """Say why nothing is made of a part; its mere form stays what it is."""
        for one in self.below(position):
            if self.leaves[one].kind != "bookkeeping":
                self.leaves[one] = Fate(kind, why)

    def report(self, leaf: Leaf, kind: str, why: str) -> None:
        """Say what became of a value, whatever is made of it."""
        self.reported.update(dict.fromkeys(leaf.at, Fate(kind, reason(kind, why))))


def reason(kind: str, why: str) -> str:
    """Return a reason that begins with its kind, by which reports sort it; what is kept needs no such word.

    Examples
    --------
    >>> reason("not-understood", "expected a number"), reason("kept", "no place in the record")
    ('not understood: expected a number', 'no place in the record')
    """
    return why if kind == "kept" else f"{kind.replace('-', ' ')}: {why}"


#: Of a value that nothing is made of.
NO_PLACE = Fate("kept", "no place in the record")
SAYS_OTHERWISE = "conflict: another entry with the same id says otherwise, and stands"
