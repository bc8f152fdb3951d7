"""Files, folders and standard input: which files are looked at, in which order, and what one that cannot be read does.

Common practice of command lines ("-" is standard input, files of a folder in the order of their names); no source.
"""

from __future__ import annotations

import gzip
import io
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.intake.foreign.inputs import client
from tests.intake.test_given import NOTE, born
from woundfhir import InputError
from woundfhir.intake import source
from woundfhir.intake.source import contents, histories, is_long_table, load, named, of_others, opened, read_all
from woundfhir.tables.in_force import using

COLUMNS = [("Chart", "patient.identifiers"), ("Born", "patient.born"), ("Seen", "visit.at")]
MAPPING: Any = {"table": 1, "column": [{"name": name, "to": to} for name, to in COLUMNS]}
TABLE = b"Chart;Born;Seen\n17;1948-03;2026-03-02\n"


def written(folder: Path, **files: bytes) -> Path:
    for name, content in files.items():
        path = folder / name.replace("__", "/").replace("_", ".")
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    return folder


def test_the_files_of_a_folder_are_named_in_order_and_a_file_as_it_is_given(tmp_path: Path) -> None:
    folder = written(tmp_path, b_yaml=b"", a_json=b"", in__c_ndjson_gz=b"", d_png=b"", e=b"")
    assert [Path(one).relative_to(folder).as_posix() for one in named([folder])] == [
        "a.json",
        "b.yaml",
        "in/c.ndjson.gz",
    ]
    assert list(named(["-", "x.png", folder / "e"])) == ["-", "x.png", str(folder / "e")]


def test_a_folder_without_records_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a folder with records in it"):
        list(named([written(tmp_path, a_png=b"")]))


def test_standard_input_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    for given in (NOTE.encode(), gzip.compress(NOTE.encode())):
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(given)))
        assert list(contents(["-"])) == [("standard input", NOTE.encode())]
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(NOTE.encode())))
    with pytest.raises(InputError, match=r"^standard input: expected at most 9 bytes"):
        list(contents(["-"], 9))


def test_what_cannot_be_loaded_says_why(tmp_path: Path) -> None:
    note = written(tmp_path, note_yaml=NOTE.encode()) / "note.yaml"
    assert load(note) == NOTE.encode() == load(note, len(NOTE))
    with pytest.raises(InputError, match="at most 9 bytes"):
        load(note, 9)
    with pytest.raises(InputError, match="Name the file inside the folder"):
        load(tmp_path)
    for wrong in (tmp_path / "none.yaml", Path("a\0.yaml")):
        with pytest.raises(InputError, match="there is no such file"):
            load(wrong)
    with pytest.raises(InputError, match="it cannot be read"):
        load(note / "inside.yaml")
    packed = written(tmp_path, packed_gz=gzip.compress(NOTE.encode() * 9)) / "packed.gz"
    assert load(packed) == NOTE.encode() * 9
    with pytest.raises(InputError, match="at most 99 bytes"):
        load(packed, 99)


def test_a_file_that_cannot_be_read_does_not_stop_the_others_where_somebody_takes_its_error(tmp_path: Path) -> None:
    written(tmp_path, a_yaml=NOTE.encode(), b_json=b"{", c_yaml=NOTE.encode())
    files = [tmp_path / "none.yaml", tmp_path]
    errors: list[InputError] = []
    assert born(histories(opened(files, refused=errors.append), errors.append)) == ["1948-03", "1948-03"]
    assert [Path(one.where.partition(",")[0]).name for one in errors] == ["none.yaml", "b.json"]
    with pytest.raises(InputError, match=r"none\.yaml"):
        read_all(files)
    with pytest.raises(InputError, match=r"b\.json"):
        list(histories(opened([tmp_path])))


def test_a_group_that_cannot_be_read_does_not_stop_the_others() -> None:
    bad = [{"resourceType": "Bundle", "type": "history", "entry": []}]
    errors: list[InputError] = []
    items = [("a", bad[0]), ("b", client()), ("c", 5), ("d", {"woundfhir": 1, "patient": {"born": "1950"}})]
    assert born(histories(items, errors.append)) == ["1950", "1948-03"]
    assert [one.where.partition(",")[0] for one in errors] == ["a", "c"]
    with pytest.raises(InputError, match=r"^a, FHIR: "):
        list(histories([("a", bad[0])]))
    loose = [("a", {"resourceType": "Patient", "id": "\x07"})]
    assert list(histories(loose, errors.append)) == [] and len(errors) == 3
    with pytest.raises(InputError, match="control character"):
        list(histories(loose))


@pytest.mark.parametrize(
    ("name", "content", "mapped", "size", "long"),
    [
        ("a.csv", TABLE, True, 9, True),
        ("a.csv", TABLE, True, len(TABLE), True),
        ("a.csv", TABLE, True, len(TABLE) + 1, False),
        ("a.csv", TABLE, False, 9, False),
        ("a.yaml", NOTE.encode(), True, 9, False),
        ("a.xlsx", b"PK\x03\x04" + TABLE, True, 9, False),
    ],
)
def test_a_long_table_with_a_mapping_is_read_row_by_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, content: bytes, mapped: bool, size: int, long: bool
) -> None:
    monkeypatch.setattr(source, "LONG", size)
    path = tmp_path / name
    path.write_bytes(content)
    toml = tmp_path / "map.toml"
    toml.write_text("table = 1\n" + "".join(f'[[column]]\nname = "{n}"\nto = "{to}"\n' for n, to in COLUMNS))
    with using([toml] if mapped else []):
        assert is_long_table(path) is long
        assert (
            not is_long_table(tmp_path) and not is_long_table(tmp_path / "none.csv") and not is_long_table(Path("\0"))
        )
        ((label, held),) = opened([path])
        assert (label, held) == (str(path), path if long else content)
        if mapped and name == "a.csv":
            assert born(histories(opened([path]))) == ["1948-03"]


@pytest.mark.parametrize(
    ("content", "others"),
    [(NOTE.encode(), False), (b"words", True), (TABLE, True), (b'{"name": "x"}', True), (b'{"resourceType": 1', False)],
)
def test_a_file_of_others_shows_at_a_first_look(tmp_path: Path, content: bytes, others: bool) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes(content)
    assert of_others(str(path)) is others
    packed = tmp_path / "a.txt.gz"
    packed.write_bytes(content)
    assert not of_others(str(packed)) and not of_others(str(tmp_path)) and not of_others(str(tmp_path / "none"))
    assert not of_others("a\0")


def test_the_content_is_kept_with_what_was_read_of_it(tmp_path: Path) -> None:
    """A record of one client keeps its text, whose lines an answer has; a table of many does not."""
    two = b"woundfhir,patient.identifiers.1.value,patient.born\n1,A,1948\n1,B,1950\n"
    found = read_all([written(tmp_path, a_yaml=NOTE.encode(), b_csv=two)])
    assert [(one.kind, one.content) for one in found] == [("record", NOTE.encode()), ("csv", b""), ("csv", b"")]
