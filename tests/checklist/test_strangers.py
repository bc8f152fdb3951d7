"""Notes of a stranger to the rules, with planted faults: how many are found, and how much is said that is wrong.

All invented, each as an experienced wound nurse would write it at its kind of wound (common practice, no source). The
notes and their faults were written before the rules were read; `fair.yaml` holds what else the checker says rightly,
judged by a person, and everything beyond both is a false alarm.
"""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from woundfhir.cli import run

FOLDER = Path(__file__).parent / "strangers"
NOTES = sorted(FOLDER.glob("s*.yaml"))
FAULTS = yaml.safe_load((FOLDER / "faults.yaml").read_text("utf-8"))
FAIR = yaml.safe_load((FOLDER / "fair.yaml").read_text("utf-8"))
#: Shares that the project aims at.
FOUND, FALSE_A_NOTE = 0.95, 1


@cache
def _said(path: Path, folder: Path) -> list[dict[str, Any]]:
    """What `woundfhir check` says about a note, without what only informs."""
    out = folder / f"{path.stem}.json"
    assert run(["check", str(path), "--format", "json", "-o", str(out)]) in (0, 1)
    return [one for one in json.loads(out.read_text("utf-8"))["findings"] if one["severity"] != "information"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("strangers")


def _points(fault: dict[str, Any], said: dict[str, Any]) -> bool:
    """Whether a finding is about a planted fault: its place, and its words where these are needed."""
    if any(key in fault and said.get(name) != fault[key] for key, name in (("visit", "note"), ("wound", "wound"))):
        return False
    path = re.sub(r"\[\d+\]", "", said["path"])
    if not any(path.endswith(field) or f".{field}." in f"{path}." for field in fault["fields"]):
        return False
    text = f"{said['message']} {said['fix']}".casefold()
    return not fault.get("words") or any(word in text for word in fault["words"])


def _hurried(path: Path) -> bool:
    return "hurried" in path.read_text("utf-8").splitlines()[0]


def _missed(path: Path, folder: Path) -> list[str]:
    said = _said(path, folder)
    return [fault["what"] for fault in FAULTS[path.stem] if not any(_points(fault, one) for one in said)]


def _false(path: Path, folder: Path) -> list[str]:
    fair = {*FAIR.get(path.stem, ()), *(FAIR["hurried"] if _hurried(path) else ())}
    return [
        f"{one['rule']} {one['path']}"
        for one in _said(path, folder)
        if one["rule"].split("-")[0] not in fair and not any(_points(fault, one) for fault in FAULTS[path.stem])
    ]


def test_nearly_every_planted_fault_is_found_and_little_else_is_said(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    missed = {path.stem: _missed(path, folder) for path in NOTES}
    false = {path.stem: _false(path, folder) for path in NOTES}
    planted = sum(map(len, FAULTS.values()))
    found = planted - sum(map(len, missed.values()))
    with capsys.disabled():
        print(f"\n{len(NOTES)} notes: {found} of {planted} planted faults found ({found / planted:.1%}),", end=" ")
        print(f"{sum(map(len, false.values()))} false alarms")
        print("".join(f"  missed in {stem}: {what}\n" for stem, all_of in missed.items() for what in all_of), end="")
        print("".join(f"  false in {stem}: {what}\n" for stem, all_of in false.items() for what in all_of), end="")
    assert found / planted >= FOUND
    assert {stem: all_of for stem, all_of in false.items() if len(all_of) > FALSE_A_NOTE} == {}


@pytest.mark.parametrize("stem", [stem for stem, planted in FAULTS.items() if not planted])
def test_a_note_without_a_fault_is_complete(stem: str, folder: Path) -> None:
    assert _said(FOLDER / f"{stem}.yaml", folder) == []


def test_there_are_enough_notes_of_enough_kinds() -> None:
    records = [yaml.safe_load(path.read_text("utf-8")) for path in NOTES]
    kinds = {wound["kind"] for record in records for wound in record["wounds"]}
    assert len(NOTES) >= 20 and len(kinds) >= 15
    assert set(FAULTS) == {path.stem for path in NOTES}
