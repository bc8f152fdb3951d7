"""What came in, what it means for what is known, and the files that keep it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from woundfhir.chart import open_record
from woundfhir.checklist.finding import Finding
from woundfhir.fhir.losses import Losses
from woundfhir.handover.bundle_check import BundleIssue, resources
from woundfhir.handover.merged import Merged
from woundfhir.jose.verification import Answer, Verdict
from woundfhir.record import History

Json = Any


@dataclass(slots=True)
class Received:
    """What came, what it means for what is known, and the files that keep it.

    Parameters
    ----------
    bundle
        The Bundle; what came in another form stands in a collection.
    digest
        SHA-256 of the bytes that are kept, in hex.
    came, merged
        The record in the Bundle, and that record joined to what was known.
    notices
        What is wrong with the Bundle without being a reason to refuse it.
    losses
        What of it a person must look at, and what R4 does not define (kept under ``extra``).
    report
        What became of every value that came.
    part_of
        SHA-256 of what came (of several files, of their bytes one after the other), where only the part of this client
        is kept; else empty.
    missing
        What the transfer checklist finds missing in the joined record.
    signature
        What the check of the signature came to.
    joined_by
        What speaks for and against one client, where a person has decided that it is one; else empty.
    unsigned_changes
        Places of signed notes and wounds that it changes without a signature, as a person has allowed.
    of_several
        Whether several clients came, of whom this is one.
    doubtful
        What cannot be right in the record that came (the rules of sense): a birth date after a visit, a share of 120 %.
    perhaps_one
        Ids of wounds, one known and one new, at one site and side and of no other kind: a person may know them as one.
    files
        Names (relative, with ``/``) and bytes, in the order of writing.
    """

    bundle: dict[str, Json]
    digest: str
    came: History
    merged: Merged
    notices: list[BundleIssue] = field(default_factory=list)
    losses: list[str] = field(default_factory=list)
    missing: list[Finding] = field(default_factory=list)
    signature: Verdict = field(default_factory=lambda: Verdict(Answer.NO_SIGNATURE))
    unsigned_changes: list[str] = field(default_factory=list)
    joined_by: str = ""
    report: Losses = field(default_factory=Losses)
    part_of: str = ""
    of_several: bool = False
    doubtful: list[Finding] = field(default_factory=list)
    perhaps_one: list[tuple[str, str]] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)

    @property
    def counts(self) -> dict[str, int]:
        """How many resources came, by kind."""
        return dict(sorted(Counter(r["resourceType"] for r in resources(self.bundle)).items()))

    @property
    def newest(self) -> str | None:
        """The time of the newest note that came, as written; that of its writing where it has none."""
        note = open_record(self.came).newest
        return None if note is None else note.at or note.written_at

    @property
    def clean(self) -> bool:
        """Whether there is neither conflict nor gap, and nothing came that is no fact or contradicts.

        The command line's exit code heeds gaps only with ``--strict``: nearly every record has one.
        """
        return not self.merged.conflicts and not self.missing and not self.asks

    @property
    def asks(self) -> bool:
        """Whether a person must look at what came, as for every other input."""
        return self.report.asks

    @property
    def left_aside(self) -> bool:
        """Whether anything that came has no place in the record."""
        return bool(self.losses) or self.report.left_aside
