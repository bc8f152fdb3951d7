"""Pictures drawn here, laden with what a camera writes: an invented place and an invented device."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

from PIL import Image, ImageCms, ImageOps, PngImagePlugin

Json = Any
#: Words and numbers that must not be found in a cleaned photo.
SECRETS = (b"Invented Device", b"SECRET", struct.pack(">6I", 49, 1, 12, 1, 3417, 100))
ICC = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


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
    plain = jpeg(exif=exif(orientation), icc_profile=ICC, comment=b"SECRET", **options)
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
    plain = png(image, exif=exif(orientation)[6:], icc_profile=ICC, pnginfo=words, dpi=(300, 300))
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
