"""Findings as text, HTML and for programs. No logic: judgement stands in ``checklist``."""

from __future__ import annotations

from collections.abc import Sequence

from woundfhir.checklist import Level
from woundfhir.report.judged import Judged

FORMATS = ("text", "json", "outcome", "junit", "sarif", "github", "html", "ndjson")


def render(
    reports: Sequence[Judged], form: str, *, fail_on: Level = "error", colour: bool = False, brief: bool = False
) -> bytes:
    """Return a report as bytes.

    Parameters
    ----------
    reports
        One verdict for each input.
    form
        One of ``FORMATS``.
    fail_on
        The level from which JUnit calls a finding a failure.
    colour
        Terminal colours, for ``text`` alone.
    brief
        ``text`` in at most seven lines.

    Examples
    --------
    >>> from woundfhir.checklist import judge
    >>> from woundfhir.record import History
    >>> record = History.of({"woundfhir": 1, "patient": {}})
    >>> render([Judged("note.yaml", judge(record), record)], "ndjson")[:25]
    b'{"rule":"HD01","part":"he'
    """
    if form == "text" and brief:
        from woundfhir.report import brief as short

        return short.render(reports).encode()
    if form == "text":
        from woundfhir.report import text

        return text.render(reports, colour=colour).encode()
    if form == "html":
        from woundfhir.report import page

        return page.render(reports).encode()
    if form == "outcome":
        from woundfhir.r4 import jsonio
        from woundfhir.report.outcome import outcome

        return jsonio.encode_readable(outcome(reports))
    from woundfhir.report import machine

    if form == "ndjson":
        return b"".join(map(machine.as_lines, reports))
    if form == "github":
        return machine.as_github(reports)
    if form == "junit":
        return machine.as_junit(reports, fail_on)
    return machine.as_sarif(reports) if form == "sarif" else machine.as_json(reports)


__all__ = ["FORMATS", "Judged", "render"]
