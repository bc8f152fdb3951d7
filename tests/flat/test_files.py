"""Files of tables: Parquet and CSV, from the command line and by the libraries that analysts use."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import woundfhir
from tests.flat import many
from tests.paths import ROOT
from woundfhir import History, InputError, to_arrow, to_rows
from woundfhir.cli import run as cli
from woundfhir.flat import NAMES, arrow, tables

pyarrow = pytest.importorskip("pyarrow")
parquet = pytest.importorskip("pyarrow.parquet")
Json = Any
STORY = ROOT / "examples" / "leg-and-sacrum" / "story.yaml"


class Ran(NamedTuple):
    """What a run of the command line gave."""

    exit_code: int
    stdout: str
    stderr: str


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Any:
    def call(*arguments: object) -> Ran:
        return Ran(cli([str(one) for one in arguments]), *capsys.readouterr())

    return call


def history() -> History:
    return woundfhir.read(STORY).history


def folder_of(path: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in sorted(path.iterdir())}


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records of 120 clients, one a line."""
    path = tmp_path_factory.mktemp("many") / "all.record.ndjson"
    path.write_text("".join(f"{History.of(raw).json()}\n" for raw in many.records(120)), "utf-8")
    return path


# -- by one call each ------------------------------------------------------------------------------


def test_arrow_says_what_the_rows_say_and_what_each_column_means() -> None:
    for name, table in tables().items():
        made = to_arrow(history(), name)
        assert made.column_names == list(table.names) and made.to_pylist() == list(to_rows(history(), name))
        assert made.schema.metadata[b"woundfhir.table"] == name.encode()
        for column in table.columns:
            assert made.schema.field(column.name).metadata[b"says"] == column.says.encode()


def test_pandas_polars_and_duckdb_take_it_in_one_call_each() -> None:
    pandas, polars, duckdb = (pytest.importorskip(name) for name in ("pandas", "polars", "duckdb"))
    sizes = to_arrow(history(), "sizes")
    wanted = sum(row["area"] for row in to_rows(history(), "sizes"))
    assert isinstance(frame := sizes.to_pandas(), pandas.DataFrame) and frame["area"].sum() == wanted
    assert polars.from_arrow(sizes)["area"].sum() == wanted
    assert duckdb.sql("SELECT sum(area) FROM sizes").fetchall() == [(wanted,)]
    rows = list(to_rows(history(), "sizes"))
    assert pandas.DataFrame(rows)["area"].sum() == wanted
    assert polars.DataFrame(rows, infer_schema_length=None)["area"].sum() == wanted


# -- the command line ------------------------------------------------------------------------------


def test_a_folder_holds_every_table_and_the_same_input_gives_the_same_bytes(
    run: Any, tmp_path: Path, records: Path
) -> None:
    made = []
    for name, more in (("a", ("--no-progress",)), ("b", ("--workers", "2"))):
        (tmp_path / name).mkdir()
        ran = run("convert", records, "-t", "parquet", "-o", tmp_path / name, *more)
        assert ran.exit_code == 0, ran.stderr
        made.append(folder_of(tmp_path / name))
    assert list(made[0]) == sorted(f"{name}.parquet" for name in NAMES)
    assert made[0] == made[1]
    histories = [one.history for one in woundfhir.read_many(records)]
    for name in NAMES:
        assert parquet.read_table(tmp_path / "a" / f"{name}.parquet").to_pylist() == list(to_rows(histories, name))


