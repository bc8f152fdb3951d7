"""Photos: what a file holds besides the picture is taken out, and the picture itself is not touched.

A camera writes where the photo was taken (GPS), when, with which device, a small copy, and what its programs add
(EXIF, XMP, IPTC, comments, further pictures and films behind the end). All of that goes unless it is asked for. What
decides how the picture looks stays: the compressed picture byte for byte, colour profile, resolution, and the
orientation. Orientation is one EXIF tag; turning the pixels instead would compress them again, and dropping it would
turn the wound, and with it the clock positions. So a new EXIF block is written that holds this tag alone.

Formats: JPEG (ITU-T T.81 annex B; JFIF; EXIF 2.3 section 4.5) and PNG (W3C PNG, third edition).
"""

from __future__ import annotations

import base64
import hashlib
import io
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.extras import missing
from woundfhir.limits import readable_size
from woundfhir.photos import jpeg as photo_jpeg
from woundfhir.photos import png as photo_png
from woundfhir.photos.exif import BROKEN as _BROKEN

#: Largest photo, in bytes.
LIMIT = 10 * 1024 * 1024
#: Most points of a picture. A small file can hold a huge one, which fills the memory of whoever opens it.
POINTS = 64_000_000
_FORMATS = {"image/jpeg": photo_jpeg, "image/png": photo_png}
#: Other formats by how they begin, to name them: ISO 14496-12, WebP (RFC 9649), GIF89a, TIFF 6.0, Windows, PDF.
_OTHERS = (
    (4, b"ftyp", "HEIC, or a film"),
    (8, b"WEBP", "WebP"),
    (0, b"GIF8", "GIF"),
    (0, b"II*\0", "TIFF"),
    (0, b"MM\0*", "TIFF"),
    (0, b"BM", "BMP"),
    (0, b"%PDF", "PDF"),
)


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo as it is handed over.

    Attributes
    ----------
    content
        The bytes.
    content_type
        ``image/jpeg`` or ``image/png``, by what the bytes are.
    size
        In bytes.
    width, height
        In points, as the picture is looked at: turned as its orientation says.
    orientation
        1 to 8 (EXIF 2.3, tag 0x0112); 1: as it is stored.
    sha1
        SHA-1 in base64, as R4's Attachment.hash has it. It finds accidents, not forgers.
    sha256
        SHA-256 in hexadecimal.
    removed
        What was taken out, in words.
    kept_metadata
        Whether the bytes are those of the camera, all of them.
    """

    content: bytes
    content_type: str
    size: int
    width: int
    height: int
    orientation: int
    sha1: str
    sha256: str
    removed: tuple[str, ...]
    kept_metadata: bool


def read_photo_file(path: Path, *, keep_metadata: bool = False, limit: int = LIMIT) -> Photo:
    """Read a photo from a file; one that is too large is not read at all. See ``read_photo``."""
    try:
        size = path.stat().st_size
        _check_size(size, path.name, limit)
        with path.open("rb") as file:
            content = file.read(limit + 1)
    except OSError:
        raise InputError(path.name, "a photo that can be opened", "Check the name and the rights of the file") from None
    return read_photo(content, path.name, keep_metadata=keep_metadata, limit=limit)


def read_photo(
    content: bytes, where: str = "photo", *, keep_metadata: bool = False, limit: int = LIMIT, points: int = POINTS
) -> Photo:
    """Check a photo, and take out what the camera wrote into it.

    Parameters
    ----------
    content
        The bytes of a JPEG or PNG file.
    where
        Name of the file, for the error.
    keep_metadata
        True: the bytes stay as they are, with place, time and device in them.
    limit
        Most bytes.
    points
        Most points (width times height).

    Raises
    ------
    InputError
        Too large in bytes or points, another format, broken or cut, or Pillow is not installed.
    """
    _check_size(len(content), where, limit)
    content_type = _type(content, where)
    module = _FORMATS[content_type]
    cleaned = module.clean(content, where)
    width, height = cleaned.width, cleaned.height
    if width * height > points:
        raise InputError(where, f"a photo of at most {points // 1_000_000} million points", "Save a smaller copy of it")
    if not width or not height:
        raise InputError(where, *_BROKEN)
    _open(cleaned.content, where)
    kept = content if keep_metadata else cleaned.content
    turned = cleaned.orientation >= 5
    return Photo(
        content=kept,
        content_type=content_type,
        size=len(kept),
        width=height if turned else width,
        height=width if turned else height,
        orientation=cleaned.orientation,
        sha1=base64.b64encode(hashlib.sha1(kept, usedforsecurity=False).digest()).decode(),
        sha256=hashlib.sha256(kept).hexdigest(),
        removed=() if keep_metadata else cleaned.removed,
        kept_metadata=keep_metadata,
    )


def _check_size(size: int, where: str, limit: int) -> None:
    if size > limit:
        raise InputError(where, f"a photo of at most {readable_size(limit)}", "Save a smaller copy of it")


def _type(content: bytes, where: str) -> str:
    for name, module in _FORMATS.items():
        if content.startswith(module.BEGIN):
            return name
    other = next((name for at, mark, name in _OTHERS if content[at : at + len(mark)] == mark), "")
    found = f", and this is {other}" if other else ", and this is none" if content else ", and this is empty"
    raise InputError(where, f"a photo in JPEG or PNG{found}", "Save or export it as JPEG")


def _open(content: bytes, where: str) -> None:
    """Let Pillow read the picture to its end: it has to open on the other side too."""
    try:
        from PIL import Image, ImageFile
    except ImportError:
        raise missing("photo", where) from None

    def load() -> None:
        with Image.open(io.BytesIO(content), formats=("JPEG", "PNG")) as picture:
            picture.draft(None, (1, 1))  # JPEG: an eighth of the size is enough to read it all
            picture.load()

    try:
        with _strict(ImageFile):
            load()
            while ImageFile.LOAD_TRUNCATED_IMAGES:  # another thread has just imported a library that asks for it
                ImageFile.LOAD_TRUNCATED_IMAGES = False
                load()
    except (OSError, SyntaxError, ValueError, EOFError, LookupError, Image.DecompressionBombError):
        raise InputError(where, *_BROKEN) from None


_STRICT = threading.Lock()


@contextmanager
def _strict(image_file: Any) -> Iterator[None]:
    """Let Pillow refuse a cut picture here, whatever other libraries have asked of it for the whole process.

    WeasyPrint sets ``PIL.ImageFile.LOAD_TRUNCATED_IMAGES`` when it is imported: after a PDF, half a photo would pass.
    """
    with _STRICT:
        before = image_file.LOAD_TRUNCATED_IMAGES
        image_file.LOAD_TRUNCATED_IMAGES = False
        try:
            yield
        finally:
            image_file.LOAD_TRUNCATED_IMAGES = before
