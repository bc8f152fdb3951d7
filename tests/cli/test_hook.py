"""The hook of pre-commit: what it runs, as that program would run it over the files of a commit."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.paths import ROOT

(HOOK,) = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text("utf-8"))
OTHERS = {
    ".pre-commit-config.yaml": "repos:\n- repo: local\n",
    "package.json": '{"name": "x", "version": "1.0.0"}\n',
    "list.json": "[1, 2]\n",
    "empty.yaml": "",
    "cells.csv": "a,b\n1,2\n",
}


@pytest.fixture
def committed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A repository with notes of nobody: files that hold something else."""
    monkeypatch.chdir(tmp_path)
    for name, text in OTHERS.items():
        (tmp_path / name).write_text(text)
    return list(OTHERS)


def hook(said: Any, names: list[str]) -> tuple[int, str, str]:
    program, *args = shlex.split(HOOK["entry"])
    assert (
        program == "woundfhir"
        and {"id", "name", "language"} <= HOOK.keys()
        and {"yaml", "json"} == set(HOOK["types_or"])
    )
    return said(*args, *names)  # type: ignore[no-any-return]


def test_files_that_are_no_notes_are_passed_over(said: Any, committed: list[str]) -> None:
    code, out, err = hook(said, committed)
    assert (code, out) == (0, "")
    assert err == f"Passed over 5 files without a wound record or FHIR: {', '.join(sorted(committed))}\n"


def test_notes_are_checked_beside_them(said: Any, committed: list[str]) -> None:
    Path("note.yaml").write_bytes((ROOT / "examples" / "leg-and-sacrum" / "story.yaml").read_bytes())
    code, out, _ = hook(said, [*committed, "note.yaml"])
    assert code == 1 and out.startswith("1 safety")


@pytest.mark.parametrize("text", ["visits: [\n", '{"resourceType": "Bundle", ', '{"wounds": []}', "woundfhir: 2\n"])
def test_a_note_with_a_fault_is_never_passed_over(said: Any, committed: list[str], text: str) -> None:
    Path("note.yaml").write_text(text)
    code, out, err = hook(said, [*committed, "note.yaml"])
    assert (code, out) == (2, "") and "note.yaml" in err.splitlines()[-1]
