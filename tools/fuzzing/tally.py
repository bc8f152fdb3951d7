"""What many runs of the fuzzer have done together."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

MILLION = 1_000_000
#: How the name of a failure begins -> what it is; anything else is an exception that nobody caught.
KINDS = {"loss": "losses", "leak": "leaks", "hang": "hangs", "MemoryError": "out of memory", "ended": "out of memory"}


def add(file, line):
    """Add what one run at one entrance has done."""
    with Path(file).open("a", encoding="utf-8") as out:
        out.write(json.dumps(line) + "\n")


def _kind(name):
    return next((kind for start, kind in KINDS.items() if name.startswith(start)), "uncaught")


def total(file, toml=False):
    """Print, for each entrance, all runs, how fast they were, and the processor hours that a million would need.

    With ``toml`` as lines of ``woundfhir/guide/figures.toml``.
    """
    rows = {}
    for text in Path(file).read_text(encoding="utf-8").splitlines():
        line = json.loads(text)
        fresh = {"runs": 0, "work": 0.0, "slow": 0.0, "MB": 0, "found": set(), "kinds": Counter()}
        row = rows.setdefault(line["entrance"], fresh)
        row["runs"] += line["runs"]
        row["work"] += line["processor_s"]
        row["slow"] = max(row["slow"], line["slowest_s"])
        row["MB"] = max(row["MB"], line["peak_MB"])
        row["found"] |= set(line["failures"])
        for name, count in line["failures"].items():
            row["kinds"][_kind(name)] += count
    if toml:
        for name, row in rows.items():
            rate = row["runs"] / max(row["work"], 0.1)
            value = f"{row['runs']:,} runs, {rate:,.0f} a second, slowest {row['slow']:.2f} s, {row['MB']} MB"
            value += "".join(f", {row['kinds'][kind]} {kind}" for kind in ("uncaught", "hangs", "out of memory"))
            print(f'  {{what = "{name}", value = "{value}"}},')
        return 0
    print(f"{'entrance':12}{'runs':>11}{'runs/s':>9}{'h a million':>13}{'slowest s':>11}{'MB':>6}  failures")
    for name, row in rows.items():
        rate = row["runs"] / max(row["work"], 0.1)
        hours = MILLION / rate / 3600
        print(
            f"{name:12}{row['runs']:>11,}{rate:>9.0f}{hours:>13.1f}{row['slow']:>11.2f}{row['MB']:>6}"
            f"  {'; '.join(sorted(row['found'])) or 'none'}"
        )
    print(
        f"{'all':12}{sum(row['runs'] for row in rows.values()):>11,}  (runs/s and hours: of processor time, one core)"
    )
    return 0
