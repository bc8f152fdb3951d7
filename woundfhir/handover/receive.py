"""Receiving a wound history: checked, compared with what is known, joined to it, and recorded in a Provenance.

Pure: bytes and a known record in, a ``Received`` with the files to write out (see ``woundfhir.storage``).
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from os import PathLike
from typing import Any

from woundfhir.checklist.finding import Finding
from woundfhir.checklist.judge import check
from woundfhir.errors import InputError
from woundfhir.fhir.losses import Losses
from woundfhir.handover import signed
from woundfhir.handover.alike import perhaps_one
from woundfhir.handover.arriving import Arrival, arrived, arrived_together
from woundfhir.handover.merge import merge
from woundfhir.handover.merged import Merged
from woundfhir.handover.receipt import files, whole
from woundfhir.handover.received import Received
from woundfhir.intake.client_folder import KEPT
from woundfhir.intake.given import File, content_of
from woundfhir.jose import signature as seal
from woundfhir.jose.encryption import decrypt, is_encrypted
from woundfhir.jose.keys import Key
from woundfhir.jose.verification import Verdict
from woundfhir.r4.times import instant
from woundfhir.record import History
from woundfhir.record.clients import evidence

Json = Any


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

    Examples
    --------
    >>> came = (
    ...     b'{"woundfhir": 1, "patient": {"born": "1948-03"},'
    ...     b' "visits": [{"id": "V1", "at": "2026-03-02T10:05:00-05:00", "status": "final"}]}'
    ... )
    >>> done = receive(came)
    >>> done.newest, done.merged.conflicts, list(done.files)[-1]
    ('2026-03-02T10:05:00-05:00', [], 'record.yaml')
    """
    if at is not None and instant(at) is None:
        raise InputError("--at", "an instant such as 2026-03-02T10:05:00-05:00", "Write seconds and offset too")
    came, given = _arrived(content, name, key)
    name = came.name
    signature = verdict or checked(came.bundle, verify_key, at, name, given, beside)
    several = len(came.clients) > 1
    came, one = came.of(patient)
    said = signed.without_claims(one.history)
    merged = _joined(known, said, same_client, name)
    changes = [] if known is None or signature.ok else signed.changed(known, merged.history)
    if changes and not accept_unsigned:
        raise _weaker(name, changes)
    signed.mark(merged.history, said, signature.ok)
    kept = came.content if came.part_of else given
    digest, gaps = sha256(kept).hexdigest(), missing(merged.history)
    report = Losses() if one.report is None else one.report  # a report without losses is empty, and still counts
    done = Received(came.bundle, digest, said, merged, list(came.notices), one.losses, gaps, signature, changes)
    done.doubtful = doubtful(said)
    done.perhaps_one = [] if known is None else perhaps_one(known, merged.history)
    done.report, done.part_of, done.of_several = report, came.part_of, several
    if same_client and known is not None and not (found := evidence(known.patient, said.patient)).same:
        done.joined_by = found.words
    pieces = [one for _, one in content] if isinstance(content, list | tuple) else [given]
    done.files = _all_files(files(done, known, kept, at), done, pieces if keep_whole else None, beside)
    return done


def _all_files(
    kept: dict[str, bytes], done: Received, pieces: list[bytes] | None, beside: bytes | None
) -> dict[str, bytes]:
    """Return the files that keep what was received, with all that came where only a part is kept, and the signature."""
    if pieces is not None and done.part_of:
        return {**whole(pieces, beside), **kept}
    if beside is not None and not done.part_of:
        kept[f"{KEPT}/{done.digest}.{sha256(beside).hexdigest()[:12]}{seal.SUFFIX}"] = beside
    return kept


def _arrived(content: File | Sequence[tuple[str, bytes]], name: str | None, key: Key | None) -> tuple[Arrival, bytes]:
    """What came, opened and read, and the bytes of one file as they came; of several files they stand in themselves."""
    if isinstance(content, list | tuple):
        return arrived_together(content, name or "several files"), b""
    label, given = content_of(content)
    name = name or (label if isinstance(content, PathLike) else "bundle")
    return arrived(opened(given, key, name), name), given


def _joined(known: History | None, came: History, same_client: bool, name: str) -> Merged:
    try:
        return merge(known, came, same_client=same_client)
    except InputError as error:
        raise error.at(name) from None


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
