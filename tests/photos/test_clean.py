"""Photos: what the camera wrote is gone, the picture is not touched, and what cannot be taken is refused clearly.

Outside source: Pillow reads every picture before and after, and reads EXIF with its own code. The pictures are drawn
here, with an invented place (49 degrees 12 minutes) and an invented device.
"""

from __future__ import annotations

import base64
import hashlib
import io
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.photos.pictures import ICC, SECRETS, jpeg, laden_jpeg, laden_png, looks, picture, pixels, png, segment
from woundfhir.errors import InputError
from woundfhir.photos import exif as photo_exif
from woundfhir.photos.clean import Photo, read_photo, read_photo_file

Json = Any
#: Pillow itself notices that the laden pictures hold further ones.
pytestmark = pytest.mark.filterwarnings("ignore:Image appears to be a malformed MPO")

# -- what goes and what stays ----------------------------------------------------------------------

LADEN = {
    "JPEG": (laden_jpeg(6), "image/jpeg"),
    "JPEG, progressive": (laden_jpeg(6, progressive=True), "image/jpeg"),
    "JPEG, grey": (laden_jpeg(6, image=picture(mode="L")), "image/jpeg"),
    "JPEG, four inks": (laden_jpeg(6, image=picture(mode="CMYK")), "image/jpeg"),
    "JPEG, with restarts": (laden_jpeg(6, restart_marker_blocks=1), "image/jpeg"),
    "PNG": (laden_png(6), "image/png"),
    "PNG, transparent": (laden_png(6, picture(mode="RGBA")), "image/png"),
    "PNG, palette": (laden_png(6, picture(mode="P")), "image/png"),
}


@pytest.mark.parametrize("name", LADEN)
def test_place_device_time_and_words_are_gone_and_the_picture_is_the_same(name: str) -> None:
    content, content_type = LADEN[name]
    assert all(secret in content for secret in SECRETS[1:]) and b"Invented Device" in content  # the test would notice
    found = read_photo(content)
    marks = (*SECRETS, b"GPS", b"xmpmeta", b"8BIM", b"MPF", b"film")
    assert not [mark for mark in marks if mark in found.content]
    assert pixels(found.content) == pixels(content)
    with Image.open(io.BytesIO(found.content)) as image:
        assert dict(image.getexif()) == {0x0112: 6}
        assert not image.getexif().get_ifd(0x8825)
        assert image.info["icc_profile"] == ICC
    assert (found.content_type, found.kept_metadata) == (content_type, False)
    assert {"EXIF", "place (GPS)", "XMP", "comment", "data behind the end", "other data"} <= set(found.removed)
    assert read_photo(found.content) == Photo(**{**fields(found), "removed": ()})  # nothing is left to take out


def fields(found: Photo) -> dict[str, Json]:
    return {name: getattr(found, name) for name in Photo.__dataclass_fields__}


def test_a_jpeg_loses_each_thing_by_its_name() -> None:
    assert set(read_photo(laden_jpeg()).removed) == {
        "EXIF", "place (GPS)", "XMP", "IPTC", "comment", "thumbnail", "further pictures", "other data",
        "data behind the end",
    }  # fmt: skip
    assert set(read_photo(laden_png()).removed) == {
        "EXIF", "place (GPS)", "XMP", "comment", "time", "other data", "data behind the end",
    }  # fmt: skip


def test_the_compressed_data_is_the_same_byte_for_byte() -> None:
    content = laden_jpeg()
    start = content.index(b"\xff\xdb")  # tables, frame and scan, up to the first end of image
    assert content[start : content.index(b"\xff\xd9", start)] in read_photo(content).content
    plain = png()
    data = plain[plain.index(b"IDAT") : plain.index(b"IEND")]
    assert data in read_photo(plain).content


def test_a_photo_without_anything_beside_it_stays_as_it_is() -> None:
    for content in (jpeg(), png(), jpeg(icc_profile=ICC)):
        found = read_photo(content)
        assert (found.content, found.removed) == (content, ())


def test_a_thumbnail_in_the_head_of_jfif_is_gone() -> None:
    plain = jpeg()
    at = plain.index(b"JFIF")
    head = segment(0xE0, plain[at : at + 12] + b"\x02\x01" + b"SECRET")
    content = plain[:2] + head + plain[at + 14 :]
    found = read_photo(content)
    assert (found.content, found.removed) == (plain, ("thumbnail",))


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("laden", [laden_jpeg, laden_png], ids=["JPEG", "PNG"])
def test_the_wound_is_not_turned(orientation: int, laden: Any) -> None:
    content = laden(orientation)
    found = read_photo(content)
    assert found.orientation == orientation
    assert looks(found.content) == looks(content)
    assert (found.width, found.height) == ((32, 48) if orientation >= 5 else (48, 32))


@pytest.mark.parametrize("endian", ["<", ">"])
def test_both_byte_orders_of_exif_are_read(endian: str) -> None:
    made = Image.Exif()
    made.endian = endian
    made[0x0112], made[0x010F] = 3, "Invented Device"
    assert read_photo(jpeg(exif=made.tobytes())).orientation == 3


@given(st.binary(max_size=60), st.sampled_from([b"", b"II*\0", b"MM\0*", b"MM\0*\0\0\0\x08"]))
def test_broken_exif_says_nothing_and_hurts_nobody(data: bytes, head: bytes) -> None:
    assert photo_exif.read(head + data).orientation in range(1, 9)
    content = jpeg()
    found = read_photo(content[:2] + segment(0xE1, b"Exif\0\0" + head + data) + content[2:])
    assert pixels(found.content) == pixels(content)
    assert len(data) < 12 or data not in found.content or data in content


# -- numbers ---------------------------------------------------------------------------------------


def test_hashes_and_size_are_those_of_the_bytes_handed_over() -> None:
    found = read_photo(laden_jpeg(6))
    assert found.size == len(found.content)
    assert base64.b64decode(found.sha1) == hashlib.sha1(found.content).digest()
    assert found.sha256 == hashlib.sha256(found.content).hexdigest()
    assert read_photo(laden_jpeg(6)) == found  # same input, same bytes


def test_everything_is_kept_when_asked_for() -> None:
    content = laden_jpeg(6)
    found = read_photo(content, keep_metadata=True)
    assert (found.content, found.removed, found.kept_metadata) == (content, (), True)
    assert found.sha256 == hashlib.sha256(content).hexdigest()
    assert (found.width, found.height, found.orientation) == (32, 48, 6)


def test_a_file_is_read_from_disk(tmp_path: Path) -> None:
    path = tmp_path / "w1.jpg"
    path.write_bytes(laden_jpeg(6))
    assert read_photo_file(path) == read_photo(laden_jpeg(6))
    assert path.read_bytes() == laden_jpeg(6)  # the file itself is left alone
    with pytest.raises(InputError, match=r"none\.jpg: expected a photo that can be opened"):
        read_photo_file(tmp_path / "none.jpg")
