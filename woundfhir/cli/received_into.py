"""The folder into which ``woundfhir receive`` takes a record: what is known there, and what is written."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from woundfhir.cli import options
from woundfhir.errors import InputError

if TYPE_CHECKING:
    from woundfhir.handover.merged import Conflict
    from woundfhir.handover.received import Received
    from woundfhir.record import History


class Known(NamedTuple):
    """The known record, its bytes first; whether it is the one that will be written; whether it is one of several."""

    content: bytes | None = None
    history: History | None = None
    is_own: bool = False
    of_several: bool = False


def known_in(known: str | None, into: Path | None, patient: str | None) -> Known:
    """Return the record of ``--known``, else that of the folder, else none."""
    from woundfhir.intake.choosing import one_client
    from woundfhir.intake.client_folder import RECORD
    from woundfhir.intake.source import contents, histories, load, parse
    from woundfhir.record.files import to_yaml

    own = into / RECORD if into is not None else None
    if known is not None:
        files = list(contents([known]))
        clients = list(histories(files))
        if several := len(clients) > 1:  # what is kept must be of one client
            history = one_client(clients, patient, "--known").history
            return Known(to_yaml(history), history, False, several)
        name, content = files[0]
        is_own = own is not None and own.exists() and Path(name).resolve() == own.resolve()
        return Known(clients[0].content or content, clients[0].history, is_own, several)
    if own is not None and own.exists():
        content = load(own)
        return Known(content, parse(content, str(own)).history, True)
    return Known()


def refuse_another(into: Path, done: Received) -> None:
    """Refuse to write over the record of somebody else, whatever was asked for: what is lost there is lost."""
    from woundfhir.intake.client_folder import RECORD
    from woundfhir.intake.source import load, parse
    from woundfhir.record.clients import evidence

    path = into / RECORD
    if not path.exists():
        return
    fix = "Nothing was written: choose another folder with --into"
    try:
        there = parse(load(path), str(path)).history
    except InputError:
        wrong = "it cannot be read, and so it cannot be told whose record it is"
        raise InputError(str(path), "the record of the same client, or none", fix, found=wrong) from None
    graded = evidence(there.patient, done.merged.history.patient)
    if not graded.same:
        wrong = f"it may be the record of another client ({graded.words})"
        raise InputError(str(path), "the record of the same client, or none", fix, found=wrong)


def store(files: Mapping[str, bytes], into: Path, over: bool) -> list[Path]:
    """Write what was received, all or none; ``over`` allows another record. A Provenance that is there stays.

    Returns what was written, with ``--dry-run`` what would be.
    """
    from woundfhir.intake.client_folder import INDEX, RECORD, to_write
    from woundfhir.storage import save_all

    new = to_write(files, into)
    if options.chosen_for_all("dry_run"):
        return [path for path, content in new.items() if not (path.exists() and path.read_bytes() == content)]
    return save_all(new, may_change=[into / INDEX, *([into / RECORD] if over else [])], same=True, held=into)


def used_before(done: Received, into: Path) -> list[Conflict]:
    """A document's identifier is never used for another content (R4, Bundle.identifier); say where it was."""
    from woundfhir.handover.merged import Conflict
    from woundfhir.intake.source import load

    identifier, merged = done.bundle.get("identifier"), done.merged
    if not identifier or not (merged.added or merged.replaced or merged.conflicts):
        return []
    for path in sorted((into / "received").glob("*.provenance.json")):
        if path.name.split(".")[0] == done.digest:
            continue
        try:
            entities = json.loads(load(path)).get("entity", ())
        except (ValueError, AttributeError):
            continue
        if any(entity.get("what", {}).get("identifier") == identifier for entity in entities):
            why = "its identifier came before with another content: ask the sender which one holds"
            return [Conflict("the bundle", why)]
    return []
