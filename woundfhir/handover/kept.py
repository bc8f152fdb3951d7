"""What was received, in its order, and the record made again of it.

``received/order.json`` has one step for each time that something new was taken in: the file, the signature beside it,
what the check of the signature came to, what a person decided, and which record it was joined to. Doing the steps again
gives the record that the last of them left.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from hashlib import sha256
from typing import Any

from woundfhir.errors import InputError
from woundfhir.handover.receive import receive
from woundfhir.handover.received import Received
from woundfhir.intake.client_folder import INDEX, KEPT, RECORD, WHOLE
from woundfhir.intake.source import parse
from woundfhir.jose.keys import Key
from woundfhir.jose.verification import Answer, Verdict
from woundfhir.record import History

Json = Any
#: What a step was joined to: nothing, or the record as the step before had left it; else the name of a file.
NOTHING, AS_LEFT = "nothing", "as left"


def steps(index: bytes | None) -> list[dict[str, Json]]:
    """Return the steps in the bytes of ``order.json``; none where there is no such file.

    Raises
    ------
    InputError
        When it is not what ``receive`` writes.
    """
    if index is None:
        return []
    try:
        found = json.loads(index)["steps"]
        if all(isinstance(one["file"], str) and Answer(one["signature"]) for one in found):
            return list(found)
    except (ValueError, KeyError, TypeError, RecursionError):
        pass
    raise InputError(INDEX, "the list of what was received, as `woundfhir receive` writes it", "Take it from a backup")


def with_step(done: Received, index: bytes | None, known: bytes | None, at: str | None) -> dict[str, bytes]:
    """Return the files of a ``Received`` with the step that it adds to ``order.json``, the record last.

    Parameters
    ----------
    done
        What was received.
    index
        The bytes of ``order.json``, where there is one.
    known
        The bytes of the record that it was joined to, where there is one.
    at
        The instant of receiving, where it was given.
    """
    files = dict(done.files)
    record = files.pop(RECORD)
    before = steps(index)
    if known is not None and record == known and any(one["sha256"] == done.digest for one in before):
        return {**files, RECORD: record}
    basis = NOTHING
    if known is not None:
        basis = AS_LEFT
        if not before or before[-1]["record"] != sha256(known).hexdigest():
            basis = f"{KEPT}/{sha256(known).hexdigest()}.known.yaml"
            files[basis] = known
    bundle = next(name for name in done.files if name.startswith(f"{KEPT}/{done.digest}."))
    beside = next((name for name in done.files if name.endswith(".jws") and not name.startswith(WHOLE)), None)
    step = {
        "file": bundle,
        "beside": beside,
        "sha256": done.digest,
        **({"part_of": done.part_of} if done.part_of else {}),
        "at": at,
        "signature": done.signature.answer.value,
        "changes_of_signed_content_accepted": bool(done.unsigned_changes),
        "same_client_by_a_person": bool(done.joined_by),
        "joined_to": basis,
        "record": sha256(record).hexdigest(),
    }
    text = json.dumps({"version": 1, "steps": [*before, step]}, indent=2) + "\n"
    return {**files, INDEX: text.encode("ascii"), RECORD: record}


def rebuild(load: Callable[[str], bytes], key: Key | None = None) -> History:
    """Return the record made again of the files that were received.

    Parameters
    ----------
    load
        Gives the bytes of a file of the client's folder by its name there.
    key
        Our own private key, where an encrypted file was received.

    Raises
    ------
    InputError
        When a file is missing, or is no longer what was received.
    """
    history: History | None = None
    for number, step in enumerate(steps(load(INDEX)), 1):
        if step["joined_to"] == NOTHING:
            history = None
        elif step["joined_to"] != AS_LEFT:
            history = parse(load(step["joined_to"]), step["joined_to"]).history
        history = _again(step, load, key, history, f"{INDEX}, step {number}")
    if history is None:
        raise InputError(INDEX, "at least one step", "Receive a bundle with --into first")
    return history


def _again(
    step: Mapping[str, Json], load: Callable[[str], bytes], key: Key | None, known: History | None, where: str
) -> History:
    content = load(step["file"])
    if sha256(content).hexdigest() != step["sha256"]:
        wrong = "the file that it names was changed since"
        raise InputError(where, "the bytes as they were received", "Take the file from a backup", found=wrong)
    done = receive(
        content,
        known,
        name=step["file"],
        at=step["at"],
        key=key,
        beside=None if step["beside"] is None else load(step["beside"]),
        verdict=Verdict(Answer(step["signature"])),
        accept_unsigned=step["changes_of_signed_content_accepted"],
        same_client=step.get("same_client_by_a_person", False),
    )
    return done.merged.history
