"""The files that keep what was received: the bytes as they came, where they came from (Provenance), the record."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from typing import Any

from woundfhir.fhir import to_fhir
from woundfhir.fhir.elements import write_instant
from woundfhir.fhir.terms import Terms, terms
from woundfhir.fhir.write_context import WriteContext
from woundfhir.handover.received import Received
from woundfhir.intake import formats
from woundfhir.intake.client_folder import KEPT, RECORD, WHOLE
from woundfhir.jose import signature as seal
from woundfhir.r4 import jsonio
from woundfhir.record import History
from woundfhir.record.files import to_yaml

Json = Any
#: What the name of a file that is kept means.
OF_BYTES = "SHA-256 of the bytes as received"


def files(done: Received, known: History | None, content: bytes, at: str | None) -> dict[str, bytes]:
    """Return the files that keep what was received, by name.

    Parameters
    ----------
    done
        What was received.
    known
        The record before it, if there was one.
    content
        The bytes that are kept.
    at
        The instant of receiving, or None.
    """
    kept = f"{KEPT}/{done.digest}{formats.recognised(content, KEPT).suffix_of(content)}"
    made = {kept: content}
    if targets := _new(known, done.merged.history):
        origin = provenance(done, targets, kept, terms(), at)
        made[f"{KEPT}/{done.digest}.provenance.json"] = jsonio.encode_readable(origin)
    made[RECORD] = to_yaml(done.merged.history)
    return made


def whole(pieces: Sequence[bytes], beside: bytes | None) -> dict[str, bytes]:
    """Return what came as it came, each file under its SHA-256, and the signature beside the one file."""
    files = {}
    for one in pieces:
        name = f"{WHOLE}/{sha256(one).hexdigest()}"
        files[f"{name}{formats.recognised(one, KEPT).suffix_of(one)}"] = one
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
    made.update(write_instant("recorded", at or done.bundle.get("timestamp")))
    reason = f"Signature: {done.signature.answer.value}. {done.signature.message}"
    if done.unsigned_changes:
        reason += " Signed content was changed by it without a signature, as a person has allowed."
    if done.joined_by:
        reason += f" A person has confirmed that it is of the client known here ({done.joined_by})."
    made["reason"] = [{**known.cc["records_management"], "text": reason}]
    made["agent"] = [{"type": known.cc["agent_assembler"], "who": {"display": "woundfhir"}}]
    of = f"one client's part of what came; SHA-256 of all of it: {done.part_of}" if done.part_of else OF_BYTES
    what: dict[str, Json] = {"display": f"{kept} ({of})"}
    identifier = done.bundle.get("identifier")
    if isinstance(identifier, dict):
        what = {"identifier": identifier, **what}
    made["entity"] = [{"role": "source", "what": what}]
    return made
