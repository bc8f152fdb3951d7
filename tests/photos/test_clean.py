"""Photos: what the camera wrote is gone, the picture is not touched, and what cannot be taken is refused clearly.

Outside source: Pillow reads every picture before and after, and reads EXIF with its own code. The pictures are drawn
here, with an invented place (49 degrees 12 minutes) and an invented device.
"""

from __future__ import annotations

import base64
import hashlib
import io
import re
import struct
import sys
import zlib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageOps, PngImagePlugin

from woundfhir.errors import InputError
from woundfhir.photos import clean as photo
from woundfhir.photos import exif as photo_exif
from woundfhir.photos.clean import Photo, read_photo, read_photo_file

Json = Any
#: Pillow itself notices that the laden pictures hold further ones.
pytestmark = pytest.mark.filterwarnings("ignore:Image appears to be a malformed MPO")
#: Words and numbers that must not be found in a cleaned photo.
SECRETS = (b"Invented Device", b"SECRET", struct.pack(">6I", 49, 1, 12, 1, 3417, 100))
_ICC = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def picture(size: tuple[int, int] = (48, 32), mode: str = "RGB") -> Image.Image:
    """Return a picture that looks different from every side."""
    width, height = size
    made = Image.new("RGB", size)
    made.putdata([(x * 255 // width, y * 255 // height, (x * y) % 256) for y in range(height) for x in range(width)])
    return made.convert(mode)


def exif(orientation: int | None = None) -> bytes:
    """Return EXIF with device, time, place and orientation, in the byte order of cameras."""
    made = Image.Exif()
    made.endian = ">"
    made[0x010F], made[0x0132], made[0x010E] = "Invented Device", "2026:03:02 10:05:00", "SECRET"
    if orientation is not None:
        made[0x0112] = orientation
    made.get_ifd(0x8825).update({1: "N", 2: (49.0, 12.0, 34.17), 3: "W", 4: (123.0, 6.0, 0.0)})
    return made.tobytes()


def jpeg(image: Image.Image | None = None, **options: Json) -> bytes:
    file = io.BytesIO()
    (image or picture()).save(file, "JPEG", **{"quality": 85, **options})
    return file.getvalue()


def png(image: Image.Image | None = None, **options: Json) -> bytes:
    file = io.BytesIO()
    (image or picture()).save(file, "PNG", **options)
    return file.getvalue()


def segment(marker: int, data: bytes) -> bytes:
    return bytes((0xFF, marker)) + (len(data) + 2).to_bytes(2, "big") + data


def laden_jpeg(orientation: int | None = None, **options: Json) -> bytes:
    """Return a JPEG with all that a camera and its programs leave in one."""
    plain = jpeg(exif=exif(orientation), icc_profile=_ICC, comment=b"SECRET", **options)
    more = (
        segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>SECRET</x:xmpmeta>"),
        segment(0xE0, b"JFXX\0\x10" + b"SECRET"),
        segment(0xE2, b"MPF\0SECRET"),
        segment(0xED, b"Photoshop 3.0\x008BIMSECRET"),
        segment(0xE7, b"SECRET"),
    )
    return plain[:2] + b"".join(more) + plain[2:] + jpeg(exif=exif(1)) + b"SECRET film"


def chunk(kind: bytes, data: bytes) -> bytes:
    return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")


def laden_png(orientation: int | None = None, image: Image.Image | None = None) -> bytes:
    words = PngImagePlugin.PngInfo()
    words.add_text("Author", "SECRET")
    words.add_text("Comment", "SECRET", zip=True)
    words.add_itxt("XML:com.adobe.xmp", "<x:xmpmeta>SECRET</x:xmpmeta>")
    plain = png(image, exif=exif(orientation)[6:], icc_profile=_ICC, pnginfo=words, dpi=(300, 300))
    end = plain.rindex(b"IEND") - 4
    more = chunk(b"tIME", b"\x07\xea\x03\x02\x0a\x05\0") + chunk(b"prVt", b"SECRET")
    return plain[:end] + more + plain[end:] + b"SECRET film"


def pixels(content: bytes) -> tuple[str, tuple[int, int], bytes]:
    with Image.open(io.BytesIO(content)) as image:
        return image.mode, image.size, image.tobytes()


def looks(content: bytes) -> bytes:
    """Return the pixels as a viewer turns them."""
    with Image.open(io.BytesIO(content)) as image:
        return ImageOps.exif_transpose(image).tobytes()


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
        assert image.info["icc_profile"] == _ICC
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
    for content in (jpeg(), png(), jpeg(icc_profile=_ICC)):
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


# -- refused ---------------------------------------------------------------------------------------


def test_a_photo_of_50_mb_is_refused_and_not_read(tmp_path: Path) -> None:
    path = tmp_path / "large.jpg"
    with path.open("wb") as file:
        file.write(jpeg())
        file.truncate(50 * 1024 * 1024)
    with pytest.raises(InputError, match=r"large\.jpg: expected a photo of at most 10 MB"):
        read_photo_file(path)
    with pytest.raises(InputError, match="a photo of at most 10 MB"):
        read_photo(jpeg() + bytes(10 * 1024 * 1024))
    assert read_photo_file(path, limit=60 * 1024 * 1024).size == len(jpeg())


def bomb_png(width: int, height: int) -> bytes:
    head = struct.pack(">2I5B", width, height, 8, 0, 0, 0, 0)
    data = chunk(b"IDAT", zlib.compress(bytes(100)))
    return photo.photo_png.BEGIN + chunk(b"IHDR", head) + data + chunk(b"IEND", b"")


def bomb_jpeg(width: int, height: int) -> bytes:
    content = bytearray(jpeg())
    at = content.index(b"\xff\xc0")
    content[at + 5 : at + 9] = struct.pack(">2H", height, width)
    return bytes(content)


def scans_jpeg(times: int) -> bytes:
    content = jpeg(progressive=True)
    at = content.rindex(b"\xff\xda")
    return content[:at] + content[at:-2] * times + content[-2:]


PLAIN, PNG = jpeg(), png()
REFUSED = {
    "a bomb, PNG": (bomb_png(60_000, 60_000), "at most 64 million points"),
    "a bomb, PNG with the largest numbers": (bomb_png(2**31 - 1, 2**31 - 1), "at most 64 million points"),
    "a bomb, JPEG": (bomb_jpeg(65_000, 65_000), "at most 64 million points"),
    "a bomb of scans": (scans_jpeg(200), "at most 100 scans"),
    "no height": (bomb_jpeg(48, 0), "cut or broken"),
    "nothing": (b"", "and this is empty"),
    "words": (b"a note", "and this is none"),
    "HEIC": (b"\0\0\0\x18ftypheic" + bytes(20), "and this is HEIC, or a film"),
    "GIF": (b"GIF89a" + bytes(20), "and this is GIF"),
    "WebP": (b"RIFF\0\0\0\0WEBPVP8 ", "and this is WebP"),
    "PDF": (b"%PDF-1.7", "and this is PDF"),
    "half a JPEG": (PLAIN[: len(PLAIN) // 2], "cut or broken"),
    "a JPEG without its end": (PLAIN[:-2], "cut or broken"),
    "a JPEG cut in a segment": (PLAIN[:12], "cut or broken"),
    "a JPEG of no length": (b"\xff\xd8\xff\xe0\0\0\xff\xd9", "cut or broken"),
    "a JPEG without a picture": (b"\xff\xd8\xff\xd9", "cut or broken"),
    "a JPEG without its tables": (PLAIN.replace(b"\xff\xdb", b"\xff\xe9"), "cut or broken"),
    "half a PNG": (PNG[: len(PNG) // 2], "cut or broken"),
    "a PNG without its end": (PNG[:-12], "cut or broken"),
    "a PNG with a changed byte": (PNG[:60] + bytes([PNG[60] ^ 1]) + PNG[61:], "cut or broken"),
    "a PNG without a head": (photo.photo_png.BEGIN + chunk(b"IEND", b""), "cut or broken"),
    "a PNG with something needed and not known": (PNG[:33] + chunk(b"CgBI", b"0000") + PNG[33:], "cut or broken"),
    "a PNG whose lines are missing": (bomb_png(4000, 4000), "cut or broken"),
}


@pytest.mark.parametrize("name", REFUSED)
@pytest.mark.parametrize("keep", [False, True])
def test_what_cannot_be_taken_is_refused(name: str, keep: bool) -> None:
    content, expected = REFUSED[name]
    with pytest.raises(InputError) as told:
        read_photo(content, "w1.jpg", keep_metadata=keep)
    assert expected in str(told.value)
    assert str(told.value).startswith("w1.jpg: ")


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused_too_where_another_library_lets_cut_pictures_pass(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """WeasyPrint sets this switch of Pillow for the whole process when it is imported; it is put back as it was."""
    from PIL import ImageFile

    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    content, expected = REFUSED[name]
    with pytest.raises(InputError, match=re.escape(expected)):
        read_photo(content)
    assert ImageFile.LOAD_TRUNCATED_IMAGES is True
    assert read_photo(PLAIN).size > 0


def test_it_is_refused_too_where_the_switch_is_set_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    from PIL import Image, ImageFile

    opened = []
    really_open = Image.open

    def open_(*args: Any, **options: Any) -> Any:
        opened.append(args)
        if len(opened) == 1:
            ImageFile.LOAD_TRUNCATED_IMAGES = True
        return really_open(*args, **options)

    monkeypatch.setattr(Image, "open", open_)
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", False)
    with pytest.raises(InputError, match="cut or broken"):
        read_photo(REFUSED["a JPEG without its tables"][0])
    assert len(opened) == 2


@settings(max_examples=150)
@given(st.sampled_from([laden_jpeg(6), laden_png(6)]), st.data())
def test_any_damage_is_refused_or_leaves_no_place_behind(content: bytes, data: Any) -> None:
    """Bytes changed, cut out or doubled: never another error, never the place of the wound's owner."""
    at = data.draw(st.integers(2, len(content) - 1))
    length = data.draw(st.integers(0, 40))
    new = data.draw(st.binary(max_size=4))
    damaged = content[:at] + new + content[at + length :]
    try:
        found = read_photo(damaged)
    except InputError:
        return
    assert SECRETS[2] not in found.content
    assert len(pixels(found.content)[2]) > 0


def test_without_pillow_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "PIL", None)
    with pytest.raises(InputError, match=r"pip install 'woundfhir\[photo\]'"):
        read_photo(PLAIN)
