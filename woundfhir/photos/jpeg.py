"""JPEG: the segments that make the picture are kept byte for byte, all others go (ITU-T T.81 annex B; JFIF 1.02)."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from woundfhir.errors import InputError
from woundfhir.photos import exif as photo_exif
from woundfhir.photos.exif import BROKEN, Cleaned, Exif

BEGIN = b"\xff\xd8\xff"
#: Most scans. A progressive JPEG has about ten; each costs the reader a pass over the whole picture.
SCANS = 100
_EOI, _SOS, _APP0, _APP1, _APP2, _APP13, _APP14, _COM = 0xD9, 0xDA, 0xE0, 0xE1, 0xE2, 0xED, 0xEE, 0xFE
#: Start of frame (with the size), tables, restart interval, number of lines, hierarchical progression.
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_PICTURE = _FRAMES | {0xC4, 0xCC, 0xDB, 0xDC, 0xDD, 0xDE, 0xDF}
#: A marker behind compressed data: not a stuffed byte (FF 00), not a restart (FF D0 to FF D7).
_MARKER = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")
_EXIF, _ICC, _ADOBE, _JFIF = b"Exif\0\0", b"ICC_PROFILE\0", b"Adobe", b"JFIF\0"
_XMP = b"http://ns.adobe.com/"


@dataclass(slots=True)
class _Sorted:
    """What was found so far."""

    head: list[bytes] = field(default_factory=list)
    kept: list[bytes] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    exif: Exif | None = None
    size: tuple[int, int] = (0, 0)
    scans: int = 0


def clean(content: bytes, where: str) -> Cleaned:
    """Return a JPEG without what is not the picture.

    Parameters
    ----------
    content
        Bytes that start with ``BEGIN``.
    where
        Name of the file, for the error.

    Raises
    ------
    InputError
        When the segments do not hold together.
    """
    found = _Sorted()
    at, marker = 2, 0
    while marker != _EOI:
        start, marker, at = _marker(content, at, where, found)
        if marker == _EOI:
            break
        end = at + int.from_bytes(content[at : at + 2], "big")
        if end < at + 2 or end > len(content):
            raise InputError(where, *BROKEN)
        if marker == _SOS:
            end = _scan(content, end, where, found)
            found.kept.append(content[start:end])
        elif marker in _PICTURE:
            found.kept.append(content[start:end])
            if marker in _FRAMES and found.size == (0, 0):
                height, width = (int.from_bytes(content[at + byte : at + byte + 2], "big") for byte in (3, 5))
                found.size = (width, height)
        else:
            _beside(marker, content[at + 2 : end], found)
        at = end
    if content[at:].strip(b"\0\r\n"):
        found.removed.append("data behind the end")
    exif = found.exif or Exif()
    if exif.orientation > 1:
        found.head.append(_segment(_APP1, _EXIF + photo_exif.write(exif.orientation)))
    made = b"".join((b"\xff\xd8", *found.head, *found.kept, b"\xff\xd9"))
    return Cleaned(made, *found.size, exif.orientation, tuple(dict.fromkeys(found.removed)))


def _marker(content: bytes, at: int, where: str, found: _Sorted) -> tuple[int, int, int]:
    """Return where the next marker starts, what it is, and where what it marks starts."""
    match = _MARKER.search(content, at)
    if match is None:
        raise InputError(where, *BROKEN)
    if match.start() != at:
        found.removed.append("other data")
    return match.end() - 2, content[match.end() - 1], match.end()


def _scan(content: bytes, at: int, where: str, found: _Sorted) -> int:
    """Return where the compressed data of a scan ends."""
    found.scans += 1
    if found.scans > SCANS:
        raise InputError(where, f"a JPEG of at most {SCANS} scans", "Save it anew with another program")
    match = _MARKER.search(content, at)
    if match is None:
        raise InputError(where, *BROKEN)
    return match.start()


def _beside(marker: int, data: bytes, found: _Sorted) -> None:
    """Keep of a segment that is not the picture what decides how it looks; name what goes."""
    if marker == _APP0 and data.startswith(_JFIF) and len(data) >= 14:
        if not found.head:
            found.head.append(_segment(_APP0, data[:12] + b"\0\0"))
        if data[12:14] != b"\0\0" or len(data) > 14:
            found.removed.append("thumbnail")
    elif marker == _APP2 and data.startswith(_ICC):
        found.kept.append(_segment(marker, data))
    elif marker == _APP14 and data.startswith(_ADOBE) and len(data) >= 12:
        found.kept.append(_segment(marker, data[:12]))
    elif marker == _APP1 and data.startswith(_EXIF):
        block = data[len(_EXIF) :]
        read = photo_exif.read(block)
        found.exif = found.exif or read
        found.removed.extend(photo_exif.removed(block, read))
    else:
        found.removed.append(_name(marker, data))


def _name(marker: int, data: bytes) -> str:
    if marker == _APP1 and data.startswith(_XMP):
        return "XMP"
    if marker == _APP0 and data.startswith(b"JFXX\0"):
        return "thumbnail"
    if marker == _APP2 and data.startswith(b"MPF\0"):
        return "further pictures"
    return {_APP13: "IPTC", _COM: "comment"}.get(marker, "other data")


def _segment(marker: int, data: bytes) -> bytes:
    return bytes((0xFF, marker)) + (len(data) + 2).to_bytes(2, "big") + data
