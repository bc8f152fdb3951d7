"""Files that a program has open: text or bytes, from where they stand; what cannot be read is one clear message."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest

from woundfhir import InputError, read
from woundfhir.intake.given import file_name

NOTE = "woundfhir: 1\npatient: {name: {family: Example}}\n"


def closed() -> io.StringIO:
    file = io.StringIO(NOTE)
    file.close()
    return file


class Broken(io.BytesIO):
    def read(self, size: int | None = -1, /) -> bytes:
        raise PermissionError(13, "Permission denied")


@pytest.mark.parametrize(
    "file", [io.StringIO(NOTE), io.BytesIO(NOTE.encode()), io.TextIOWrapper(io.BytesIO(NOTE.encode()), "utf-8")]
)
def test_an_open_file_is_read(file: Any) -> None:
    assert read(file).history.patient["name"] == {"family": "Example"}


def test_an_open_file_is_read_from_where_it_stands() -> None:
    file = io.BytesIO(b"what a program has read\n" + NOTE.encode())
    file.readline()
    assert read(file).history.patient["name"] == {"family": "Example"}


@pytest.mark.parametrize(
    ("file", "words"),
    [
        (io.TextIOWrapper(io.BytesIO(b"\xff\xfe" + NOTE.encode()), "utf-8"), ("text in UTF-8", "binary mode")),
        (Broken(), ("Permission denied", "open for reading")),
        (closed(), ("it is closed", "Open it again")),
    ],
)
def test_an_open_file_that_cannot_be_read_says_why(file: Any, words: tuple[str, str]) -> None:
    with pytest.raises(InputError) as caught:
        read(file)
    assert all(word in str(caught.value) for word in words)


@pytest.mark.parametrize("text", ["woundfhir: 1", NOTE, '{"resourceType": "Patient"}', "a\nb.yaml", "a\x00.yaml", ""])
def test_a_text_that_is_content_or_can_be_no_name_is_no_file_to_write(text: str) -> None:
    with pytest.raises(InputError, match="Give the history first, then the path") as caught:
        file_name(text)
    assert not text or text not in str(caught.value)
    assert file_name(Path(text)) == Path(text)


@pytest.mark.parametrize("name", ["a.yaml", "notes of today/b c.json", "record"])
def test_a_name_is_a_file_to_write(name: str) -> None:
    assert file_name(name) == Path(name)
