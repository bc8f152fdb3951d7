"""The lines of large files, and where each stands, so that it can be read again; what is packed is unpacked once."""

from __future__ import annotations

import io
import os
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import IO, Any, BinaryIO, NamedTuple

from woundfhir.errors import InputError
from woundfhir.intake.source import named
from woundfhir.limits import LINE_LIMIT, readable_size
from woundfhir.packed import FAULTS, damaged, is_packed, reader

#: The mark of UTF-8 that some programs put first.
MARK = b"\xef\xbb\xbf"
#: Bytes that are read at once.
_BUFFER = 1 << 18


def stated(inputs: Iterable[str | Path]) -> Iterator[tuple[str, tuple[int, int]]]:
    """Yield the name of each file, with its size and the time of its last change (ns): what tells that it is as it was.

    A file that is not there has zeros: who reads it says so.
    """
    for name in named(inputs):
        try:
            found = Path(name).stat()
        except OSError:
            yield name, (0, 0)
        else:
            yield name, (found.st_size, found.st_mtime_ns)


def title_of(names: Sequence[str]) -> str:
    """Return what messages call an input: its file, or the folder of its files."""
    if len(names) == 1:
        return "standard input" if names[0] == "-" else names[0]
    return str(Path(names[0]).parent)


class Line(NamedTuple):
    """One line: the number of its file, its number from 1, where it stands, and its bytes.

    A line that is too long has no bytes here, and is not ``whole``.
    """

    file: int
    number: int
    start: int
    text: bytes
    whole: bool = True


class Part(NamedTuple):
    """A part of a file: the number of the file, where it begins and where it ends."""

    file: int
    start: int
    end: int


class Files:
    """Files, folders and standard input, as lines; open until the block ends."""

    def __init__(self, inputs: Iterable[str | Path]) -> None:
        self._stack = ExitStack()
        self.names = list(named(inputs))
        self._open: list[BinaryIO] = []
        self._sizes: list[int] = []

    def __enter__(self) -> Files:
        try:
            for name in self.names:
                self._add(name)
        except BaseException:
            self._stack.close()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    @property
    def size(self) -> int:
        """All bytes of all files, unpacked."""
        return sum(self._sizes)

    def _add(self, name: str) -> None:
        try:
            stream: BinaryIO = sys.stdin.buffer if name == "-" else self._read(Path(name))
            if name == "-" or not stream.seekable():
                stream = self._spooled(stream, name)
            head = stream.read(4)
            stream.seek(0)
            if is_packed(head):
                stream = self._spooled(reader(stream, head), name)
            self._open.append(stream)
            self._sizes.append(os.fstat(stream.fileno()).st_size)
        except FAULTS:
            raise damaged(name) from None
        except FileNotFoundError:
            wrong = "there is no such file"
            raise InputError(name, "a file or a folder", "Check the name and the folder", found=wrong) from None
        except OSError as error:
            wrong = f"it cannot be read ({error.strerror})"
            raise InputError(name, "a file that this user may read", "Look at its permissions", found=wrong) from None

    def _read(self, path: Path) -> BinaryIO:
        return self._stack.enter_context(path.open("rb"))

    def _spooled(self, stream: IO[bytes] | BinaryIO, name: str) -> BinaryIO:
        """Unpack a stream to a file of our own on the disk."""
        held: BinaryIO = self._stack.enter_context(tempfile.TemporaryFile(prefix="woundfhir-"))  # noqa: SIM115
        while part := stream.read(1 << 20):
            held.write(part)
        held.seek(0)
        return held

    def head(self, size: int = 64 * 1024) -> list[bytes]:
        """Return the first bytes of each file."""
        return [os.pread(stream.fileno(), size, 0) for stream in self._open]

    def lines(self) -> Iterator[Line]:
        """Yield the lines of all files that are not blank, in order."""
        for file, size in enumerate(self._sizes):
            for line in self.lines_in(Part(file, 0, size)):
                if not line.whole or line.text.strip():
                    yield line

    def parts(self, size: int) -> Iterator[Part]:
        """Yield parts of so many bytes that hold all lines between them, in order."""
        for file, end in enumerate(self._sizes):
            for start in range(0, end, size):
                yield Part(file, start, min(start + size, end))

    def lines_in(self, part: Part) -> Iterator[Line]:
        """Yield the lines that begin in a part, blank ones too; what is added to a file meanwhile is not read."""
        file, start, end = part
        stream = io.BufferedReader(_Stretch(self._open[file].fileno(), max(start - 1, 0), self._sizes[file]), _BUFFER)
        if start:  # the rest of the line that began before, were it the end of it alone
            start += _rest(stream, end - start + 1) - 1
        number = 0
        while start < end and (text := stream.readline(LINE_LIMIT + 2)):
            number += 1
            if len(text) > LINE_LIMIT + 1:
                yield Line(file, number, start, b"", whole=False)
                start += len(text) + (0 if text.endswith(b"\n") else _rest(stream))
                continue
            skip = len(MARK) if start == 0 and text.startswith(MARK) else 0
            yield Line(file, number, start + skip, text[skip:])
            start += len(text)

    def too_long(self, file: int, number: int) -> InputError:
        """Return the error for a line that is not whole."""
        where = f"{self.names[file]}, line {number}"
        return InputError(where, f"at most {readable_size(LINE_LIMIT)} a line", "Write one resource a line")

    def again(self, file: int, start: int, length: int) -> bytes:
        """Return bytes that were read before.

        Raises
        ------
        InputError
            Where the file has been changed since, and is shorter now.
        """
        found = os.pread(self._open[file].fileno(), length, start)
        if len(found) != length:
            fix = "Wait until nobody writes to it, then try again"
            raise InputError(self.names[file], "a file that stays as it is", fix, found="it has become shorter")
        return found

    def together(self, stretches: Iterable[Part]) -> bytes:
        """Return lines that were read before, from one or more stretches of whole lines."""
        texts = [self.again(file, start, end - start) for file, start, end in stretches]
        return b"".join(text if text.endswith(b"\n") else text + b"\n" for text in texts)


class _Stretch(io.RawIOBase):
    """The bytes of an open file from one place to another; other processes read the same file at other places."""

    def __init__(self, descriptor: int, start: int, end: int) -> None:
        self._descriptor, self._at, self._end = descriptor, start, end

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        found = os.pread(self._descriptor, min(len(buffer), self._end - self._at), self._at)
        buffer[: len(found)] = found
        self._at += len(found)
        return len(found)


def _rest(stream: BinaryIO, most: int = sys.maxsize) -> int:
    """Read to the end of a line, or at least so many bytes, and return how many that were."""
    size = 0
    while size < most and (text := stream.readline(_BUFFER)):
        size += len(text)
        if text.endswith(b"\n"):
            break
    return size
