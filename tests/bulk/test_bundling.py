"""``bundle`` of many clients: a document for each, all of them or none, whatever stops the run.

The oracle of a document is ``bundle --patient N`` on the same input, that of the manifest is hashlib and the documents.
"""

from __future__ import annotations

import csv
import io
import json
import os
import resource
import signal
import sys
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from tests.bulk.clients import CLIENTS, client, lines
from tests.bulk.test_apart import HEADER, MAP, notes, rows
from tests.bulk.test_resume import in_child
from woundfhir.bulk import bundling, converting
from woundfhir.cli import run
from woundfhir.storage.lock import LOCK

Json = Any
Tree = dict[str, bytes]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the input and an empty ``out``; checkpoints stand after every document."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(converting, "EVERY", 600)
    Path("out").mkdir()
    Path("many.ndjson").write_bytes(lines(*range(CLIENTS)))
    return tmp_path


def written(folder: str = "out") -> Tree:
    found = {str(one.relative_to(folder)): one for one in Path(folder).rglob("*") if one.is_file()}
    return {name: one.read_bytes() for name, one in found.items() if name != LOCK}


def clear() -> None:
    for name in sorted(Path("out").rglob("*"), reverse=True):
        name.rmdir() if name.is_dir() else name.unlink()


def listed() -> list[Json]:
    found = json.loads(Path("out/manifest.json").read_bytes())
    assert found["count"] == len(found["documents"])
    return list(found["documents"])


INPUTS: dict[str, Callable[[Path], tuple[object, ...]]] = {
    "NDJSON": lambda place: (place / "many.ndjson",),
    "a table": lambda place: (_table(place), "--map", place / "map.toml", "--at", "2026-04-01T08:00:00-04:00"),
    "a folder": lambda place: (notes(place, ""),),
}


def _table(place: Path) -> Path:
    (place / "map.toml").write_text(MAP)
    text = io.StringIO()
    csv.writer(text).writerows((HEADER, *(row for row in rows() if row[0] in ("C-1", "C-3", "C-7"))))
    (place / "table.csv").write_text(text.getvalue())
    return place / "table.csv"


@pytest.mark.parametrize("make", INPUTS.values(), ids=INPUTS)
def test_each_document_is_that_of_the_client_alone_whatever_the_workers(
    said: Any, place: Path, make: Callable[[Path], tuple[object, ...]]
) -> None:
    given = make(place)
    trees = []
    for workers in ((), ("--workers", 1), ("--workers", 3)):
        clear()
        code, _, err = said("bundle", *given, "-o", "out", *workers)
        assert code in (0, 1), err
        trees.append(written())
    assert trees[0] == trees[1] == trees[2]
    found = listed()
    assert {one["file"] for one in found} == trees[0].keys() - {"manifest.json"}
    for number, one in enumerate(found, 1):
        content = trees[0][one["file"]]
        assert (one["size"], one["sha256"]) == (len(content), sha256(content).hexdigest())
        document = json.loads(content)
        assert (document["type"], len(document["entry"])) == ("document", one["resources"])
        alone = Path("alone.json")
        said("bundle", *given, "--patient", f"#{number}", "-o", alone, "--force")
        assert alone.read_bytes() == content
        numbers = {
            each["value"]
            for entry in document["entry"]
            if entry["resource"]["resourceType"] == "Patient"
            for each in entry["resource"]["identifier"]
        }
        assert {each["value"] for each in one["client"]} <= numbers
        assert not any(each["value"] in one["file"] for each in one["client"])


def test_options_of_a_document_hold_for_each(said: Any, place: Path) -> None:
    more = ("--as", "document", "--document", "nurse", "--newest", 1, "--to", "fhir-xml", "--no-profiles")
    assert said("bundle", "many.ndjson", "-o", "out", *more)[0] == 0
    said("bundle", "many.ndjson", "--patient", "#2", "-o", "alone.xml", *more)
    assert Path("alone.xml").read_bytes() == written()[listed()[1]["file"]]
    assert listed()[1]["visits"] < 2 or listed()[1]["file"].endswith(".xml")


