"""Receiving a wound history: checked, compared with what is known, joined to it, and recorded in a Provenance.

Pure: bytes and a known record in, a ``Received`` with the files to write out (see ``woundfhir.storage``).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from os import PathLike
from typing import Any

from woundfhir.chart import open_record
from woundfhir.checklist.finding import Finding
from woundfhir.checklist.judge import check
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.losses import Losses
from woundfhir.fhir.resources.encounter import write_instant
from woundfhir.fhir.terms import Terms, terms
from woundfhir.fhir.write_context import WriteContext
from woundfhir.handover import signed
from woundfhir.handover.arriving import arrived, arrived_together
from woundfhir.handover.bundle_check import BundleIssue, instant, resources
from woundfhir.handover.merge import Merged, merge
from woundfhir.intake import formats
from woundfhir.intake.client_folder import KEPT, RECORD, WHOLE
from woundfhir.intake.given import File, content_of
from woundfhir.jose import signature as seal
from woundfhir.jose.encryption import decrypt, is_encrypted
from woundfhir.jose.keys import Key
from woundfhir.jose.verification import Answer, Verdict
from woundfhir.r4 import jsonio
from woundfhir.record import History
from woundfhir.record.clients import evidence
from woundfhir.record.files import to_yaml

Json = Any
#: What the name of a file that is kept means.
OF_BYTES = "SHA-256 of the bytes as received"


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


def receive(
    content: File | Sequence[tuple[str, bytes]],
    known: History | None = None,
    *,
    name: str | None = None,
    at: str | None = None,
    verify_key: Key | None = None,
    key: Key | None = None,
    beside: bytes | None = None,
    accept_unsigned: bool = False,
    same_client: bool = False,
    verdict: Verdict | None = None,
    patient: str | None = None,
    keep_whole: bool = False,
) -> Received:
    """Take in the record of one client.

    Parameters
    ----------
    content
        FHIR R4 (a Bundle, a resource, resources one a line) or a record, in any form that ``read`` takes, or one of
        these encrypted (JWE): its bytes, or the path, text or open file that holds them. Or names and bytes of several
        files: the pages of a search, a file for each type of resource.
    known
        The record of the same client here, if there is one.
    name
        The file, for messages; without it that of a path, else ``bundle``.
    at
        The instant of receiving for the Provenance; without it the Bundle's own timestamp stands there, so that
        the same bytes give the same files. A ``verify_key`` with a time limit is held against it.
    verify_key
        The sender's public key. With it, a Bundle that is not signed, or not by this key, is refused.
    key
        Our own private key, for an encrypted file.
    beside
        The signature that came in a file of its own, over ``content`` as it stands; looked at where the Bundle
        holds none.
    accept_unsigned
        Take in content without a checked signature even where it changes or retracts notes that came under one.
    same_client
        A person has made sure that what came is of the known client, although the two records do not show it.
    verdict
        What an earlier check of this signature came to, instead of a new one.
    patient
        The client who is wanted, where several came: a number or an identifier (see ``intake.choosing.chosen``).
    keep_whole
        Keep all that came byte for byte, beside the part of this client: other clients' data is in it.

    Returns
    -------
    Received
        Nothing is written yet: ``files`` is for ``woundfhir.storage.save_all``.

    Raises
    ------
    InputError
        For what cannot be taken in, or is of another client, or of several of whom none is chosen. No value of it is
        in the message.
    """
    if at is not None and instant(at) is None:
        raise InputError("--at", "an instant such as 2026-03-02T10:05:00-05:00", "Write seconds and offset too")
    if isinstance(content, list | tuple):
        name, given = name or "several files", b""
        came = arrived_together(content, name)
    else:
        label, given = content_of(content)
        name = name or (label if isinstance(content, PathLike) else "bundle")
        came = arrived(opened(given, key, name), name)
    signature = verdict or checked(came.bundle, verify_key, at, name, given, beside)
    several = len(came.clients) > 1
    came, one = came.of(patient)
    said = signed.without_claims(one.history)
    try:
        merged = merge(known, said, same_client=same_client)
    except InputError as error:
        raise error.at(name) from None
    changes = [] if known is None or signature.ok else signed.changed(known, merged.history)
    if changes and not accept_unsigned:
        raise _weaker(name, changes)
    signed.mark(merged.history, said, signature.ok)
    kept = came.content if came.part_of else given
    digest, gaps = sha256(kept).hexdigest(), missing(merged.history)
    report = one.report or Losses()
    done = Received(came.bundle, digest, said, merged, list(came.notices), one.losses, gaps, signature, changes)
    done.doubtful = doubtful(said)
    done.report, done.part_of, done.of_several = report, came.part_of, several
    if same_client and known is not None and not (found := evidence(known.patient, said.patient)).same:
        done.joined_by = found.words
    done.files = _files(done, known, kept, at)
    if keep_whole and came.part_of:
        pieces = [one for _, one in content] if isinstance(content, list | tuple) else [given]
        done.files = {**_whole(pieces, beside), **done.files}
    if beside is not None and not came.part_of:
        done.files[f"{KEPT}/{digest}.{sha256(beside).hexdigest()[:12]}{seal.SUFFIX}"] = beside
    return done


def _weaker(name: str, changes: list[str]) -> InputError:
    """A weaker source does not replace a stronger one unless a person decides it."""
    listed = ", ".join(changes[:10]) + (f" and {len(changes) - 10} more" if len(changes) > 10 else "")
    return InputError(
        name,
        "content under a checked signature, for a change of what was signed",
        "Give the sender's public key with --verify-key; or ask the sender, and take it in with --accept-unsigned."
        " Nothing was taken in",
        found=f"it has no checked signature, and would change or retract what came under one ({listed} of the record)",
    )


def opened(content: bytes, key: Key | None, name: str) -> bytes:
    """Return the bytes of the Bundle: those of an encrypted file opened with our key, any other as they are."""
    return decrypt(content, key, name) if is_encrypted(content) else content


def checked(
    bundle: dict[str, Json], verify_key: Key | None, at: str | None, name: str, arrived: bytes, beside: bytes | None
) -> Verdict:
    """Return what the check of the signature came to; refuse a Bundle that fails a check that was asked for.

    ``beside`` is the signature beside the file, over what ``arrived``; one in the Bundle comes first. A key's limits
    are held against ``at`` alone: the time that the signer claims would let an expired key date itself back, and no
    clock is read here.
    """
    now = instant(at)
    if verify_key is not None and now is None and (verify_key.starts or verify_key.expires):
        expected = "the instant of receiving: the sender's key is valid for a time only"
        raise InputError("--at", expected, "Add it, such as --at 2026-03-02T10:05:00-05:00")
    if "signature" in bundle or beside is None:
        where, verdict = f"{name}, Bundle.signature", seal.verify(bundle, verify_key, now=now)
    else:
        where, verdict = f"{name}{seal.SUFFIX}", seal.verify_bytes(arrived, beside, verify_key, now=now)
    if verify_key is not None and not verdict.ok:
        expected = f"a signature of the given key, and the check says: {verdict.answer.value}"
        raise InputError(where, expected, f"{verdict.message} Nothing was taken in")
    return verdict


def missing(history: History) -> list[Finding]:
    """Return what the transfer checklist finds missing (a draft's gaps are information, and left out)."""
    return [one for one in check(history, checklist="transfer") if one.to_add and one.level != "information"]


def doubtful(history: History) -> list[Finding]:
    """Return what cannot be right in a record by the rules of sense, as ``check`` finds it."""
    return [one for one in check(history) if one.severity == "sense" and one.level == "error"]


# -- what is kept ----------------------------------------------------------------------------------


def _files(done: Received, known: History | None, content: bytes, at: str | None) -> dict[str, bytes]:
    kept = f"{KEPT}/{done.digest}{min(formats.recognised(content, KEPT).suffixes, key=len)}"
    files = {kept: content}
    if targets := _new(known, done.merged.history):
        made = provenance(done, targets, kept, terms(), at)
        files[f"{KEPT}/{done.digest}.provenance.json"] = jsonio.encode_readable(made)
    files[RECORD] = to_yaml(done.merged.history)
    return files


def _whole(pieces: Sequence[bytes], beside: bytes | None) -> dict[str, bytes]:
    """Return what came as it came, each file under its SHA-256, and the signature beside the one file."""
    files = {}
    for one in pieces:
        name = f"{WHOLE}/{sha256(one).hexdigest()}"
        files[f"{name}{min(formats.recognised(one, KEPT).suffixes, key=len)}"] = one
        if beside is not None:
            files[f"{name}{seal.SUFFIX}"] = beside
    return files


def _new(known: History | None, merged: History) -> list[dict[str, str]]:
    """Return references to all resources of the joined record that are not, or not so, in the known one."""
    before = _named(known) if known is not None else {}
    return [{"reference": name} for name, one in _named(merged).items() if before.get(name) != one]


def _named(history: History) -> dict[str, dict[str, Json]]:
    """Return the resources of a record that have an id, by type and id; what was kept as received may have none."""
    return {f"{r['resourceType']}/{r['id']}": r for r in to_fhir(history) if isinstance(r.get("id"), str)}


def provenance(
    done: Received, targets: list[dict[str, str]], kept: str, known: Terms, at: str | None
) -> dict[str, Json]:
    """Return the Provenance of what was taken in (HL7 FHIR R4, Provenance): assembled here, from that Bundle.

    Parameters
    ----------
    done
        What was received.
    targets
        References to the resources that are new or changed by it.
    kept
        The name under which the bytes are kept.
    known
        The table of codes.
    at
        The instant of receiving, or None for the Bundle's own timestamp.
    """
    made: dict[str, Json] = {"resourceType": "Provenance"}
    made["id"] = WriteContext(done.merged.history, known).id("Provenance", f"received/{done.digest}")
    made["target"] = targets
    made.update(write_instant("recorded", at or done.bundle.get("timestamp"), known))
    reason = f"Signature: {done.signature.answer.value}. {done.signature.message}"
    if done.unsigned_changes:
        reason += " Signed content was changed by it without a signature, as a person has allowed."
    if done.joined_by:
        reason += f" A person has confirmed that it is of the client known here ({done.joined_by})."
    made["reason"] = [{"text": reason}]
    made["agent"] = [{"type": known.cc["agent_assembler"], "who": {"display": "woundfhir"}}]
    of = f"one client's part of what came; SHA-256 of all of it: {done.part_of}" if done.part_of else OF_BYTES
    what: dict[str, Json] = {"display": f"{kept} ({of})"}
    identifier = done.bundle.get("identifier")
    if isinstance(identifier, dict):
        what = {"identifier": identifier, **what}
    made["entity"] = [{"role": "source", "what": what}]
    return made
