"""What every report is made from: the verdict on one input, and where that input came from."""

from __future__ import annotations

from dataclasses import dataclass

from woundfhir.checklist import Verdict
from woundfhir.record import History

#: Said at the end of every report that people read.
CAUTION = (
    "A question is not an order and no diagnosis: local policy and the licensed practitioner decide. "
    "This is a documentation aid."
)
#: How to say that there is no answer.
EXCUSE = "Where there is no answer, write why: {absent: reason}."


@dataclass(frozen=True, slots=True)
class Judged:
    """One input and its verdict.

    Attributes
    ----------
    name
        The name of the input: a file, or standard input.
    verdict
        What the checklist said.
    history
        The record that was judged.
    kind, content
        What the input was (``fhir-json``, ``fhir-xml``, ``ndjson``; anything else is a record) and its bytes; the
        OperationOutcome needs them, to name the elements of what came in.
    """

    name: str
    verdict: Verdict
    history: History
    kind: str = "record"
    content: bytes = b""