def test_one_document_of_many_says_how_to_have_them_all(said: Any, place: Path) -> None:
    code, out, err = said("bundle", "many.ndjson", "-o", "one.json")
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert "7 clients" in err
    assert "a folder with -o, for a document of each client" in err
    for more in (("--workers", 2), ("--resume",)):
        code, _, err = said("bundle", "many.ndjson", "-o", "one.json", *more)
        assert (code, "a folder that exists" in err) == (2, True)
    for more in (("--sign", "key"), ("--patient", "1"), ("--sheet", "s.html"), ("--as", "transaction"), ("--dry-run",)):
        code, _, err = said("bundle", "many.ndjson", "-o", "out", *more)
        assert (code, more[0] in err) == (2, True)
    assert {one.name for one in place.iterdir()} == {"many.ndjson", "out"}
    assert written() == {}


def test_two_numbers_of_one_value_are_two_clients_and_a_client_who_comes_again_is_named(said: Any, place: Path) -> None:
    other = client(1).data
    other = {**other, "patient": {"identifiers": [{"system": "urn:example:chart", "value": "C-1"}]}}
    some = [client(1).json(), json.dumps(other), client(1).json()]
    Path("three.record.ndjson").write_text("".join(f"{one}\n" for one in some))
    code, _, err = said("bundle", "three.record.ndjson", "-o", "out", "--workers", 2)
    assert code == 1
    (line,) = [one for one in err.splitlines() if "already" in one]
    assert line.startswith("three.record.ndjson, line 3: ")
    assert [one["client"][0]["system"] for one in listed()] == [
        "urn:example:card",
        "urn:example:chart",
        "urn:example:card",
    ]


def test_what_cannot_be_read_or_made_is_listed(said: Any, place: Path) -> None:
    timeless = json.loads(client(9).json())
    for visit in timeless["visits"]:
        visit["at"] = "2026-03"
    good = "".join(client(number).json() + "\n" for number in (1, 2))
    Path("good.record.ndjson").write_text(good)
    Path("some.record.ndjson").write_text(
        f"{good[: len(good) // 2]}{{broken\n{json.dumps(timeless)}\n{good[len(good) // 2 :]}"
    )
    code, _, err = said("bundle", "some.record.ndjson", "-o", "out", "--workers", 2)
    assert (code, "line 2" in err, written()) == (2, True, {})
    code, _, _ = said("bundle", "some.record.ndjson", "-o", "out", "--workers", 2, "--errors", "e.tsv")
    assert code == 1
    rows = [line.split("\t") for line in Path("e.tsv").read_text().splitlines()[1:]]
    assert [row[:2] for row in rows] == [["some.record.ndjson", "2"], ["some.record.ndjson", "3"]]
    documents = [one for name, one in sorted(written().items()) if name != "manifest.json"]
    clear()
    assert said("bundle", "good.record.ndjson", "-o", "out")[0] == 0
    assert documents == [one for name, one in sorted(written().items()) if name != "manifest.json"]


# -- all or none -----------------------------------------------------------------------------------


def test_what_is_there_stays_and_force_replaces_all_of_an_earlier_run_and_nothing_else(said: Any, place: Path) -> None:
    assert said("bundle", "many.ndjson", "-o", "out")[0] == 0
    before = written()
    Path("few.ndjson").write_bytes(lines(3, 4))
    code, _, err = said("bundle", "few.ndjson", "-o", "out")
    assert (code, "--force" in err, written()) == (2, True, before)
    Path("out/documents/letter.txt").write_text("mine")
    code, _, err = said("bundle", "few.ndjson", "-o", "out", "--force")
    assert (code, "Choose another" in err, written()) == (2, True, {**before, "documents/letter.txt": b"mine"})
    Path("out/documents/letter.txt").unlink()
    Path("out/letter.txt").write_text("mine")
    assert said("bundle", "few.ndjson", "-o", "out", "--force")[0] == 0
    assert sorted(written()) == [
        "documents/000001.fhir.json",
        "documents/000002.fhir.json",
        "letter.txt",
        "manifest.json",
    ]


