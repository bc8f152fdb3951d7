"""PNG: the chunks that make the picture are kept byte for byte, all others go (W3C PNG, third edition, section 11)."""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from woundfhir.errors import InputError
from woundfhir.photos import exif as photo_exif
from woundfhir.photos.exif import BROKEN, Cleaned, Exif

BEGIN = b"\x89PNG\r\n\x1a\n"
_NEEDED = frozenset((b"IHDR", b"PLTE", b"IDAT", b"IEND"))
#: Transparency, colour, resolution, ground.
_LOOKS = frozenset((b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"cICP", b"mDCV", b"cLLI", b"pHYs", b"bKGD"))
_NAMES = {
    b"tEXt": "comment", b"zTXt": "comment", b"iTXt": "comment", b"tIME": "time",
    b"acTL": "further pictures", b"fcTL": "further pictures", b"fdAT": "further pictures",
}  # fmt: skip


def clean(content: bytes, where: str) -> Cleaned:
    """Return a PNG without what is not the picture.

    Parameters
    ----------
    content
        Bytes that start with ``BEGIN``.
    where
        Name of the file, for the error.

    Raises
    ------
    InputError
        When the chunks do not hold together, or one that is needed is not known.
    """
    kept: list[bytes] = []
    removed: list[str] = []
    exif: Exif | None = None
    end = len(BEGIN)
    for kind, data, chunk in _chunks(content, where):
        end += len(chunk)
        if kind in _NEEDED or kind in _LOOKS:
            kept.append(chunk)
        elif kind == b"eXIf":
            read = photo_exif.read(data)
            exif = exif or read
            removed.extend(photo_exif.removed(data, read))
        elif not kind[0] & 0x20:  # critical: without it the picture cannot be drawn (section 5.4)
            raise InputError(where, *BROKEN)
        else:
            xmp = kind == b"iTXt" and data.startswith(b"XML:com.adobe.xmp\0")
            removed.append("XMP" if xmp else _NAMES.get(kind, "other data"))
    if content[end:].strip(b"\0\r\n"):
        removed.append("data behind the end")
    orientation = exif.orientation if exif else 1
    if orientation > 1:
        kept.insert(1, _chunk(b"eXIf", photo_exif.write(orientation)))
    width, height = (int.from_bytes(content[at : at + 4], "big") for at in (16, 20))
    return Cleaned(BEGIN + b"".join(kept), width, height, orientation, tuple(dict.fromkeys(removed)))


def _chunks(content: bytes, where: str) -> Iterator[tuple[bytes, bytes, bytes]]:
    """Yield kind, data and whole chunk, up to IEND."""
    at, kind = len(BEGIN), b""
    while kind != b"IEND":
        length, kind = int.from_bytes(content[at : at + 4], "big"), content[at + 4 : at + 8]
        end = at + 12 + length
        data = content[at + 8 : end - 4]
        first = at == len(BEGIN)
        if end > len(content) or first != (kind == b"IHDR") or (first and length != 13):
            raise InputError(where, *BROKEN)
        if content[end - 4 : end] != zlib.crc32(kind + data).to_bytes(4, "big"):
            raise InputError(where, *BROKEN)
        yield kind, data, content[at:end]
        at = end


def _chunk(kind: bytes, data: bytes) -> bytes:
    return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")
