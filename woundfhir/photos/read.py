"""Photos for the bundle: the files a record names, without the camera's data, put into the record that is bundled."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.photos.clean import read_photo_file
from woundfhir.record import History

Json = Any


def embed(history: History, folder: Path, *, keep_metadata: bool = False) -> History:
    """Return a history whose photos carry their picture, hash, size and content type.

    Parameters
    ----------
    history
        One client's record.
    folder
        Where the files that the record names are; a name may not lead out of it.
    keep_metadata
        Keep what the camera wrote (time, place, device). Left out unless asked for.

    Raises
    ------
    InputError
        A file that is missing, outside the folder, too large, or no picture; which photo, never its name.
    """
    base = folder.resolve()
    visits = []
    for number, visit in enumerate(history.visits):
        entries = []
        for place, entry in enumerate(visit.get("wounds", ())):
            photos = [
                _embedded(photo, base, f"visits[{number}].wounds[{place}].photos[{i}]", keep_metadata)
                for i, photo in enumerate(entry.get("photos", ()))
            ]
            entries.append({**entry, **({"photos": photos} if photos else {})})
        visits.append({**visit, **({"wounds": entries} if entries else {})})
    return History.of({**history.data, "visits": visits}, history.source)


def _embedded(photo: dict[str, Json], base: Path, where: str, keep_metadata: bool) -> dict[str, Json]:
    name = photo.get("file")
    if not isinstance(name, str):
        return photo
    path = (base / name).resolve()
    if base not in path.parents:
        raise InputError(where, "a file inside the folder of the photos", "Put the photo there")
    if not path.is_file():
        raise InputError(where, "a file that is there", "Put the photo into the folder, or take it out of the record")
    try:
        made = read_photo_file(path, keep_metadata=keep_metadata)
    except InputError as error:
        raise InputError(where, error.expected, error.fix) from None
    return {
        **photo,
        "content_type": made.content_type,
        "size": str(made.size),
        "hash": made.sha1,
        "sha256": made.sha256,
        "data": base64.b64encode(made.content).decode(),
        "kept_metadata": "yes" if made.kept_metadata else "no",
    }
