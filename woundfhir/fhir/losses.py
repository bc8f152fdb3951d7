"""What of an input the record does not say: where it was, of which kind, and why. Never a value."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from woundfhir.fhir.leaves import count
from woundfhir.record import History

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
UNDEFINED = "no element of FHIR R4"
#: Kinds that say that something is not read as a fact, by the first words of the reason that stands in the record.
NOT_COUNTED = ("withdrawn", "negated", "not understood", "conflict")
#: What a server adds: ids and versions, beside the record; no loss, and in no comparison.
BOOKKEEPING = "a server's ids and versions"


def kind_of(why: str) -> str:
    """Return the kind of a reason: one of ``withdrawn``, ``negated``, ``not-understood``, ``conflict``, ``kept``.

    Examples
    --------
    >>> kind_of("withdrawn: status: entered in error"), kind_of("no place in the record")
    ('withdrawn', 'kept')
    """
    head = why.partition(":")[0]
    return head.replace(" ", "-") if head in NOT_COUNTED else "kept"


@dataclass(frozen=True, slots=True)
class Loss:
    """One thing that the record does not say: where it was and why it has no place. Never its value."""

    path: str
    source: str
    why: str

    @property
    def kind(self) -> str:
        """Its kind, for machines."""
        return kind_of(self.why)

    @property
    def line(self) -> str:
        """The loss in one line; a path that is all that is known of it stands once."""
        where = self.source if self.source == self.path else f"{self.source}: {self.path}"
        return f"{where}: {self.why}"

    def json(self) -> dict[str, str]:
        """Return it as plain data."""
        return {"kind": self.kind, "source": self.source, "path": self.path, "why": self.why}


@dataclass(frozen=True, slots=True)
class Losses:
    """What was not understood, and what had to be inferred.

    Parameters
    ----------
    items
        One for each thing that the record does not say; what stands below one is not listed again.
    inferred
        What was concluded and not said.
    computed
        Computed values of ours: a view of the record, to be recomputed and never trusted.
    notices
        What whoever reads the input must know: more pages, a server's answer.
    listed_understood, listed_values
        Of the resources that are not ours to the letter: how many values (leaves that are no bookkeeping) came, and
        how many of them the record says.
    said
        Resources of ours that came to the letter: all of them is understood.
    """

    items: tuple[Loss, ...] = ()
    inferred: tuple[str, ...] = field(default=())
    computed: tuple[Mapping[str, Json], ...] = ()
    notices: tuple[str, ...] = ()
    listed_understood: int = 0
    listed_values: int = 0
    said: tuple[Mapping[str, Json], ...] = ()

    @property
    def values(self) -> int:
        """How many values came: leaves that are no ids, no narrative and no labels."""
        return self.listed_values + self._said

    @property
    def understood(self) -> int:
        """How many of them the record says."""
        return self.listed_understood + self._said

    @property
    def _said(self) -> int:
        return sum(count(one) for one in self.said)

    def __len__(self) -> int:
        return len(self.items)

    @property
    def counts(self) -> dict[str, int]:
        """How many items there are of each kind."""
        return dict(sorted(Counter(item.kind for item in self.items).items()))

    @property
    def asks(self) -> bool:
        """Whether a person must look: something came that is no fact, contradicts, or is not all there is."""
        return bool(self.notices) or any(item.kind != "kept" for item in self.items)

    @property
    def summary(self) -> str:
        """The whole in one line.

        Examples
        --------
        >>> Losses((Loss("Goal", "Goal/1", "withdrawn: lifecycleStatus: cancelled"),), (), (), (), 3, 5).summary
        '3 of 5 values understood; 1 withdrawn'
        """
        counts = [f"{count} {kind.replace('-', ' ')}" for kind, count in self.counts.items()]
        return "; ".join([f"{self.understood} of {self.values} values understood", *counts])

    def lines(self) -> list[str]:
        """Return one line for each."""
        return [
            *(f"note: {line}" for line in self.notices),
            *(item.line for item in self.items),
            *(f"inferred: {line}" for line in self.inferred),
        ]

    def json(self) -> dict[str, Json]:
        """Return the report as plain data, counts first."""
        return {
            "values": self.values,
            "understood": self.understood,
            "counts": self.counts,
            "notices": list(self.notices),
            "items": [item.json() for item in self.items],
            "inferred": list(self.inferred),
        }


def keep_undefined(history: History, found: Sequence[Unknown]) -> list[Loss]:
    """Keep what R4 does not define and XML cannot say, word for word, and return it as losses.

    It has no element to be put back into: on the way out it is carried along with the rest.
    """
    if found:
        history.keep({"from": one.path, "why": UNDEFINED, "came": one.text} for one in found)
    return [Loss(one.path, one.path, UNDEFINED) for one in found]


def unique(lines: Iterable[str]) -> tuple[str, ...]:
    """Return each line once, in order."""
    return tuple(dict.fromkeys(lines))
