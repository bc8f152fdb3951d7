"""What is kept beside a client's record is no record of its own; whatever else lies there is one."""

from __future__ import annotations

from pathlib import Path

import pytest

from woundfhir.intake.client_folder import is_kept
from woundfhir.intake.source import named

NOTE = "woundfhir: 1\n"


def files(folder: Path, *names: str) -> list[str]:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(NOTE)
    return [str(Path(one).relative_to(folder)) for one in named([folder])]


@pytest.mark.parametrize("kept", ["received/a.json", "received/whole/a.json", "received/a.known.yaml"])
def test_what_was_received_is_kept_where_the_record_stands_for_it(tmp_path: Path, kept: str) -> None:
    assert files(tmp_path / "one", "record.yaml", kept) == ["record.yaml"]
    assert files(tmp_path / "two", kept) == [kept]
    assert files(tmp_path / "three", "notes.yaml", kept) == ["notes.yaml", kept]


@pytest.mark.parametrize("other", ["notes/a.yaml", "sent/a.json", "whole/a.yaml", "received/deep/a.yaml", "a.yaml"])
def test_another_folder_beside_a_record_is_read(tmp_path: Path, other: str) -> None:
    assert sorted(files(tmp_path, "record.yaml", other)) == sorted(["record.yaml", other])


def test_a_manifest_is_one_beside_the_files_of_an_export(tmp_path: Path) -> None:
    """HL7, Bulk Data Access: the manifest says which files there are."""
    for name in ("a/manifest.json", "a/Patient.ndjson", "b/manifest.json", "b/note.json"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("{}")
    assert [is_kept(tmp_path / folder / "manifest.json") for folder in "ab"] == [True, False]
    assert not is_kept(tmp_path / "a/Patient.ndjson")
