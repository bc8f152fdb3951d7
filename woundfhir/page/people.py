"""Who has written in the records of a folder: offered to be touched where the page asks who is writing."""

from __future__ import annotations

from collections.abc import Mapping

from woundfhir.errors import InputError
from woundfhir.page.folder import Folder


def known_people(folder: Folder) -> list[Mapping[str, str]]:
    """Return the authors of the newest notes of all clients, each once, by name."""
    found: dict[tuple[str, str], Mapping[str, str]] = {}
    for client in folder.clients():
        try:
            notes = client.view().counted[-20:]
        except InputError:
            continue
        for visit in notes:
            if visit.by.get("name"):
                found[visit.by["name"], visit.by.get("id", "")] = visit.by
    return [found[key] for key in sorted(found)]
