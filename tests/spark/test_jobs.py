"""Jobs on Spark: the bytes of one machine, however lines are parted and whichever task dies; nothing lost or twice.

The oracle is ``woundfhir convert`` on one machine, which ``tests/bulk`` holds against the way that reads as a whole.
"""

from __future__ import annotations

import gzip
import json
import os
import random
import signal
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import zstandard

from tests.bulk.clients import BROKEN, ODD, client, lines, with_line
from tests.bulk.test_file_groups import by_type, server, write
from tests.spark.conftest import parts
from woundfhir.bulk.grouping import Grouping
from woundfhir.bulk.lines import Files
from woundfhir.cli import run
from woundfhir.intake.inputs import Input
from woundfhir.record import History

pytestmark = pytest.mark.spark
Json = Any
Job = Callable[..., tuple[int, str]]
CLIENTS = 30


@pytest.fixture
def many(tmp_path: Path) -> Path:
    """Thirty clients, their lines in any order, in a plain file with a mark of UTF-8, a .gz and a .zst."""
    mixed = lines(*range(CLIENTS)).splitlines(keepends=True)
    random.Random(7).shuffle(mixed)
    folder = tmp_path / "in [1] 50%"
    folder.mkdir()
    (folder / "a b.ndjson").write_bytes(b"\xef\xbb\xbf" + b"\n".join(mixed[::3]))
    (folder / "é.ndjson.gz").write_bytes(gzip.compress(b"".join(mixed[1::3])))
    (folder / "z.ndjson.zst").write_bytes(zstandard.compress(b"".join(mixed[2::3])))
    return folder


def one_machine(inputs: Path, to: str, out: Path, *more: object) -> bytes:
    given = ["convert", str(inputs), "--to", to, "-o", str(out), "--workers", "1", *map(str, more)]
    assert run(given) in (0, 1)
    return out.read_bytes() if out.is_file() else b""


@pytest.mark.parametrize("to", ["record-ndjson", "ndjson"])
def test_the_parts_in_order_are_the_bytes_of_one_machine(job: Job, many: Path, tmp_path: Path, to: str) -> None:
    code, err = job("convert", many, "--to", to, "-o", tmp_path / "out")
    assert (code, f"{CLIENTS} clients, {2 * CLIENTS} visits." in err) == (0, True)
    assert parts(tmp_path / "out") == one_machine(many, to, tmp_path / "one")


def test_records_become_files_of_each_type_with_the_bytes_of_one_machine(job: Job, tmp_path: Path) -> None:
    given, out, folder = tmp_path / "many.record.ndjson", tmp_path / "out", tmp_path / "one"
    given.write_text("\n".join(client(number).json() + "\n" for number in range(CLIENTS)))
    folder.mkdir()
    one_machine(given, "ndjson", folder, "--by-type")
    assert job("convert", given, "--to", "ndjson", "--by-type", "-o", out, "--partitions", 3)[0] == 0
    made = {path.name.split("=")[1]: parts(path) for path in out.iterdir() if path.is_dir()}
    assert made == {path.name.split(".")[0]: path.read_bytes() for path in folder.glob("*.ndjson")}
    assert len(made) > 4


# -- check, tables ---------------------------------------------------------------------------------


