"""Compressed files, gzip and Zstandard (RFC 1952 and RFC 8878): read by their first bytes, written by their ending."""

from __future__ import annotations

import gzip
import io
import sys
import zlib
from pathlib import PurePath
from typing import IO, Any, BinaryIO, cast

from woundfhir.errors import InputError
from woundfhir.limits import check_size

if sys.version_info >= (3, 14):
    from compression import zstd
else:
    from backports import zstd

#: First bytes -> how it is packed.
_MAGIC = {b"\x1f\x8b": "gz", b"\x28\xb5\x2f\xfd": "zst"}
#: Endings of names, as the trade writes them.
ENDINGS = (".gz", ".zst")
_BROKEN = ("a compressed file that is whole", "Copy or send the file again")
#: What the libraries raise where a file breaks off or is damaged.
FAULTS = (EOFError, gzip.BadGzipFile, zlib.error, zstd.ZstdError)


def packing(name: str) -> str:
    """Return how a file of a name is packed, "" where it is not.

    Examples
    --------
    >>> packing("all.ndjson.gz"), packing("all.ndjson")
    ('gz', '')
    """
    ending = PurePath(name).suffix.lower()
    return ending[1:] if ending in ENDINGS else ""


def plain_name(name: str) -> str:
    """Return the name of what is packed in a file.

    Examples
    --------
    >>> plain_name("all.ndjson.zst")
    'all.ndjson'
    """
    return name[: -len(packing(name)) - 1] if packing(name) else name


def is_packed(head: bytes) -> bool:
    """Whether a file begins as a compressed one does."""
    return any(head.startswith(magic) for magic in _MAGIC)


def reader(stream: BinaryIO, head: bytes) -> IO[bytes]:
    """Return a stream of what is packed in another, which stands at its beginning; ``head`` is its first bytes."""
    if head.startswith(b"\x1f\x8b"):
        return cast(IO[bytes], gzip.GzipFile(fileobj=stream, mode="rb"))
    return cast(IO[bytes], _Frames(stream))


class _Frames:
    """What is in Zstandard frames, one behind the other; the library's own reader takes half a frame for all of it."""

    #: Bytes that are unpacked at once: the most that can come out of so many is some 50 MB.
    _STEP = 1024

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._frame: Any = None
        self._rest = b""

    def __enter__(self) -> _Frames:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def read(self, _: int = -1) -> bytes:
        """Return what comes next, as much as that may be; nothing at the end."""
        while part := self._rest or self._stream.read(self._STEP):
            if self._frame is None or self._frame.eof:
                self._frame = zstd.ZstdDecompressor()
            found: bytes = self._frame.decompress(part)
            self._rest = self._frame.unused_data if self._frame.eof else b""
            if found:
                return found
        if self._frame is not None and not self._frame.eof:
            raise EOFError
        return b""


def unpacked(content: bytes, limit: int, where: str) -> bytes:
    """Return what is packed in the content of a file, and what is not packed as it is.

    Raises
    ------
    InputError
        Where it breaks off or is damaged, and where more comes out than the limit (bytes).

    Examples
    --------
    >>> unpacked(gzip.compress(b"abc"), 3, "a"), unpacked(b"abc", 3, "a")
    (b'abc', b'abc')
    """
    if not is_packed(content[:4]):
        return content
    parts: list[bytes] = []
    size = 0
    try:
        with reader(io.BytesIO(content), content[:4]) as stream:
            while part := stream.read(1 << 20):
                parts.append(part)
                size += len(part)
                check_size(size, limit, where)
    except FAULTS:
        raise damaged(where) from None
    return b"".join(parts)


def damaged(where: str) -> InputError:
    """Return the error for a compressed file that breaks off or is damaged."""
    return InputError(where, *_BROKEN, found="it breaks off, or is damaged")


def packed(content: bytes, name: str) -> bytes:
    """Return the content of a file as the ending of its name wants it: the same content gives the same bytes."""
    out = io.BytesIO()
    with writer(out, packing(name)) as stream:
        stream.write(content)
    return out.getvalue()


def writer(stream: BinaryIO, how: str) -> Any:
    """Return a context in which one writes what goes packed into a stream, which stays open."""
    if how == "gz":
        return gzip.GzipFile(filename="", fileobj=stream, mode="wb", mtime=0, compresslevel=6)
    if how == "zst":
        return zstd.ZstdFile(stream, "wb", level=3)
    return _Through(stream)


class _Through:
    """Writes what it is given as it is."""

    def __init__(self, stream: BinaryIO) -> None:
        self.write = stream.write

    def __enter__(self) -> _Through:
        return self

    def __exit__(self, *_: object) -> None:
        return None
