"""What the benchmark writes into the README and the guide: each aim with its verdict, and the steps in the way."""

from __future__ import annotations

import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.paths import ROOT


@pytest.fixture(scope="module")
def bench() -> Iterator[Any]:
    sys.path.insert(0, str(ROOT / "tools"))
    import bench.figures
    import bench.writing

    yield bench
    sys.path.remove(str(ROOT / "tools"))


def _report(bench: Any) -> Any:
    report = bench.figures.Report(True)
    report.timed("Writing", "fast enough", 3.0, 1.0, against="the floor", limit=4, main=True)
    report.timed("Writing", "too slow | by far", 9.0, 1.0, against="the floor", limit=4, main=True, work=_work)
    report.timed("Writing", "without an aim", 2.0, 1.0, against="the floor")
    return report


def _work() -> None:
    end = time.process_time() + 0.01
    while time.process_time() < end:
        pass


def test_the_table_says_of_each_aim_whether_it_is_met_and_what_is_in_the_way(bench: Any) -> None:
    head, _, met, missed, *rest = bench.writing.readme(_report(bench)).splitlines()
    assert met == "| Writing: fast enough | 3.00 x the floor | at most 4 | met |"
    assert missed.startswith("| Writing: too slow \\| by far | 9.00 x the floor | at most 4 | not met: 100% Python and")
    assert head.count("|") == 5 and rest[0] == "" and rest[1].startswith("Measured ")


def test_the_guide_holds_all_figures_and_every_step(bench: Any) -> None:
    groups = {group["title"]: group for group in tomllib.loads(bench.writing.guide(_report(bench)))["group"]}
    assert [one["what"] for one in groups["Writing"]["figure"]] == [
        "fast enough",
        "too slow | by far",
        "without an aim",
    ]
    assert groups["Writing"]["figure"][1]["value"] == "9,000.00 ms; 9.00 x the floor (aim: at most 4; not met)"
    (missed,) = groups["Aims that are not met"]["figure"]
    assert "_work, tests/test_benchmark.py" in missed["value"]


def test_only_what_stands_between_the_marks_is_written(bench: Any, tmp_path: Path, monkeypatch: Any) -> None:
    for name, marks in (("README", bench.writing._IN_README), ("GUIDE", bench.writing._IN_GUIDE)):
        path = tmp_path / name
        path.write_text(f"before\n{marks[0]}yesterday\n{marks[1]}after\n", "utf-8")
        monkeypatch.setattr(bench.writing, name, path)
    for path in bench.writing.write(_report(bench)):
        text = path.read_text("utf-8")
        assert (
            text.startswith("before\n") and text.endswith("after\n") and "yesterday" not in text and "not met" in text
        )
