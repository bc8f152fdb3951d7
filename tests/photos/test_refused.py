"""Photos that cannot be taken: too large, cut, broken, of another format; each is refused clearly."""

from __future__ import annotations

import re
import struct
import sys
import zlib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from tests.photos.pictures import SECRETS, chunk, jpeg, laden_jpeg, laden_png, pixels, png
from woundfhir.errors import InputError
from woundfhir.photos import clean as photo
from woundfhir.photos.clean import read_photo, read_photo_file

Json = Any
#: Pillow itself notices that the laden pictures hold further ones.
pytestmark = pytest.mark.filterwarnings("ignore:Image appears to be a malformed MPO")


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
    from PIL import ImageFile

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
