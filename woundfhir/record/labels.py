"""How wounds and visits are called where no value of the client may stand: by a plain label, else by their position.

An id may be anything that a sender has written, a name among it. In messages and in reports for people it stands only
where it is a label such as W1 or V-12; machine-readable reports keep ids as keys.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from woundfhir.record.history import History
from woundfhir.texts import tables

# A label such as W1 or V-12: short, and no name of a person.
_LABEL = re.compile(r"[A-Za-z]{0,3}[-.]?\d{1,6}")


def _texts() -> dict[str, str]:
    found: dict[str, str] = tables("woundfhir.record")["labels"]
    return found


def label(ident: str, index: int, kind: str) -> str:
    """Return how a wound or a note is called where no value of the client may stand.

    Examples
    --------
    >>> label("W1", 0, "wound"), label("Mrs Example's heel", 1, "wound")
    ('W1', 'wound 2')
    """
    return ident if _LABEL.fullmatch(ident) else f"{_texts()[kind]} {index + 1}"


class Labels:
    """The wounds and visits of one record, or of two that are held against each other.

    Parameters
    ----------
    first
        The record whose positions count.
    other
        Another record; what stands in it alone is counted there, and called by ``name``.
    name
        What the other record is called, as ``B``.

    Examples
    --------
    >>> here = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}, {"id": "Example's heel"}]})
    >>> there = History.of({"woundfhir": 1, "patient": {}, "visits": [{"id": "home-1"}]})
    >>> both = Labels(here, there, "B")
    >>> both.wound("W1"), both.wound("Example's heel"), both.visit("home-1")
    ('W1', 'wound 2', 'note 1 of B')
    """

    def __init__(self, first: History, other: History | None = None, name: str = "") -> None:
        self._wounds = _called(first.wounds, "wound", "")
        self._visits = _called(first.visits, "note", "")
        if other is not None:
            self._wounds = {**_called(other.wounds, "wound", _of(name)), **self._wounds}
            self._visits = {**_called(other.visits, "note", _of(name)), **self._visits}

    def wound(self, ident: str) -> str:
        """Return what a wound is called."""
        return self._wounds.get(ident, _texts()["another_wound"])

    def visit(self, ident: str) -> str:
        """Return what a visit is called: ``visit V6``, ``note 2``."""
        found = self._visits.get(ident, _texts()["another_note"])
        return f"{_texts()['visit']} {found}" if found == ident else found

    def of(self, ident: str) -> str:
        """Return what the note or wound with an id is called; "" where there is none."""
        if ident in self._visits:
            return self.visit(ident)
        return self._wounds.get(ident, "")


def _of(name: str) -> str:
    return f" {_texts()['of'].format(name=name)}"


def _called(items: Sequence[dict[str, Any]], kind: str, of: str) -> dict[str, str]:
    named = ((item["id"], label(item["id"], number, kind)) for number, item in enumerate(items))
    return {ident: found if found == ident else f"{found}{of}" for ident, found in named}
