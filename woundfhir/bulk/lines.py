"""The lines of large files, and where each stands, so that it can be read again; what is packed is unpacked once."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import IO, BinaryIO, NamedTuple

from woundfhir.errors import InputError
from woundfhir.intake.source import named
from woundfhir.limits import LINE_LIMIT, readable_size
from woundfhir.packed import FAULTS, damaged, is_packed, reader

#: The mark of UTF-8 that some programs put first.
MARK = b"\xef\xbb\xbf"


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


class Line(NamedTuple):
    """One line that is not blank: the number of its file, its number from 1, where it stands, and its bytes.

    A line that is too long has no bytes here, and is not ``whole``.
    """

    file: int
    number: int
    start: int
    text: bytes
    whole: bool = True


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
        """Yield the lines of all files, in order; what is added to a file meanwhile is not read."""
        for file, (stream, size) in enumerate(zip(self._open, self._sizes, strict=True)):
            stream.seek(0)
            start = number = 0
            while start < size and (text := stream.readline(min(LINE_LIMIT + 2, size - start))):
                number += 1
                if len(text) > LINE_LIMIT + 1:
                    yield Line(file, number, start, b"", whole=False)
                    start += len(text)
                    while not text.endswith(b"\n") and start < size:
                        text = stream.readline(min(1 << 20, size - start))
                        if not text:
                            break
                        start += len(text)
                    continue
                skip = len(MARK) if number == 1 and text.startswith(MARK) else 0
                if text[skip:].strip():
                    yield Line(file, number, start + skip, text[skip:])
                start += len(text)

    def too_long(self, line: Line) -> InputError:
        """Return the error for a line that is not whole."""
        where = f"{self.names[line.file]}, line {line.number}"
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
