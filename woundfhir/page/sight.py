"""What a form is made of: the draft, the same as a note, what the notes before say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from woundfhir.chart.views import EntryView
from woundfhir.handover.summary.packing import Packing
from woundfhir.page.draft import Draft
from woundfhir.page.last import Last


@dataclass(frozen=True)
class Sight:
    """What a form is made of.

    Attributes
    ----------
    draft, wound
        What is being written, and of which wound (its id).
    entry
        The same as a note, to be asked for conditions.
    last
        What the notes before say.
    packing
        The pieces that are still inside, counted over the notes.
    also
        Concepts that are opened for this time alone: where a link leads to.
    """

    draft: Draft
    wound: str
    entry: EntryView
    last: Last
    packing: Packing
    also: Sequence[str] = ()

    def opened(self, scope: str) -> list[str]:
        """Return the groups and concepts that are open."""
        return [*self.draft.opened.get(scope, []), *self.also]
