"""The report of what was read: each leaf of the input has one fate, a place and a reason. Never a value."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from woundfhir.fhir.fates import ENVELOPE, FATES, TO_LOOK_AT, Taken, fate_of, places
from woundfhir.fhir.leaves import total, words

Json = Any
#: What a server adds: ids and versions, beside the record; no loss, and in no comparison.
BOOKKEEPING = "a server's ids and versions"
_SAID = ("understood", "reworded", "bookkeeping")
#: How a fate is named in a sentence.
_NAMES = {"conflict": "conflicting", "not-understood": "not understood", "bookkeeping": "ids, versions and labels"}

#: A cell of a table in a path, and how many rows with the same fault are listed.
_ROW, _MOST_ROWS = re.compile(r"row \d+, "), 10


@dataclass(frozen=True, slots=True)
class Loss:
    """Values that stand together and share one fate: where they were, how many, and why. Never what they were.

    What people read (``line``) names positions, and no id; ``source`` is the key by which a program finds the resource.

    Parameters
    ----------
    path
        The shortest path that holds them and no others, from the type of resource on.
    source
        The resource: type and id.
    why
        The reason.
    kind
        A code for machines: a fate, or ``negated``.
    leaves
        How many values stand there.
    at
        Where the resource stood in the input: ``Bundle.entry[3]``, ``[2]`` in a list; empty for what came alone.

    Examples
    --------
    >>> one = Loss("Observation.note", "Observation/a", "no place in the record", leaves=2)
    >>> one.line, one.fate
    ('Observation.note: no place in the record (2 values)', 'kept')
    """

    path: str
    source: str
    why: str
    kind: str = "kept"
    leaves: int = 1
    at: str = ""

    @property
    def fate(self) -> str:
        """Its fate, one of ``FATES``."""
        return fate_of(self.kind)

    @property
    def where(self) -> str:
        """The place in words: where the resource stood, and the path in it."""
        return ": ".join(dict.fromkeys(part for part in (self.at, self.path) if part))

    @property
    def line(self) -> str:
        """The loss in one line."""
        return f"{self.where}: {self.why}{f' ({self.leaves} values)' if self.leaves > 1 else ''}"

    def json(self) -> dict[str, str | int]:
        """Return it as plain data."""
        plain: dict[str, str | int] = {"kind": self.kind, "source": self.source, "path": self.path, "why": self.why}
        return {**plain, **({"at": self.at} if self.at else {}), "values": self.leaves}


@dataclass(frozen=True)
class Losses:
    """What became of everything that came.

    Parameters
    ----------
    taken
        The resources, with what says what became of their leaves: worked out when somebody asks.
    inferred
        What was concluded without being written.
    computed
        Computed values of ours: a view of the record, to be recomputed and never trusted.
    notices
        What the reader of the input must know: more pages, a server's answer.
    envelopes
        The Bundles that the resources came in.
    more
        What stood in the input and in no resource: elements of XML that R4 does not define.
    whole
        Whether it is certain that the record says all of what came, so that nothing need be looked for.

    Examples
    --------
    >>> from woundfhir.intake.resources import from_fhir
    >>> mood = {"resourceType": "Observation", "id": "a", "status": "final", "code": {"text": "mood"}}
    >>> _, losses = from_fhir([{**mood, "valueString": "cheerful"}])
    >>> [(one.path, one.kind) for one in losses.items][:1], losses.asks
    ([('Observation', 'kept')], False)
    """

    taken: Sequence[Taken] = ()
    inferred: tuple[str, ...] = ()
    computed: tuple[Mapping[str, Json], ...] = ()
    notices: tuple[str, ...] = ()
    envelopes: tuple[Mapping[str, Json], ...] = ()
    more: tuple[Loss, ...] = ()
    whole: bool = False

    @cached_property
    def all(self) -> tuple[Loss, ...]:
        """Every leaf of the input, gathered where they stand together with one fate."""
        out = list(self.more)
        for one in self.taken:
            for path, kind, why, number in places(list(one.leaves())):
                where = one.type + ("." if one.type and path and isinstance(path[0], str) else "") + words(path)
                out.append(Loss(where or one.label, one.label, why, kind, number, one.at))
        around = sum(_around(one) for one in self.envelopes) - sum(one.ids for one in self.taken)
        return (*out, Loss("Bundle", "Bundle", ENVELOPE, "bookkeeping", around)) if around else tuple(out)

    @property
    def items(self) -> tuple[Loss, ...]:
        """Everything that the record does not say."""
        return self.more if self.whole else tuple(one for one in self.all if one.kind not in _SAID)

    @property
    def counts(self) -> dict[str, int]:
        """How many leaves have each fate, in the order of ``FATES``; they add up to all leaves of the input."""
        found: Counter[str] = Counter()
        for one in self.all:
            found[one.fate] += one.leaves
        return {fate: found[fate] for fate in FATES if found[fate]}

    @property
    def values(self) -> int:
        """How many values came: all leaves but the bookkeeping."""
        return sum(number for fate, number in self.counts.items() if fate != "bookkeeping")

    @property
    def understood(self) -> int:
        """How many of them the record says, in their own words or in others."""
        return self.counts.get("understood", 0) + self.counts.get("reworded", 0)

    def __len__(self) -> int:
        return len(self.items)

    def __repr__(self) -> str:
        """The summary and no value: what is printed here ends in logs and tracebacks."""
        return f"<Losses: {self.summary}>"

    def of(self, *kinds: str) -> list[Loss]:
        """Return what is of one of these kinds, or fates.

        Examples
        --------
        >>> from woundfhir.intake.resources import from_fhir
        >>> mood = {"resourceType": "Observation", "id": "a", "status": "final", "code": {"text": "mood"}}
        >>> _, losses = from_fhir([{**mood, "valueString": "cheerful"}])
        >>> [one.path for one in losses.of("kept")], losses.of("conflict")
        (['Observation'], [])
        """
        among = self.more if self.whole and not {*kinds} & {*_SAID} else self.all
        return [one for one in among if one.kind in kinds or one.fate in kinds]

    @property
    def asks(self) -> bool:
        """Whether a person must look: something came that is no fact, contradicts, or is not all there is."""
        return bool(self.notices) or bool(self.of(*TO_LOOK_AT))

    @property
    def left_aside(self) -> bool:
        """Whether anything of care has no place in the record."""
        return bool(self.items)

    @property
    def summary(self) -> str:
        """The whole in one line; the numbers add up.

        Examples
        --------
        >>> came = {"resourceType": "Patient", "birthDate": "1948", "maritalStatus": {"text": "x"}}
        >>> Losses((Taken("Patient/p", came, {"resourceType": "Patient", "birthDate": "1948"}),)).summary
        '1 of 2 values understood; 1 kept'
        """
        counts = self.counts
        reworded = f" ({counts['reworded']} of them reworded)" if "reworded" in counts else ""
        rest = [
            f"{number} {_NAMES.get(fate, fate)}"
            for fate, number in counts.items()
            if fate not in ("understood", "reworded", "bookkeeping")
        ]
        return "; ".join([f"{self.understood} of {self.values} values understood{reworded}", *rest])

    def lines(self, *kinds: str) -> list[str]:
        """Return a line for each thing that a person must look at, or for all of some kinds.

        Examples
        --------
        >>> from woundfhir.intake.resources import from_fhir
        >>> mood = {"resourceType": "Observation", "id": "a", "status": "final", "code": {"text": "mood"}}
        >>> _, losses = from_fhir([{**mood, "valueString": "cheerful"}])
        >>> losses.lines(), losses.lines("kept")
        ([], ['kept: Observation: no place in the record (3 values)'])
        """
        if kinds:
            return [f"{one.fate}: {one.line}" for one in self.of(*kinds)]
        return [*(f"note: {line}" for line in self.notices), *_looked(self.of(*TO_LOOK_AT))]

    def text(self, *kinds: str) -> list[str]:
        """Return the report as lines of text, counts first; ``kinds`` chooses what is listed.

        Examples
        --------
        >>> from woundfhir.intake.resources import from_fhir
        >>> mood = {"resourceType": "Observation", "id": "a", "status": "final", "code": {"text": "mood"}}
        >>> _, losses = from_fhir([{**mood, "valueString": "cheerful"}])
        >>> losses.text()[:2], losses.text()[-1]
        (['0 of 3 values understood; 3 kept.', '  3 kept'], 'kept: Observation: no place in the record (3 values)')
        """
        counts = [f"  {number} {_NAMES.get(fate, fate)}" for fate, number in self.counts.items()]
        listed = self.lines(*(kinds or ("reworded", "kept", *TO_LOOK_AT)))
        others = [*(f"note: {one}" for one in self.notices), *(f"inferred: {one}" for one in self.inferred)]
        return [f"{self.summary}.", *counts, *listed, *others]

    def json(self, *kinds: str) -> dict[str, Json]:
        """Return the report as plain data, counts first; ``kinds`` chooses what is listed.

        Examples
        --------
        >>> from woundfhir.intake.resources import from_fhir
        >>> mood = {"resourceType": "Observation", "id": "a", "status": "final", "code": {"text": "mood"}}
        >>> _, losses = from_fhir([{**mood, "valueString": "cheerful"}])
        >>> found = losses.json()
        >>> found["values"], found["counts"]["kept"], found["items"][0]["path"]
        (3, 3, 'Observation')
        """
        listed = (
            self.of(*kinds) if kinds else [one for one in self.all if one.kind not in ("understood", "bookkeeping")]
        )
        return {
            "leaves": sum(self.counts.values()),
            "values": self.values,
            "understood": self.understood,
            "counts": {fate: self.counts.get(fate, 0) for fate in FATES},
            "notices": list(self.notices),
            "items": [one.json() for one in listed],
            "inferred": list(self.inferred),
        }


def _looked(found: Sequence[Loss]) -> Iterator[str]:
    """Yield a line for each thing to look at; what is wrong alike in many rows of a column stands once."""
    alike: dict[tuple[str, ...], list[Loss]] = {}
    for number, one in enumerate(found):
        cell = _ROW.sub("", one.path) if _ROW.match(one.path) else str(number)
        alike.setdefault((one.kind, one.why, one.at, cell), []).append(one)
    for same in alike.values():
        rows = [one.path.partition(",")[0].removeprefix("row ") for one in same]
        listed = f"rows {', '.join(rows[:_MOST_ROWS])}{' ...' if len(rows) > _MOST_ROWS else ''}, "
        one = replace(same[0], path=_ROW.sub(listed, same[0].path)) if len(same) > 1 else same[0]
        yield f"{_NAMES.get(one.kind, one.kind)}: {_once(one)}"


def _once(one: Loss) -> str:
    """The line without the kind, where its reason begins with it."""
    why = one.why.removeprefix(f"{one.kind.replace('-', ' ')}: ")
    return replace(one, why=why).line


def _around(bundle: Mapping[str, Json]) -> int:
    """How many leaves of a Bundle stand around its resources, and around what was listed on its own."""
    found = total({key: value for key, value in bundle.items() if key != "entry"})
    for entry in bundle.get("entry") or ():
        if isinstance(entry, Mapping) and isinstance(entry.get("resource"), Mapping):
            found += total({key: value for key, value in entry.items() if key != "resource"})
        else:
            found += total(entry)
    return found
