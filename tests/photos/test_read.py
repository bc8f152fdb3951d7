"""Photos in a bundle: the picture with its hash and size, without what the camera wrote unless asked for."""

from __future__ import annotations

import base64
import hashlib
import io
from pathlib import Path
from typing import Any

import pytest

from woundfhir.errors import InputError
from woundfhir.handover import bundle
from woundfhir.intake.resources import from_fhir
from woundfhir.photos.read import embed
from woundfhir.record import History

PIL = pytest.importorskip("PIL.Image", reason="Pillow (extra photo) is not installed")


def record(*names: str) -> History:
    visit = {
        "id": "V1",
        "at": "2026-03-02T10:00:00-05:00",
        "status": "final",
        "wounds": [{"wound": "W1", "photos": [{"file": name, "title": "with ruler"} for name in names]}],
    }
    return History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]})


def picture(folder: Path, name: str = "w1.jpg") -> bytes:
    image = PIL.new("RGB", (40, 30), (200, 40, 40))
    exif = PIL.Exif()
    exif[0x010F] = "SecretCamera"
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif)
    (folder / name).write_bytes(out.getvalue())
    return out.getvalue()


def attachments(history: History) -> list[dict[str, Any]]:
    return [
        e["resource"]["content"][0]["attachment"]
        for e in bundle(history, "document")["entry"]
        if e["resource"]["resourceType"] == "DocumentReference"
    ]


def test_a_photo_travels_with_hash_and_size_and_without_the_cameras_data(tmp_path: Path) -> None:
    """FHIR R4 Attachment: size in bytes, hash is SHA-1 in base64, both of the data as it travels."""
    picture(tmp_path)
    (attachment,) = attachments(embed(record("w1.jpg"), tmp_path))
    content = base64.b64decode(attachment["data"])
    assert b"SecretCamera" not in content
    assert attachment["contentType"] == "image/jpeg" and attachment["size"] == len(content)
    assert attachment["hash"] == base64.b64encode(hashlib.sha1(content).digest()).decode()


def test_the_cameras_data_stays_where_it_is_asked_for(tmp_path: Path) -> None:
    kept = picture(tmp_path)
    (attachment,) = attachments(embed(record("w1.jpg"), tmp_path, keep_metadata=True))
    assert base64.b64decode(attachment["data"]) == kept


def test_photos_come_back_from_the_document(tmp_path: Path) -> None:
    picture(tmp_path)
    history = embed(record("w1.jpg"), tmp_path)
    back, losses = from_fhir([bundle(history, "document")])
    assert back.data == history.data and not losses.items


@pytest.mark.parametrize("name", ["missing.jpg", "../outside.jpg", "text.jpg"])
def test_a_bad_file_is_reported_by_its_place_and_never_by_its_name(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "text.jpg").write_bytes(b"no picture")
    picture(tmp_path, "outside.jpg")
    with pytest.raises(InputError) as caught:
        embed(record(name), folder)
    assert "photos[0]" in str(caught.value) and ".jpg" not in str(caught.value)
