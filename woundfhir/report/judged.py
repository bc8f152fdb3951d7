"""What every report is made from: the verdict on one input, and where that input came from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from woundfhir.checklist import Finding, Verdict
from woundfhir.intake.source import ONE_RECORD
from woundfhir.record import History
from woundfhir.record.places import Place, Places


@dataclass(frozen=True)
class Judged:
    """One input and its verdict.

    Attributes
    ----------
    name
        The name of the input: a file, or standard input.
    verdict
        The verdict of the checklist.
    history
        The record that was judged.
    kind, content
        What the input was (``fhir-json``, ``fhir-xml``, ``ndjson``; anything else is a record) and its bytes; the
        OperationOutcome needs them, to name the elements of what came in.

    Examples
    --------
    >>> from woundfhir.checklist import judge
    >>> record = History.of({"woundfhir": 1, "patient": {}})
    >>> Judged("note.yaml", judge(record), record).name
    'note.yaml'
    """

    name: str
    verdict: Verdict
    history: History
    kind: str = "record"
    content: bytes = b""

    @cached_property
    def _places(self) -> Places | None:
        return Places(self.content) if self.kind in ONE_RECORD and self.content else None

    def place(self, finding: Finding) -> Place | None:
        """Return line and column of a finding, where the input is the text of one record."""
        return None if self._places is None else self._places.of(finding.path)
