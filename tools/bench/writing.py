"""The figures in the README and in the guide, between marks: everything else there stays as it is."""

from __future__ import annotations

import json
import os
import platform
from datetime import UTC, datetime
from pathlib import Path

from bench.figures import Figure, Report
from woundfhir._version import __version__

_ROOT = Path(__file__).parents[2]
README = _ROOT / "README.md"
GUIDE = _ROOT / "woundfhir" / "guide" / "figures.toml"
_IN_README = ("<!-- benchmark: python tools/benchmark.py --write -->\n", "<!-- end of benchmark -->\n")
_IN_GUIDE = ("# benchmark: python tools/benchmark.py --write\n", "# end of benchmark\n")


def write(report: Report) -> list[Path]:
    """Write the README's table and the guide's figures; return what was written."""
    _replace(README, _IN_README, readme(report))
    _replace(GUIDE, _IN_GUIDE, guide(report))
    return [README, GUIDE]


def machine() -> str:
    """Return where and when it was measured."""
    kind = f"{os.cpu_count()} cores, {platform.machine()}"  # no name of a maker, as nowhere here
    return f"{datetime.now(UTC):%Y-%m-%d}, Python {platform.python_version()}, {kind}, woundfhir {__version__}"


def readme(report: Report) -> str:
    """Return the table: each aim, whether it is met, and the step in the way where it is not."""
    steps = dict(report.missed)
    rows = ["| what | measured | aim | |", "|---|---|---|---|"]
    for one in report.figures:
        if one.main:
            words = ": ".join(filter(None, (one.verdict, _steps(steps.get(one, []), 1))))
            cells = (_what(one), _measured(one), one.aim or "-", words or "-")
            rows.append(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |")
    return "\n".join(
        [*rows, "", f"Measured {machine()}; the [figures](woundfhir/guide/figures.toml) hold all of them.", ""]
    )


def guide(report: Report) -> str:
    """Return all figures as TOML: a group for each part, and what is in the way where an aim is missed."""
    lines = [f"# {machine()}"]
    for part in dict.fromkeys(one.part for one in report.figures):
        lines += ["", "[[group]]", f"title = {json.dumps(part)}", 'about = "Ratios in one run."']
        lines += ['command = "python tools/benchmark.py"', f"when = {json.dumps(f'{machine()}.')}", "figure = ["]
        for one in report.figures:
            if one.part == part:
                lines.append(f"  {{what = {json.dumps(one.what)}, value = {json.dumps(_full(one))}}},")
        lines.append("]")
    if report.missed:
        lines += ["", "[[group]]", 'title = "Aims that are not met"']
        lines += ['about = "What takes the time, by the profiler: share of the time in a folder, then in a function."']
        lines += ['command = "python tools/benchmark.py"', f"when = {json.dumps(f'{machine()}.')}", "figure = ["]
        for one, steps in report.missed:
            value = _steps(steps, len(steps)) or "see its figure"
            lines.append(f"  {{what = {json.dumps(_what(one))}, value = {json.dumps(value)}}},")
        lines.append("]")
    return "\n".join([*lines, ""])


def _steps(steps: list[str], most: int) -> str:
    """The first steps in the way, in one line."""
    return "; ".join(" ".join(step.split()) for step in steps[:most])


def _what(one: Figure) -> str:
    return f"{one.part}: {one.what}"


def _measured(one: Figure) -> str:
    return one.cost if one.ratio is None else f"{one.ratio:.2f} x {one.against}".strip()


def _full(one: Figure) -> str:
    ratio = "" if one.ratio is None else f"; {one.ratio:.2f} x {one.against}".rstrip()
    return f"{one.cost}{ratio}{f' (aim: {one.aim}; {one.verdict})' if one.aim else ''}"


def _replace(path: Path, marks: tuple[str, str], content: str) -> None:
    text = path.read_text("utf-8")
    begin, end = marks
    if text.count(begin) != 1 or text.count(end) != 1:
        raise SystemExit(f"{path.name}: expected one block between {begin.strip()!r} and {end.strip()!r}")
    head, rest = text.split(begin)
    path.write_text(f"{head}{begin}{content}{end}{rest.split(end)[1]}", "utf-8")