def killed_at(step: int, given: list[str]) -> bool:
    """Kill a run before its n-th change to a file or a folder; return whether it came to that."""
    seen, here = 0, Path.cwd()

    def hook(event: str, args: tuple[Any, ...]) -> None:
        nonlocal seen
        names = isinstance(args[0], (str, os.PathLike)) if args else False
        if event == "open":
            ours = names and bool((args[2] or 0) & (os.O_WRONLY | os.O_RDWR))
        else:
            ours = event in ("os.rename", "os.remove", "os.truncate", "os.mkdir", "os.rmdir")
        if ours and (not names or (here / os.fspath(args[0])).is_relative_to(here)):
            seen += 1
            if seen == step:
                os.kill(os.getpid(), signal.SIGKILL)

    def hooked() -> object:
        sys.addaudithook(hook)
        return run(given)

    return os.WIFSIGNALED(in_child(hooked))


@pytest.mark.parametrize("before", [(), (3, 4)], ids=["into an empty folder", "over an earlier run"])
def test_a_run_that_is_killed_anywhere_leaves_all_or_nothing_and_goes_on(place: Path, before: tuple[int, ...]) -> None:
    given = ["bundle", "many.ndjson", "-o", "out", "--force"]
    assert run(given) == 0
    whole = written()
    clear()
    old: Tree = {}
    Path("few.ndjson").write_bytes(lines(*before or (0,)))
    went_on = step = 0
    while True:
        step += 2
        for more in ([], ["--resume"]):
            clear()
            if before:
                assert run(["bundle", "few.ndjson", "-o", "out"]) == 0
                old = written()
            if not killed_at(step, [*given, *more]):
                assert step > 20
                assert went_on > 2
                return
            went_on += any(Path("out").glob("*.resume"))
            if more:
                assert run([*given, *more]) == 0
                assert written() == whole, step
            else:  # another run in the folder finishes, or clears away
                assert run(["convert", "few.ndjson", "-o", "out/x.record.ndjson", "--workers", "1"]) == 0
                found = written()
                del found["x.record.ndjson"]
                assert found in (old, whole), step


def test_a_document_that_was_changed_since_is_not_gone_on_with(said: Any, place: Path) -> None:
    given = ["bundle", "many.ndjson", "-o", "out", "--resume"]
    assert killed_at(14, given)
    assert list(Path("out").glob("*.resume"))
    (first,) = Path("out").glob(".*.part/000001*")
    first.write_bytes(first.read_bytes().replace(b"heel", b"hand").replace(b"W1", b"W2"))
    code, _, err = said(*given)
    assert (code, "changed since" in err) == (2, True)
    assert said(*given[:-1])[0] == 0
    assert len(listed()) == CLIENTS


def test_a_full_disk_leaves_nothing(place: Path, capfd: pytest.CaptureFixture[str]) -> None:
    def full() -> int:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))  # a document has 30 kB
        return run(["bundle", "many.ndjson", "-o", "out", "--workers", "2"])

    assert os.waitstatus_to_exitcode(in_child(full)) == 2
    assert "cannot be written" in capfd.readouterr().err
    assert list(Path("out").iterdir()) == []


def test_a_worker_that_is_killed_is_said_and_leaves_nothing(
    said: Any, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def die(*_: object) -> bytes:
        os.kill(os.getpid(), signal.SIGKILL)
        return b""

    monkeypatch.setattr(bundling, "_made", die)
    code, _, err = said("bundle", "many.ndjson", "-o", "out", "--workers", 2)
    assert (code, "a worker was stopped" in err) == (2, True)
    assert list(Path("out").iterdir()) == []
