"""Many clients as a stream: the same bytes whatever the number of workers, and nothing lost, joined or written by half.

The oracle is the way that reads an input as a whole. Packed files are held against the standard library (gzip,
RFC 1952) and the library zstandard (RFC 8878), digests against hashlib.
"""

from __future__ import annotations

import gzip
import io
import itertools
import json
import os
import random
import shutil
import signal
import subprocess
import sys
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
import zstandard

from woundfhir.bulk.grouping import Grouping
from woundfhir.bulk.lines import Files
from woundfhir.bulk.whose import NotPlain
from woundfhir.bulk.work import Task, all_done
from woundfhir.cli import run
from woundfhir.errors import InputError, WoundfhirError
from woundfhir.intake.inputs import Input
from woundfhir.intake.source import read_all
from woundfhir.output import dumps
from woundfhir.packed import ENDINGS, packed
from woundfhir.record import History

Json = Any
CLIENTS = 7


def client(number: int) -> History:
    author = {"id": f"N{number % 2}", "name": "Nurse (invented)", "organisation": "North Clinic (invented)"}
    entry = {
        "wound": "W1",
        "assessment": {"length": f"{number}.10 cm", "width": "2.0 cm", "tissue": {"slough": "50 %"}},
    }
    visits = [
        {"id": "V1", "at": "2026-03-02T10:05:00-05:00", "by": author, "status": "final", "wounds": [entry]},
        {"id": "V2", "at": "2026-03-04T10:05:00-05:00", "by": author, "status": "amended", "replaces": "V1"},
    ]
    patient = {"identifiers": [{"system": "urn:example:card", "value": f"C-{number}"}]}
    return History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": visits})


def lines(*numbers: int) -> bytes:
    return "".join(dumps(client(number), format="ndjson") for number in numbers).encode()


@pytest.fixture
def many(tmp_path: Path) -> Path:
    path = tmp_path / "many.ndjson"
    path.write_bytes(lines(*range(CLIENTS)))
    return path


def records(path: Path) -> list[Json]:
    return sorted((one.history.data for one in read_all([path])), key=str)


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


# -- faults ----------------------------------------------------------------------------------------

BROKEN = {
    "cut off": b'{"resourceType":"Observation","id":"x","sub',
    "no JSON": b"Tremblay, 4.1 cm",
    "no resource": b'{"name":"Tremblay"}',
    "a list": b'["Tremblay"]',
    "not UTF-8": b'{"resourceType":"\xff"}',
}


@pytest.mark.parametrize("wrong", BROKEN.values(), ids=BROKEN)
def test_a_broken_line_ends_the_run_and_nothing_is_written(said: Any, many: Path, tmp_path: Path, wrong: bytes) -> None:
    here = _with_line(many, 40, wrong)
    code, out, err = said("convert", many, "--to", "record-ndjson", "-o", tmp_path / "out", "--workers", 2)
    assert (code, out) == (2, "")
    assert f"{many}, line {here}" in err
    assert "Tremblay" not in err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["many.ndjson"]


@pytest.mark.parametrize("wrong", BROKEN.values(), ids=BROKEN)
def test_a_broken_line_is_listed_and_the_others_are_read(said: Any, many: Path, tmp_path: Path, wrong: bytes) -> None:
    expected = records(many)
    here = _with_line(many, 40, wrong)
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    code, _, _ = said("convert", many, "--to", "record-ndjson", "-o", out, "--errors", errors, "--workers", 2)
    head, row = errors.read_text().splitlines()
    assert (code, head) == (1, "file\tline\treason")
    assert row.startswith(f"{many}\t{here}\t")
    assert "Tremblay" not in row
    assert records(out) == expected


def _with_line(path: Path, number: int, line: bytes) -> int:
    there = path.read_bytes().splitlines()
    path.write_bytes(b"\n".join([*there[:number], line, *there[number:]]) + b"\n")
    return number + 1


def test_a_record_that_cannot_be_read_is_named_by_its_line(said: Any, tmp_path: Path) -> None:
    given, errors = tmp_path / "many.record.ndjson", tmp_path / "errors.tsv"
    given.write_text("".join(client(n).json() + "\n" for n in range(3)).replace('"woundfhir":1', '"woundfhir":9', 1))
    out = tmp_path / "out.ndjson"
    code, _, _ = said("convert", given, "-o", out, "--errors", errors)
    assert code == 1
    assert errors.read_text().splitlines()[1].startswith(f"{given}\t1\t")
    assert len(records(out)) == 2