def test_check_finds_what_one_machine_finds(job: Job, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = tmp_path / "many.ndjson", tmp_path / "out"
    path.write_bytes(lines(1, 2, 3))
    chosen = ["--policy", "international", "--checklist", "transfer", "--today", "2026-05-01"]
    assert run(["check", str(path), "--format", "json", *chosen]) == 1
    chosen += ["--ignore", f"{json.loads(capsys.readouterr().out)['findings'][0]['rule']}=tried here"]
    assert run(["check", str(path), "--format", "json", *chosen]) == 1
    expected = json.loads(capsys.readouterr().out)["findings"]
    assert job("check", path, "-o", out, *chosen)[0] == 1
    assert [json.loads(line) for line in parts(out).splitlines()] == expected
    assert len({one["input"] for one in expected}) == 3
    assert job("check", path, "-o", out, "--force", "--fail-on", "never")[0] == 0


def test_tables_have_the_schema_and_the_rows_of_one_machine(job: Job, tmp_path: Path) -> None:
    import pyarrow.parquet

    from woundfhir.flat.arrow import schema_of, to_arrow
    from woundfhir.flat.schema import table_of

    given, out = tmp_path / "many.record.ndjson", tmp_path / "out"
    histories = [History.of({**one.data, "visits": one.visits[:1]}) for one in map(client, range(9))]
    given.write_text("".join(one.json() + "\n" for one in histories))
    assert job("tables", given, "-o", out, "--table", "facts", "--table", "visits")[0] == 0
    for name in ("facts", "visits"):
        made = pyarrow.concat_tables(pyarrow.parquet.read_table(path) for path in sorted((out / name).glob("part-*")))
        expected = to_arrow(histories, name)
        assert made.schema.names == schema_of(table_of(name)).names
        assert made.to_pylist() == expected.to_pylist()
        assert made.num_rows >= 9
    given.write_text(f"{client(1).json()}\n{client(1).json()}\n")
    code, err = job("tables", given, "-o", tmp_path / "new")
    assert (code, "each client once" in err, (tmp_path / "new").exists()) == (2, True, False)


# -- whose it is -----------------------------------------------------------------------------------


def world(seed: int) -> list[Json]:
    """Clients under several ids and numbers, what points at them over several steps, and what is everybody's."""
    draw = random.Random(seed)
    out: list[Json] = []
    for number in range(25):
        numbers = [{"system": "urn:example:card", "value": str(number // 2 if number % 5 == 0 else number + 100)}]
        out.append({"resourceType": "Patient", "id": f"p{number}", "identifier": numbers})
        roles = [{"individual": {"reference": f"PractitionerRole/r{draw.randrange(6)}"}}]
        for step in range(3):
            subject = {"reference": f"Patient/p{number}/_history/1"}
            more = {"resourceType": "Encounter", "id": f"e{number}-{step}", "participant": roles}
            out.append({**more, "subject": subject})
    for number in range(20):
        at = draw.choice(
            [f"Encounter/e{draw.randrange(25)}-1", f"Provenance/v{number - 1}"] if number else ["Patient/p1"]
        )
        targets = [{"reference": at}]
        if number % 9 == 8:
            targets.append({"reference": f"Encounter/e{draw.randrange(25)}-0"})
        agent = [{"who": {"reference": f"Practitioner/n{draw.randrange(4)}"}}]
        out.append({"resourceType": "Provenance", "id": f"v{number}", "target": targets, "agent": agent})
    for number in range(6):
        role = {"resourceType": "PractitionerRole", "id": f"r{number}"}
        role["practitioner"] = {"reference": f"Practitioner/n{number % 4}"}
        out.append({**role, "organization": {"reference": f"Organization/o{number % 3}"}})
    out += [{"resourceType": "Practitioner", "id": f"n{number}"} for number in range(4)]
    for number in range(3):
        out.append({"resourceType": "Organization", "id": f"o{number}"} | _part_of(number))
    out.append({"resourceType": "Organization", "id": "nobody-names-it"})
    draw.shuffle(out)
    return out


def _part_of(number: int) -> Json:
    return {"partOf": {"reference": f"Organization/o{number + 1}"}} if number < 2 else {}


def _places(one: Any) -> list[dict[str, Json]]:
    return [{"number": one.number, "place": place} for place in one.places]


def test_what_is_brought_together_is_what_one_machine_brings_together(spark: Any, tmp_path: Path) -> None:
    from woundfhir.spark import read
    from woundfhir.spark.lines import parted

    path = tmp_path / "world.ndjson"
    path.write_text("".join(json.dumps(one) + "\n" for one in world(2)))
    with Files([path]) as files, Grouping(files) as grouping:
        grouping.read()
        expected = [sorted(group.places) for group in grouping.groups()]
    with read(spark, [path]) as found:
        rows = found.clients.mapped(_places, "number bigint, place bigint").collect()
    groups = [sorted(parted(row.place) for row in rows if row.number == n + 1) for n in range(len(expected))]
    assert groups == expected
    assert 5 < len(expected) < 25
    assert len(rows) == sum(map(len, expected))


@pytest.mark.parametrize(
    "more", [ODD["a subject by its number"], ODD["nobody, and near nobody"]], ids=["number", "none"]
)
def test_what_must_be_seen_as_a_whole_is_refused(job: Job, tmp_path: Path, more: dict[str, Json]) -> None:
    path = tmp_path / "many.ndjson"
    path.write_bytes(lines(1, 2))
    odd = {"resourceType": "Observation", "id": "odd", "status": "final", "code": {"text": "length"}, **more}
    with_line(path, 3, json.dumps(odd).encode())
    code, err = job("convert", path, "-o", tmp_path / "out")
    assert (code, "each naming its Patient by a reference" in err, "woundfhir convert" in err) == (2, True, True)
    assert not (tmp_path / "out").exists()


def test_one_id_for_two_clients_is_refused(job: Job, tmp_path: Path) -> None:
    path = tmp_path / "two.ndjson"
    seen = [
        {"resourceType": "Encounter", "id": "e", "status": "finished", "subject": {"reference": f"Patient/{name}"}}
        for name in "ab"
    ]
    path.write_text("".join(json.dumps(one) + "\n" for one in seen))
    assert job("convert", path, "-o", tmp_path / "out")[0] == 2
    assert not (tmp_path / "out").exists()


def test_exports_of_two_servers_are_not_joined(job: Job, tmp_path: Path) -> None:
    """Each has a Patient 1 of its own: one machine reads such files apart, here they are refused."""
    folder = write(tmp_path / "in", by_type(server(1), "a-") | by_type(server(2), "b-"))
    code, err = job("convert", folder, "--to", "record-ndjson", "-o", tmp_path / "out")
    assert (code, "two servers" in err, (tmp_path / "out").exists()) == (2, True, False)


def test_two_records_of_one_client_are_not_written_as_one(job: Job, tmp_path: Path) -> None:
    given = tmp_path / "twice.record.ndjson"
    given.write_text(f"{client(1).json()}\n{client(1).json()}\n")
    code, err = job("convert", given, "--to", "ndjson", "-o", tmp_path / "out")
    assert (code, "a format that keeps these clients apart" in err) == (2, True)
    assert not (tmp_path / "out").exists()


# -- faults ----------------------------------------------------------------------------------------


def test_broken_lines_are_listed_as_on_one_machine(job: Job, tmp_path: Path) -> None:
    path, out, errors = tmp_path / "many.ndjson", tmp_path / "out", tmp_path / "errors"
    path.write_bytes(lines(1, 2, 3))
    for number, wrong in enumerate(BROKEN.values()):
        first = with_line(path, 1 + 5 * number, wrong)
    code, err = job("convert", path, "-o", out)
    assert (code, f"{path}, line 2: " in err, "Tremblay" in err, out.exists()) == (2, True, False, False)
    assert job("convert", path, "-o", out, "--errors", errors)[0] == 1
    assert parts(out) == one_machine(path, "record-ndjson", tmp_path / "one", "--errors", tmp_path / "one.tsv")
    assert parts(errors) == (tmp_path / "one.tsv").read_bytes()
    assert f"{path}\t{first}\t".encode() in parts(errors)


def test_a_record_that_cannot_be_read_is_listed_as_on_one_machine(job: Job, tmp_path: Path) -> None:
    given, out, errors = tmp_path / "many.record.ndjson", tmp_path / "out", tmp_path / "errors"
    given.write_text("".join(client(n).json() + "\n" for n in range(9)).replace('"woundfhir":1', '"woundfhir":9', 1))
    code, err = job("convert", given, "--to", "ndjson", "-o", out)
    assert (code, f"{given}, line 1" in err, out.exists()) == (2, True, False)
    assert job("convert", given, "--to", "ndjson", "-o", out, "--errors", errors)[0] == 1
    assert parts(out) == one_machine(given, "ndjson", tmp_path / "one", "--errors", tmp_path / "one.tsv")
    assert parts(errors) == (tmp_path / "one.tsv").read_bytes()


def test_a_folder_that_exists_stays_as_it_is(job: Job, tmp_path: Path) -> None:
    path, out = tmp_path / "many.record.ndjson", tmp_path / "out"
    path.write_text("".join(client(number).json() + "\n" for number in (1, 2)))
    out.mkdir()
    (out / "part-0").write_text("mine")
    code, err = job("convert", path, "-o", out)
    assert (code, "is there already" in err, (out / "part-0").read_text()) == (2, True, "mine")
    assert job("convert", tmp_path / "no.ndjson", "-o", tmp_path / "new")[0] == 2
    assert job("convert", path, "-o", out, "--force")[0] == 0
    assert parts(out) == one_machine(path, "record-ndjson", tmp_path / "one")


def _die_once(one: Input, marks: str) -> list[str]:
    """End the process that asks, once for each of these clients, as a lost machine does."""
    mark = Path(marks, one.history.patient["identifiers"][0]["value"])
    if mark.name in ("C-3", "C-17") and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return [f"{mark.name} was read"]


def test_a_task_that_is_killed_is_done_again_and_nothing_is_there_twice(spark: Any, many: Path, tmp_path: Path) -> None:
    from woundfhir.spark.job import convert
    from woundfhir.spark.writing import Output

    marks, said = tmp_path / "marks", list[str]()
    marks.mkdir()
    tell = partial(_die_once, marks=str(marks))
    found = convert(spark, [many], "record-ndjson", Output(str(tmp_path / "out")), tell=tell, say=said.append)
    assert sorted(path.name for path in marks.iterdir()) == ["C-17", "C-3"]
    assert (found.clients, found.visits, len(said), len(set(said))) == (CLIENTS, 2 * CLIENTS, CLIENTS, CLIENTS)
    assert parts(tmp_path / "out") == one_machine(many, "record-ndjson", tmp_path / "one")
