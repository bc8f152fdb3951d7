"""Many clients as a stream: the same bytes whatever the number of workers, and nothing lost, joined or written by half.

The oracle is the way that reads an input as a whole. Packed files are held against the standard library (gzip,
RFC 1952) and the library zstandard (RFC 8878), digests against hashlib.
"""

from __future__ import annotations

import gzip
import io
import json
import random
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
import zstandard

from tests.bulk.clients import CLIENTS, lines, records
from woundfhir.cli import run
from woundfhir.packed import ENDINGS, packed

Json = Any


@pytest.mark.parametrize(
    ("plain", "escaped"), [(b"Practitioner/", b"Practitioner\\/"), (b'"Practitioner/', b'"Practitione\\u0072/')]
)
def test_a_reference_that_is_written_with_escapes_is_followed(
    said: Any, tmp_path: Path, plain: bytes, escaped: bytes
) -> None:
    """RFC 8259, section 7: any character may be escaped; some programs write each slash so."""
    path, out = tmp_path / "escaped.ndjson", tmp_path / "out.ndjson"
    text = lines(0, 1, 2)
    path.write_bytes(text.replace(plain, escaped))
    assert path.read_bytes() != text
    assert said("convert", path, "-t", "record-ndjson", "-o", out)[0] == 0
    assert sorted(map(json.loads, out.read_text().splitlines()), key=str) == records(path)
    assert out.read_text().count("Nurse (invented)") == 6


# -- the same as read whole ------------------------------------------------------------------------


@pytest.mark.parametrize("workers", [1, 2, 3])
@pytest.mark.parametrize("to", ["record-ndjson", "ndjson"])
def test_the_bytes_are_those_of_the_whole_whatever_the_workers(
    said: Any, many: Path, tmp_path: Path, workers: int, to: str
) -> None:
    whole, streamed = tmp_path / "whole", tmp_path / "streamed"
    assert said("convert", many, "--to", to, "-o", whole)[0] == 0
    code, _, err = said("convert", many, "--to", to, "-o", streamed, "--workers", workers)
    assert (code, f"{CLIENTS} clients, {2 * CLIENTS} visits." in err) == (0, True)
    assert streamed.read_bytes() == whole.read_bytes()


def test_standard_output_takes_the_same(many: Path, tmp_path: Path, capfdbinary: Any) -> None:
    assert run(["convert", str(many), "--to", "record-ndjson", "--workers", "2"]) == 0
    out = capfdbinary.readouterr().out
    assert run(["convert", str(many), "--to", "record-ndjson", "-o", str(tmp_path / "whole")]) == 0
    assert out == (tmp_path / "whole").read_bytes()


@pytest.mark.parametrize("seed", range(4))
def test_a_client_is_found_together_wherever_the_resources_stand(
    said: Any, many: Path, tmp_path: Path, seed: int
) -> None:
    """The lines of all clients in any order, in three files: each has the record that all of it in one file gives."""
    mixed = many.read_bytes().splitlines(keepends=True)
    random.Random(seed).shuffle(mixed)
    many.write_bytes(b"".join(mixed))
    folder, third = tmp_path / "in", len(mixed) // 3 + 1
    folder.mkdir()
    for number in range(3):
        (folder / f"part-{number}.ndjson").write_bytes(b"".join(mixed[number * third : (number + 1) * third]))
    out = tmp_path / "out.record.ndjson"
    assert said("convert", folder, "--to", "record-ndjson", "-o", out, "--workers", 2)[0] == 0
    assert len(records(out)) == CLIENTS
    assert records(out) == records(many)


def test_a_file_for_each_type_and_a_manifest_that_is_true(said: Any, many: Path, tmp_path: Path) -> None:
    folder = tmp_path / "export"
    folder.mkdir()
    assert said("convert", many, "--to", "ndjson", "--by-type", "-o", folder)[0] == 0
    listed = json.loads((folder / "manifest.json").read_bytes())["output"]
    assert {one["url"] for one in listed} == {path.name for path in folder.iterdir()} - {"manifest.json"}
    for one in listed:
        content = (folder / one["url"]).read_bytes()
        assert one["sha256"] == sha256(content).hexdigest()
        assert one["count"] == len(content.splitlines())
        assert {json.loads(line)["resourceType"] for line in content.splitlines()} == {one["type"]}
    assert sum(one["count"] for one in listed) == len(many.read_bytes().splitlines())
    for more in ((), ("--workers", 2)):  # whole, and as a stream
        assert said("convert", folder, "--to", "record-ndjson", "-o", tmp_path / "back", "--force", *more)[0] == 0
        assert records(tmp_path / "back") == records(many)


# -- packed ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("more", [(), ("--workers", "2")], ids=["whole", "stream"])
def test_packed_in_and_out(said: Any, many: Path, tmp_path: Path, ending: str, more: tuple[str, ...]) -> None:
    given, out, plain = tmp_path / f"given.ndjson{ending}", tmp_path / f"out.record.ndjson{ending}", tmp_path / "plain"
    given.write_bytes(gzip.compress(many.read_bytes()) if ending == ".gz" else zstandard.compress(many.read_bytes()))
    assert said("convert", given, "--to", "record-ndjson", "-o", out, *more)[0] == 0
    assert said("convert", many, "--to", "record-ndjson", "-o", plain)[0] == 0
    if ending == ".gz":
        unpacked = gzip.decompress(out.read_bytes())
    else:
        unpacked = zstandard.ZstdDecompressor().stream_reader(io.BytesIO(out.read_bytes())).read()
    assert unpacked == plain.read_bytes()
    first = out.read_bytes()
    assert said("convert", given, "--to", "record-ndjson", "-o", out, "--force", *more)[0] == 0
    assert out.read_bytes() == first


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("more", [(), ("--workers", "1")], ids=["whole", "stream"])
def test_a_packed_file_that_breaks_off_is_refused(
    said: Any, many: Path, tmp_path: Path, ending: str, more: tuple[str, ...]
) -> None:
    given = tmp_path / f"given.ndjson{ending}"
    given.write_bytes(packed(many.read_bytes(), given.name)[:-20])
    code, _, err = said("convert", given, "--to", "record-ndjson", "-o", tmp_path / "out", *more)
    assert code == 2
    assert "it breaks off, or is damaged" in err
    assert not (tmp_path / "out").exists()


def test_check_reads_a_packed_file(said: Any, many: Path, tmp_path: Path) -> None:
    (tmp_path / "many.ndjson.gz").write_bytes(gzip.compress(many.read_bytes()))
    assert said("check", tmp_path / "many.ndjson.gz", "--fail-on", "never")[0] == 0
