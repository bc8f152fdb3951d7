"""The rows of the list of clients, kept between runs: the first page need not read every record again.

A row is kept with the state of the record's file (time, size, inode), in the language that it was worked out in, and by
the version that did; where any of these is another one, the record is read. The file holds nothing that the records
beside it do not hold.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict
from decimal import Decimal
from pathlib import Path
from typing import Any

from woundfhir._version import __version__
from woundfhir.catalogue import catalogue
from woundfhir.errors import InputError
from woundfhir.language import spoken
from woundfhir.page.draft import SUFFIX, save_held
from woundfhir.page.folder import OURS, Client, Folder
from woundfhir.page.listing import ClientRow, WoundRow, row
from woundfhir.record.clients import plain_number
from woundfhir.storage import locked

Json = Any
_FILE = "rows"


def kept_rows(folder: Folder) -> list[ClientRow]:
    """Return a row for each client: as it was kept where the record has not changed, else worked out and kept."""
    path = folder.path / OURS / f"{_FILE}-{spoken().key}"
    held = _read(path)
    found, now = [], {}
    for client in folder.clients():
        one = _known(client, held.get(client.key)) or row(client)
        found.append(one)
        if not one.refused:
            now[client.key] = {"state": list(client.state()), "row": _plain(one)}
    if now != held:
        with suppress(InputError), locked(path.parent, patience=1):  # a folder that is only read has no such file
            content = json.dumps({"made_by": _made_by(), "rows": now}, ensure_ascii=False)
            save_held(content.encode(), path, path.parent)
    return found


def with_number(folder: Folder, number: str) -> list[Client]:
    """Return the clients among whose numbers one is like this one; who gives it is not looked at."""
    wanted = plain_number(number)
    return [one.client for one in kept_rows(folder) if wanted and wanted in plain_number(one.numbers)]


def _made_by() -> str:
    site = catalogue().site
    return f"{__version__} {'' if site is None else site.base}"


def _read(path: Path) -> dict[str, Json]:
    try:
        data = json.loads(path.read_bytes())
        return dict(data["rows"]) if data["made_by"] == _made_by() else {}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _known(client: Client, held: Json) -> ClientRow | None:
    try:
        if held is None or held["state"] != list(client.state()):
            return None
        raw = dict(held["row"])
        wounds = [WoundRow(**{**one, "areas": tuple(map(Decimal, one["areas"]))}) for one in raw.pop("wounds")]
        out = ClientRow(client, **raw, wounds=wounds)
        out.alerts = [(title, wound) for title, wound in out.alerts]
        out.drafts = len(list(client.drafts.glob(f"*{SUFFIX}")))
        return out
    except (InputError, KeyError, TypeError, ValueError, ArithmeticError):
        return None


def _plain(one: ClientRow) -> dict[str, Json]:
    wounds = [{**asdict(wound), "areas": [str(area) for area in wound.areas]} for wound in one.wounds]
    keys = ("name", "numbers", "born", "allergies")
    return {**{key: getattr(one, key) for key in keys}, "alerts": [list(pair) for pair in one.alerts], "wounds": wounds}