def test_row_groups_bound_what_is_held(
    run: Any, tmp_path: Path, records: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held: list[int] = []
    write = parquet.ParquetWriter.write_batch

    def counted(self: Any, batch: Any, row_group_size: int) -> None:
        held.append(batch.num_rows)
        write(self, batch, row_group_size)

    monkeypatch.setattr(parquet.ParquetWriter, "write_batch", counted)
    monkeypatch.setattr(arrow, "GROUP", 100)
    assert run("convert", records, "--table", "facts", "-o", tmp_path / "facts.parquet").exit_code == 0
    about = parquet.ParquetFile(tmp_path / "facts.parquet").metadata
    groups = [about.row_group(place).num_rows for place in range(about.num_row_groups)]
    assert len(groups) > 10 and set(groups[:-1]) == {100}
    assert held == groups, "each is written before the next is gathered"


def test_csv_keeps_every_digit(run: Any, tmp_path: Path) -> None:
    ran = run("convert", STORY, "--table", "sizes", "-t", "csv")
    assert ran.exit_code == 0
    first = next(csv.DictReader(io.StringIO(ran.stdout)))
    assert (first["width"], first["area"], first["width_written"]) == ("4.0", "20.80", "4.0 cm")
    assert run("convert", STORY, "--table", "all", "-t", "csv", "-o", tmp_path).exit_code == 0
    assert list(folder_of(tmp_path)) == sorted(f"{name}.csv" for name in NAMES)
    with (tmp_path / "facts.csv").open(newline="", encoding="utf-8") as file:
        assert sum(1 for _ in csv.reader(file)) == 1 + sum(1 for _ in to_rows(history()))


def test_fhir_gives_the_same_tables_as_the_record(run: Any, tmp_path: Path) -> None:
    fhir = tmp_path / "story.ndjson"
    assert run("convert", STORY, "-o", fhir, "-t", "ndjson").exit_code == 0
    back = woundfhir.read(fhir).history
    for name in NAMES:
        assert list(to_rows(back, name)) == list(to_rows(history(), name))


# -- bad input and faults --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--table", "suplies"), "Did you mean supplies?"),
        (("-t", "parquet"), "expected a folder that exists, for 9 tables"),
        (("-t", "fhir-json", "--table", "sizes"), "expected --to parquet or csv"),
        (("-t", "parquet", "--table", "sizes", "--list", "kept"), "expected tables without --dialect"),
        (("-t", "parquet", "--table", "sizes", "--by-type"), "--by-type: expected"),
    ],
)
def test_what_cannot_be_is_one_message(run: Any, arguments: tuple[str, ...], message: str) -> None:
    ran = run("convert", STORY, *arguments)
    assert ran.exit_code == 2 and message in ran.stderr and ran.stdout == ""
    assert ran.stderr.count("\n") == 1


def test_nothing_is_written_beside_what_is_there_nor_of_one_client_twice(run: Any, tmp_path: Path) -> None:
    (tmp_path / "sizes.parquet").write_bytes(b"mine")
    ran = run("convert", STORY, "-t", "parquet", "-o", tmp_path)
    assert ran.exit_code == 2 and "a file of this name is there already" in ran.stderr
    assert folder_of(tmp_path) == {"sizes.parquet": b"mine"}
    (tmp_path / "new").mkdir()
    ran = run("convert", STORY, STORY, "-t", "parquet", "-o", tmp_path / "new")
    assert ran.exit_code == 2 and "a record of the same client already" in ran.stderr
    assert folder_of(tmp_path / "new") == {}
    assert run("convert", STORY, "-t", "parquet", "-o", tmp_path / "new", "--dry-run").exit_code == 0
    assert folder_of(tmp_path / "new") == {}


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is full on this machine")
def test_a_full_disk_is_one_message(tmp_path: Path) -> None:
    """In a process of its own, whose standard error holds what Arrow may say when it is thrown away."""
    line = [
        sys.executable,
        "-m",
        "woundfhir",
        "convert",
        str(STORY),
        "--table",
        "sizes",
        "-t",
        "parquet",
        "-o",
        "/dev/full",
    ]
    ran = subprocess.run(line, capture_output=True, text=True, cwd=ROOT, timeout=120, check=False)
    assert (ran.returncode, ran.stdout) == (2, "") and "No space left on device" in ran.stderr
    assert ran.stderr.count("\n") == 1


def test_without_pyarrow_the_message_says_what_to_install(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(InputError, match=r"missing \(pyarrow\); .*pip install 'woundfhir\[tables\]'"):
        to_arrow(history())
    assert next(to_rows(history()))["concept"] == "wound.kind"
    ran = run("convert", STORY, "-t", "parquet", "--table", "sizes")
    assert ran.exit_code == 2 and "woundfhir[tables]" in ran.stderr


def test_explain_lists_every_column(run: Any) -> None:
    ran = run("explain", "tables")
    assert ran.exit_code == 0
    for name, table in tables().items():
        assert f"{name}: {table.title}" in ran.stdout
        for column in table.columns:
            assert f"  {column.name} ({column.type}" in ran.stdout
    assert "Did you mean sizes?" in run("explain", "tables.size").stderr


def test_a_number_too_long_for_a_column_stands_as_written_alone() -> None:
    """An inch is 2.54 cm: 17 places become 19, more than a column holds; nothing is rounded."""
    visit = {"id": "V1", "wounds": [{"wound": "W1", "assessment": {"length": "1.12345678901234567 [in_i]"}}]}
    raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [visit]}
    (row,) = to_arrow(History.of(raw)).to_pylist()
    assert (row["value"], row["unit"], row["written"]) == (None, "cm", "1.12345678901234567 [in_i]")