@pytest.mark.parametrize("form", ["ndjson", "record-ndjson"])
def test_a_line_that_is_too_long_is_listed_and_the_others_are_read(
    said: Any, many: Path, tmp_path: Path, form: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line is read in parts and never held as a whole; here the limit is 20 kB."""
    monkeypatch.setattr("woundfhir.bulk.lines.LINE_LIMIT", 20_000)
    expected, records_of = records(many), tmp_path / "many.record.ndjson"
    records_of.write_text("".join(client(number).json() + "\n" for number in range(CLIENTS)))
    given = many if form == "ndjson" else records_of
    here = _with_line(given, 3, b'{"resourceType":"Tremblay","x":"' + b"a" * 3_000_000 + b'"}')
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    code, _, err = said("convert", given, "--to", "record-ndjson", "-o", out, "--errors", errors, "--workers", 2)
    assert (code, "Tremblay" in err + errors.read_text()) == (1, False)
    (row,) = errors.read_text().splitlines()[1:]
    assert row.startswith(f"{given}\t{here}\t")
    assert "a line" in row
    assert records(out) == expected
    code, _, err = said("convert", given, "--to", "record-ndjson", "-o", tmp_path / "none", "--workers", 2)
    assert (code, f"{given}, line {here}" in err, (tmp_path / "none").exists()) == (2, True, False)


def test_bytes_of_zero_are_no_line_of_a_client(said: Any, many: Path, tmp_path: Path) -> None:
    """What a power cut leaves at the end of a file that was being written."""
    expected = records(many)
    many.write_bytes(many.read_bytes() + b"\0" * 4096)
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    assert said("convert", many, "--to", "record-ndjson", "-o", out, "--errors", errors)[0] == 1
    assert len(errors.read_text().splitlines()) == 2
    assert records(out) == expected


def test_two_runs_into_one_output_wait_for_each_other(said: Any, many: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.record.ndjson"
    children = []
    for _ in range(2):
        child = os.fork()
        if child == 0:
            os._exit(run(["convert", str(many), "--to", "record-ndjson", "-o", str(out), "--workers", "1"]))
        children.append(child)
    codes = sorted(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children)
    assert codes == [0, 2]  # the second finds the file of the first, and leaves it
    assert records(out) == records(many)
    assert {path.name for path in tmp_path.iterdir()} == {many.name, out.name}


def test_a_folder_that_vanishes_is_said_and_nothing_is_written_elsewhere(
    said: Any, many: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    read = Grouping.read

    def gone(self: Grouping, *given: Any) -> None:
        shutil.rmtree(folder)
        read(self, *given)

    monkeypatch.setattr(Grouping, "read", gone)
    code, _, err = said("convert", many, "--to", "record-ndjson", "-o", folder / "a", "--workers", 1)
    assert (code, "cannot be written" in err) == (2, True)
    assert {path.name for path in tmp_path.iterdir()} == {many.name}


def test_a_file_that_exists_stays_as_it_is(said: Any, many: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.record.ndjson"
    out.write_text("mine")
    code, _, err = said("convert", many, "-o", out, "--to", "record-ndjson", "--workers", 1)
    assert code == 2
    assert "a file of this name is there already" in err
    assert out.read_text() == "mine"
    assert said("convert", many, "-o", out, "--to", "record-ndjson", "--workers", 1, "--force")[0] == 0
    assert len(records(out)) == CLIENTS


def die(_: Input) -> list[str]:
    """End the process that asks, as an administrator or a full memory does."""
    os.kill(os.getpid(), signal.SIGKILL)
    return []


def test_a_worker_that_is_killed_is_said() -> None:
    tasks = [Task(f"client {number}", lines(number), "ndjson", "record-ndjson", die) for number in range(1, 9)]
    with pytest.raises(WoundfhirError, match="a worker was stopped"):
        list(all_done(tasks, 2))


def test_an_index_without_room_is_said(many: Path) -> None:
    with Files([many]) as files, Grouping(files) as grouping:
        grouping._index.execute("PRAGMA max_page_count=3")
        with pytest.raises(WoundfhirError, match="TMPDIR"):
            grouping.read()


def test_a_run_that_is_killed_leaves_no_index(many: Path, tmp_path: Path) -> None:
    """Common practice, no source: what nobody can clean up after SIGKILL must have no name."""
    room = tmp_path / "room"
    room.mkdir()
    code = (
        "import os, signal, sys\n"
        "from woundfhir.bulk.grouping import Grouping\n"
        "from woundfhir.bulk.lines import Files\n"
        "with Files(sys.argv[1:]) as files, Grouping(files) as grouping:\n"
        "    grouping._index.execute('PRAGMA cache_size=1')\n"
        "    grouping.read()\n"
        "    grouping._index.execute('CREATE TABLE large AS SELECT randomblob(4000000) AS filling')\n"
        "    held = [os.readlink(f'/proc/self/fd/{one}') for one in os.listdir('/proc/self/fd')\n"
        "            if os.path.islink(f'/proc/self/fd/{one}')]\n"
        "    print(any(one.startswith(os.environ['TMPDIR']) for one in held), flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    where = {**os.environ, "TMPDIR": str(room), "SQLITE_TMPDIR": str(room)}
    ended = subprocess.run([sys.executable, "-c", code, many], env=where, capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stdout) == (-signal.SIGKILL, "True\n"), ended.stderr
    assert list(room.iterdir()) == []


def test_a_file_that_is_cut_while_it_is_read_is_refused(many: Path) -> None:
    with Files([many]) as files, Grouping(files) as grouping:
        grouping.read()
        many.write_bytes(many.read_bytes()[:1000])
        with pytest.raises(InputError, match="it has become shorter"):
            [group.content for group in grouping.groups()]


@pytest.mark.parametrize("workers", [1, 2])
def test_a_file_that_is_cut_before_its_clients_are_read_ends_the_run(
    said: Any, many: Path, tmp_path: Path, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is no fault of one client, which --errors would list."""
    read = Grouping.read

    def cut(self: Grouping, *given: Any) -> None:
        read(self, *given)
        many.write_bytes(many.read_bytes()[:1000])

    monkeypatch.setattr(Grouping, "read", cut)
    out, errors = tmp_path / "out.record.ndjson", tmp_path / "errors.tsv"
    code, _, err = said("convert", many, "-o", out, "--errors", errors, "--workers", workers)
    assert (code, "it has become shorter" in err, out.exists()) == (2, True, False)


def test_what_is_added_to_a_file_meanwhile_is_not_read(many: Path) -> None:
    with Files([many]) as files, Grouping(files) as grouping:
        with many.open("ab") as file:
            file.write(lines(100))
        grouping.read()
        assert len(list(grouping.groups())) == CLIENTS


def test_standard_input_that_must_be_read_as_a_whole_is_not_read_twice(
    said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = io.TextIOWrapper(
        io.BytesIO(b'{"resourceType":"Observation","id":"a"}\n{"resourceType":"Group","id":"b"}\n')
    )
    monkeypatch.setattr("sys.stdin", given)
    code, _, err = said("convert", "-", "--to", "record-ndjson", "-o", tmp_path / "out", "--workers", 2)
    assert code == 2
    assert "naming its Patient" in err
    assert not (tmp_path / "out").exists()


def test_two_records_of_one_client_are_not_written_as_one(said: Any, tmp_path: Path) -> None:
    given = tmp_path / "twice.record.ndjson"
    given.write_text(client(1).json() + "\n" + client(1).json() + "\n")
    code, _, err = said("convert", given, "--to", "ndjson", "-o", tmp_path / "out", "--workers", 1)
    assert code == 2
    assert "a format that keeps these clients apart" in err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "patient",
    [
        {"sex": "female"},
        {"name": "Invented Client"},
        {"identifiers": [{"system": "https://example.org/numbers", "value": "999999"}]},
    ],
)
def test_clients_whom_nothing_names_are_kept_apart(said: Any, tmp_path: Path, patient: Json) -> None:
    """A number that stands for "unknown" names nobody; what differs in the notes still keeps two such clients apart."""
    given, out = tmp_path / "given.record.ndjson", tmp_path / "out.ndjson"
    notes = [{**client(number).data, "patient": patient} for number in (1, 2)]
    given.write_text("".join(f"{json.dumps(one)}\n" for one in notes))
    assert said("convert", given, "--to", "ndjson", "-o", out, "--workers", 1)[0] == 0
    assert [one.history.data for one in read_all([out])] == [one.history.data for one in read_all([given])]


def test_options_that_only_a_stream_serves_are_refused_elsewhere(said: Any, many: Path, tmp_path: Path) -> None:
    assert said("convert", many, "--to", "csv", "-o", tmp_path / "o.csv", "--errors", tmp_path / "e.tsv")[0] == 2
    assert said("convert", many, "--to", "ndjson", "-o", tmp_path / "o", "--by-type")[0] == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["many.ndjson"]


# -- whose it is -----------------------------------------------------------------------------------

ODD = {
    "a subject by its number": {"subject": {"identifier": {"system": "urn:example:card", "value": "C-1"}}},
    "a subject in words": {"subject": {"display": "somebody"}},
    "a subject elsewhere": {"subject": {"reference": "https://other.example.org/fhir/Patient/1"}},
    "a group": {"subject": {"reference": "Group/1"}},
    "a client inside": {"contained": [{"resourceType": "Patient", "id": "p"}], "subject": {"reference": "#p"}},
    "nobody, and near nobody": {},
}


@pytest.mark.parametrize("more", ODD.values(), ids=ODD)
def test_what_names_a_client_in_another_way_is_read_as_a_whole(
    said: Any, many: Path, tmp_path: Path, more: dict[str, Json]
) -> None:
    odd = {"resourceType": "Observation", "id": "odd", "status": "final", "code": {"text": "length"}, **more}
    _with_line(many, 3, json.dumps(odd).encode())
    with Files([many]) as files, Grouping(files) as grouping, pytest.raises(NotPlain):
        grouping.read()
    whole = said("convert", many, "--to", "record-ndjson", "-o", tmp_path / "whole")
    streamed = said("convert", many, "--to", "record-ndjson", "-o", tmp_path / "streamed", "--workers", 2)
    assert streamed[0] == whole[0]
    assert (tmp_path / "streamed").read_bytes() == (tmp_path / "whole").read_bytes()


def test_everybody_is_given_to_each_client_who_names_them(tmp_path: Path) -> None:
    house = {"resourceType": "Organization", "id": "h", "name": "North Clinic (invented)"}
    person = {"resourceType": "PractitionerRole", "id": "r", "organization": {"reference": "Organization/h"}}
    seen = [
        {
            "resourceType": "Encounter",
            "id": f"e{n}",
            "status": "finished",
            "class": {"code": "HH"},
            "subject": {"reference": f"Patient/{n}"},
            "participant": [{"individual": {"reference": "PractitionerRole/r"}}],
        }
        for n in (1, 2)
    ]
    path = tmp_path / "a.ndjson"
    path.write_text("".join(json.dumps(one) + "\n" for one in (seen[0], house, person, seen[1])))
    with Files([path]) as files, Grouping(files) as grouping:
        grouping.read()
        ids = [{json.loads(line)["id"] for line in group.content.splitlines()} for group in grouping.groups()]
    assert ids == [{"e1", "h", "r"}, {"e2", "h", "r"}]


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_what_points_at_two_clients_brings_both_together_whatever_the_order(tmp_path: Path, order: tuple[int]) -> None:
    """Neither is given what may be the other's: whose it is, the reader decides who sees both."""
    seen = [{"resourceType": "Patient", "id": name} for name in "ab"]
    pointing = [
        {"resourceType": "Provenance", "id": "of-a", "target": [{"reference": "Patient/a"}]},
        {"resourceType": "Provenance", "id": "of-both", "target": [{"reference": f"{to}"} for to in _BOTH]},
        {"resourceType": "Provenance", "id": "of-b", "target": [{"reference": "Patient/b"}]},
    ]
    path = tmp_path / "a.ndjson"
    path.write_text("".join(json.dumps(one) + "\n" for one in (*seen, *(pointing[number] for number in order))))
    with Files([path]) as files, Grouping(files) as grouping:
        grouping.read()
        assert [len(group.places) for group in grouping.groups()] == [5]


_BOTH = ("Provenance/of-a", "Patient/b")


def _line(**resource: Any) -> bytes:
    return json.dumps(resource).encode() + b"\n"


def test_one_id_for_two_clients_is_the_conflict_that_it_is_as_a_whole(said: Any, tmp_path: Path) -> None:
    """Exports of two servers in one file: an id that stands twice says which value is whose to nobody."""
    size = {"status": "final", "code": {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]}}
    source = tmp_path / "two.ndjson"
    source.write_bytes(
        b"".join(
            _line(resourceType="Patient", id=name, identifier=[{"system": "urn:example:card", "value": name}])
            + _line(
                **{"resourceType": "Observation", "id": "o1", **size},
                subject={"reference": f"Patient/{name}"},
                effectiveDateTime="2026-03-02",
                valueQuantity={"value": value, "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"},
            )
            for name, value in (("a", 3), ("b", 9))
        )
    )
    whole, streamed = tmp_path / "whole.record.ndjson", tmp_path / "streamed.record.ndjson"
    assert said("convert", source, "-o", whole)[0] == said("convert", source, "--workers", "1", "-o", streamed)[0] == 1
    assert whole.read_bytes() == streamed.read_bytes()
