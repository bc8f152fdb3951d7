"""Large files are read in parts: wherever these end and whoever reads them, the lines and the clients are the same."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from tests.bulk.clients import lines
from woundfhir.bulk import grouping as module
from woundfhir.bulk.grouping import Grouping
from woundfhir.bulk.lines import MARK, Files

SIZES = (1, 7, 100, 1_000, 5_000, 1_000_000)


def mixed(seed: int) -> bytes:
    """Lines of three clients in any order, with blank ones, broken ones and one that is too long among them."""
    chance = random.Random(seed)
    some = lines(0, 1, 2).splitlines()
    chance.shuffle(some)
    others = (
        b"",
        b"  ",
        b"{broken",
        b"\0\0",
        b'{"a":1}',
        b'{"resourceType":"Observation","x":"' + b"a" * 40_000 + b'"}',
    )
    for other in others:
        some.insert(chance.randint(0, len(some)), other)
    return (MARK if seed % 2 else b"") + b"\n".join(some) + (b"\n" if seed % 3 else b"")


@pytest.fixture(params=range(4))
def path(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr("woundfhir.bulk.lines.LINE_LIMIT", 30_000)
    found = tmp_path / "some.ndjson"
    found.write_bytes(mixed(request.param))
    return found


@pytest.mark.parametrize("size", SIZES)
def test_each_line_is_in_one_part_where_python_finds_it(path: Path, size: int) -> None:
    content = path.read_bytes()
    expected, start = [], 0
    for text in content.split(b"\n"):
        ended = text + b"\n"[: len(content) - start - len(text)]
        skip = len(MARK) if not start and text.startswith(MARK) else 0
        if ended:
            expected.append(
                (start + skip if len(text) <= 30_000 else start, ended[skip:] if len(text) <= 30_000 else b"")
            )
        start += len(text) + 1
    with Files([path]) as files:
        found = [(line.start, line.text) for part in files.parts(size) for line in files.lines_in(part)]
    assert found == expected


def grouped(path: Path, workers: int) -> tuple[Any, ...]:
    refused: list[tuple[str, int, str]] = []
    with Files([path]) as files, Grouping(files, lambda *one: refused.append(one), workers) as grouping:
        grouping.read()
        return [(group.content, group.places) for group in grouping.groups()], refused, grouping.lines


@pytest.mark.parametrize("workers", [1, 2])
def test_parts_of_any_size_give_the_same_clients(path: Path, workers: int, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = grouped(path, 1)
    assert (len(expected[0]), len(expected[1])) == (3, 4)
    for size in SIZES if workers == 1 else (1_000, 20_000):
        monkeypatch.setattr(module, "_PART", size)
        assert grouped(path, workers) == expected
