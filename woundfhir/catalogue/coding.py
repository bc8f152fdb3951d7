"""Codes: ours, those of others beside them, and the order in which they are written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

from woundfhir.catalogue.spelling import same_form


@dataclass(frozen=True, slots=True)
class Coding:
    """One code of one system; ``display`` is None where the source does not give it word for word."""

    system: str
    code: str
    display: str | None = None

    @property
    def key(self) -> tuple[str, str]:
        """The pair that identifies the code."""
        return (self.system, self.code)

    def fhir(self) -> dict[str, str]:
        """The FHIR Coding."""
        out = {"system": self.system, "code": self.code}
        if self.display is not None:
            out["display"] = self.display
        return out


Fit = Literal["equal", "narrower", "wider"]


FITS = frozenset(get_args(Fit))


@dataclass(frozen=True, slots=True)
class KnownAs:
    """A code that others know, written beside the codes that an entry is known by.

    Where it comes without ours it is read as the entry if it means the same (``equal``); else a map says what it means
    (``woundfhir.maps``).

    Attributes
    ----------
    coding, source
        The code, and who shows it.
    fit
        How its meaning relates to the entry's: ``equal``, ``narrower`` or ``wider`` than that.
    recheck
        Whether only one source shows it.
    where
        Key of another answer (of the same group; of a field of the step) -> its words, in every spelling; only with one
        of them is the code written.
    """

    coding: Coding
    fit: Fit
    source: str
    recheck: bool = False
    where: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def holds(self, answers: Mapping[str, object]) -> bool:
        """Whether it is written among these answers."""
        said = {key: answers.get(key) for key in self.where}
        return all(isinstance(one, str) and same_form(one) in self.where[key] for key, one in said.items())


def written(
    codings: tuple[Coding, ...], known_as: tuple[KnownAs, ...], answers: Mapping[str, object]
) -> tuple[Coding, ...]:
    """Return the codes of an entry in the order of writing.

    A standard code that means the same, or says more, and that two sources show stands first; what only one source
    shows, and what says less, stands after ours.
    """
    held = [one for one in known_as if one.holds(answers)]
    first = [one.coding for one in held if one.fit != "wider" and not one.recheck]
    last = [one.coding for one in held if one.coding not in first]
    return (*first, *codings, *last)
