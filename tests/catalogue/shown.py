"""The codes and displays that sources show (``tests/data/codes.tsv``), each with its source and how certain it is."""

from __future__ import annotations

import csv

from tests.paths import DATA

LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
_SYSTEMS = {"loinc": LOINC, "sct": SNOMED}
#: (system, code) -> display -> certainty.
Shown = dict[tuple[str, str], dict[str, str]]


def shown_by_sources() -> Shown:
    out: Shown = {}
    with (DATA / "codes.tsv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file, delimiter="\t"):
            assert row["source"], row["code"]
            out.setdefault((_SYSTEMS[row["system"]], row["code"]), {})[row["display"]] = row["certainty"]
    return out
