"""What a new note begins with, beside what is carried: what never changes at a site."""

from __future__ import annotations

from pathlib import Path

from woundfhir.chart.defaults import answers, read
from woundfhir.newnote.asked import data
from woundfhir.newnote.carried import Carried


def with_defaults(carried: Carried | None, path: str | Path) -> Carried:
    """Return what a new note begins with, a site's defaults where the last notes say nothing.

    Raises
    ------
    InputError
        For a file that is none, or holds another key.
    """
    out = carried or Carried()
    mark = str(data()["texts"]["site"])
    for path_, value in answers(read(path)).items():
        out.answers.setdefault(path_, (value, mark))
    return out
