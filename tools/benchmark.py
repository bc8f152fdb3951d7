"""Ratios in one run: what the toolkit's work costs against the floor that any Python program pays for the same bytes.

Usage: ``python tools/benchmark.py [--quick | --full] [--only PART] [--write]``. ``--quick`` takes about a minute and
ends with 1 where a ratio that is stable is far from its aim; ``--full`` streams a million visits; ``--write`` puts the
figures into the README and the guide.

Times are CPU time of this process, so that other work on the machine counts little; each pair is measured in turns and
the best of its turns is taken. Every call is one that users have. Peak memory is that of a process of its own.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from functools import partial
from typing import Any

from bench import converting, screens, streaming, verbs
from bench.figures import Figure, Report
from bench.writing import write

import woundfhir
from woundfhir.demo import story

#: On a machine that does other work too, a ratio may be so much above its aim before that is an error.
_SLACK = 2.0


def main() -> int:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0] if __doc__ else "")
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--quick", action="store_true", help="about a minute, without Spark")
    how.add_argument("--full", action="store_true", help="up to a million visits")
    parser.add_argument("--only", metavar="PART", help="one part: " + ", ".join(_parts(False)))
    parser.add_argument("--write", action="store_true", help="into README.md and woundfhir/guide/figures.toml")
    given = parser.parse_args()
    report, history = Report(given.quick), woundfhir.loads(story())
    for name, part in _parts(given.full).items():
        if given.only in (None, name):
            try:
                part(history, report)
            except ImportError as error:
                report.add(Figure(name, f"not measured ({error})", ""))
    print(f"\n{len(report.missed)} aims missed: {', '.join(one.what for one, _ in report.missed) or 'none'}")
    if given.write:
        print(*(f"Wrote {path}" for path in write(report)), sep="\n")
    return int(given.quick and bool(far(report)))


def _parts(full: bool) -> dict[str, Callable[..., Any]]:
    return {
        "convert": converting.convert,
        "bundle": verbs.bundling,
        "grow": verbs.growing,
        "check": verbs.reading,
        "tables": streaming.tables,
        "stream": partial(streaming.stream, full=full),
        "back": partial(streaming.there_and_back, full=full),
        "page": screens.page,
        "start": verbs.starting,
        "spark": streaming.spark,
    }


def far(report: Report) -> list[Figure]:
    """Return the figures that are far from aims which they are known to meet, and say so."""
    found = [
        one
        for one in report.figures
        if one.what.startswith(STABLE)
        and one.limit
        and one.ratio
        and not one.at_least
        and one.ratio > _SLACK * one.limit
    ]
    for one in found:
        print(f"far from its aim: {one.what}, {one.ratio:.1f} times {one.against} (aim: {one.aim})")
    return found


#: What is held in CI: ratios of CPU time in one process that hardly depend on the machine.
STABLE = (
    "record to FHIR text",
    "FHIR text to record",
    "FHIR dicts to record",
    "checking them",
    "from_rows",
    "most memory",
)


if __name__ == "__main__":
    sys.exit(main())
