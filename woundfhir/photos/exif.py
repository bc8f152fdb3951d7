"""EXIF as far as it is needed: the orientation, whether a place is in it, and a block that holds nothing but that.

EXIF 2.3 (CIPA DC-008): a TIFF 6.0 header, and a directory of tags of twelve bytes each.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

#: What is reported of a file that does not hold together.
BROKEN = ("a whole photo, and this one is cut or broken", "Copy or send it again")
_ORIENTATION, _GPS, _SHORT = 0x0112, 0x8825, 3


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A picture without what the camera wrote beside it; width and height as they are stored."""

    content: bytes
    width: int
    height: int
    orientation: int
    removed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Exif:
    """What a block of EXIF says: orientation 1 to 8 (1 where it does not say), and whether it holds a place."""

    orientation: int = 1
    gps: bool = False


def read(block: bytes) -> Exif:
    """Read a block of EXIF, from its TIFF header on; a broken one says nothing.

    Examples
    --------
    >>> read(write(6)), read(b"II*")
    (Exif(orientation=6, gps=False), Exif(orientation=1, gps=False))
    """
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(block[:4])
    if order is None:
        return Exif()
    orientation, gps = 1, False
    try:
        (start,) = struct.unpack_from(f"{order}I", block, 4)
        (count,) = struct.unpack_from(f"{order}H", block, start)
        for number in range(count):
            tag, kind, _, value = struct.unpack_from(f"{order}HHIH", block, start + 2 + 12 * number)
            gps = gps or tag == _GPS
            if tag == _ORIENTATION and kind == _SHORT and 1 <= value <= 8:
                orientation = value
    except struct.error:
        pass
    return Exif(orientation, gps)


def write(orientation: int) -> bytes:
    """Return a block of EXIF with the orientation alone."""
    return struct.pack(">4sIHHHIHHI", b"MM\0*", 8, 1, _ORIENTATION, _SHORT, 1, orientation, 0, 0)


def removed(block: bytes, said: Exif) -> tuple[str, ...]:
    """Return what goes with a block of EXIF, in words: nothing where it holds the orientation alone."""
    if block == write(said.orientation):
        return ()
    return ("EXIF", "place (GPS)") if said.gps else ("EXIF",)
