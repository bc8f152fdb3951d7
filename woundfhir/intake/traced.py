"""What came in another form than FHIR, read through the same doors; the report names places in that form."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Any

from woundfhir.fhir.fates import TO_LOOK_AT, Leaf, places
from woundfhir.fhir.losses import Loss, Losses
from woundfhir.intake.inputs import Input, from_resources_many
from woundfhir.r4.origin import Fate, Position, Source
from woundfhir.record import History

Json = Any
#: Which of several fates of one value is its fate: that it is said somewhere, else what a person must look at.
_RANK = ("understood", "reworded", "conflict", "withdrawn", "negated", "not-understood", "kept", "bookkeeping")
_SAID = ("understood", "reworded", "bookkeeping")


@dataclass(frozen=True)
class TracedLosses(Losses):
    """What became of the values of another form, by what became of the resources that were made of it.

    Parameters
    ----------
    source
        The source, with the origin of each value of the resources.
    mine
        Which of its values are reported here, where it is of several clients.
    name
        What the source is called.
    """

    source: Source = field(default_factory=Source)
    mine: frozenset[Position] = frozenset()
    name: str = ""

    @cached_property
    def fates(self) -> Mapping[Position, Fate]:
        """The fate of each value of the source."""
        found = dict(self.source.leaves)
        made: dict[Position, list[Fate]] = {}
        for taken in self.taken:
            trace = self.source.traces.get(taken.label, {})
            for leaf in taken.leaves():
                for at in trace.get(leaf.path, ()):
                    made.setdefault(at, []).append(Fate(leaf.kind, leaf.why))
        whole = {
            taken.label: Fate(*taken.all_of) for taken in self.taken if taken.all_of and taken.all_of[0] in TO_LOOK_AT
        }
        spans = {at: whole[label] for at, label in self.source.spans.items() if label in whole}
        for at, fate in found.items():
            around = (at[:length] for length in range(len(at), 0, -1))
            if (
                fate.kind == "kept"
                and (span := next((one for one in around if one in self.source.spans), None)) in spans
            ):
                found[at] = spans[span]
        for at, fates in made.items():
            found[at] = min(fates, key=lambda one: _RANK.index(one.kind))
        return {at: self.source.reported.get(at, fate) for at, fate in found.items() if at in self.mine}

    @cached_property
    def all(self) -> tuple[Loss, ...]:
        """Every value of the source, gathered where they stand together with one fate."""
        leaves = [Leaf(at, fate.kind, fate.why) for at, fate in self.fates.items()]
        return (
            *self.more,
            *(Loss("".join(p) or self.name, self.name, why, kind, number) for p, kind, why, number in places(leaves)),
        )


def traced(source: Source, name: str, kind: str) -> Iterator[Input]:
    """Yield the history of each client in a source, with everything that no record says kept as it came."""
    parts = list(from_resources_many(source.resources, name, kind))
    owners = _owners(source, parts)
    nobodys = frozenset(at for at in source.leaves if at[:1] not in owners)
    if len({at[:1] for at in source.leaves}) == 1:  # one document
        owners |= dict.fromkeys((at[:1] for at in nobodys), 0)
    elif nobodys:
        history = History.of({"woundfhir": 1, "patient": {}}, f"{name}, what names no client")
        parts.append(Input(f"{name}, what names no client", history, kind, report=Losses(), of_client=False))
        owners |= dict.fromkeys((at[:1] for at in nobodys), len(parts) - 1)
    for number, one in enumerate(parts):
        assert one.report is not None
        base = {each.name: getattr(one.report, each.name) for each in fields(Losses)}
        mine = frozenset(at for at in source.leaves if owners.get(at[:1]) == number)
        base["inferred"] = (*(_placed(source, line) for line in one.report.inferred), *source.inferred)
        base["notices"] = (*one.report.notices, *source.notices)
        report = TracedLosses(**base, source=source, mine=mine, name=name)
        one.kind, one.report = kind, report
        if items := list(_left(source, report)):
            one.history.keep(items)
        yield one


def _owners(source: Source, parts: list[Input]) -> dict[Position, int]:
    """Which part each message of a source belongs to: that of the resources that were made of it."""
    found: dict[Position, int] = {}
    for number, one in enumerate(parts):
        for taken in one.report.taken if one.report is not None else ():
            for at in (at for some in source.traces.get(taken.label, {}).values() for at in some):
                found.setdefault(at[:1], number)
    return found


def _left(source: Source, report: TracedLosses) -> Iterator[dict[str, str]]:
    """Yield each part of the source of which the record does not say all, word for word."""
    whys: dict[Position, Fate] = {}
    for at, fate in report.fates.items():
        if fate.kind in _SAID or (unit := source.unit_of(at)) is None:
            continue
        known = whys.get(unit)
        if known is None or _weight(fate) < _weight(known):
            whys[unit] = fate
    for unit in source.units:
        if unit in whys:
            yield {"from": "".join(unit), "why": whys[unit].why, "came": source.units[unit]()}


def _weight(fate: Fate) -> int:
    return _RANK.index(fate.kind) if fate.kind in TO_LOOK_AT else len(_RANK)


def _placed(source: Source, line: str) -> str:
    """A line of a report with the places of the source instead of the names of resources."""
    for at, label in source.spans.items():
        line = line.replace(label, "".join(at))
    return line
