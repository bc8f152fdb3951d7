"""The report that a nurse reads: the verdict first, then by wound what to look at and what to write."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from io import StringIO
from itertools import groupby

from woundfhir.checklist import Finding, Verdict
from woundfhir.errors import WIDTH, escaped
from woundfhir.report.judged import CAUTION, EXCUSE, Judged

_WIDTH = 100
#: From so many things to add on, they are also told together.
_MANY = 6
_NOT_WRITTEN = re.compile(r"(:| is)? not written\.?$|\.$")
#: Severity -> (how the report calls it, colour where there is colour; the words alone say the same).
CALLED = {
    "caution": ("Look at, safety", "bold magenta"),
    "sense": ("Look at", "bold red"),
    "required": ("Add", "bold yellow"),
    "recommended": ("Add, expected", "cyan"),
}
Line = tuple[str, str]


def verdict(findings: Iterable[Finding]) -> str:
    """Return the verdict in one line.

    Examples
    --------
    >>> verdict([])
    'Complete.'
    """
    found = list(findings)
    add = sum(1 for one in found if one.to_add)
    if not found:
        return "Complete."
    parts = ([f"{add} to add"] if add else []) + ([f"{len(found) - add} to look at"] if len(found) > add else [])
    return ", ".join(parts) + "."


def summary(judged: Verdict) -> str:
    """Return what was judged, and by what."""
    notes = f"{judged.notes} note{'' if judged.notes == 1 else 's'}"
    many = judged.drafts > 1
    drafts = f", {judged.drafts} draft{'s' if many else ''}: gaps there are information" if judged.drafts else ""
    return f"{notes}{drafts}; checklist {judged.checklist}; policy {judged.policy}"


def overall(reports: Sequence[Judged]) -> str:
    """Return the first line of a report on one input or several."""
    if not any(one.verdict.notes for one in reports) and not any(one.verdict.findings for one in reports):
        return "No note to judge."
    return verdict(found for one in reports for found in one.verdict.findings)


def heading(finding: Finding) -> str:
    """Return the heading under which a finding stands."""
    if finding.wound is None:
        return "The client and the notes"
    return finding.wound[0].upper() + finding.wound[1:] if " " in finding.wound else f"Wound {finding.wound}"


def where(finding: Finding) -> str:
    """Return which note a finding is about, as words before its message."""
    if finding.visit is None:
        return ""
    note = finding.visit[0].upper() + finding.visit[1:] if " " in finding.visit else f"Note {finding.visit}"
    return f"{note}{' (draft)' if finding.draft else ''}: "


def sentence(finding: Finding) -> str:
    """Return note and message as one sentence with its end."""
    return f"{where(finding)}{finding.message}{'' if finding.message.endswith(('.', '?')) else '.'}"


def glance(findings: Iterable[Finding]) -> list[str]:
    """Return, for each note with many things to add, all of them in one sentence: the note in one look.

    Parameters
    ----------
    findings
        Those under one heading.
    """
    by_note: dict[str, list[str]] = {}
    for one in findings:
        if one.to_add:
            words = _NOT_WRITTEN.sub("", one.message)
            by_note.setdefault(where(one), []).append(words[0].lower() + words[1:])
    return [f"{note}{len(found)} to add: {'; '.join(found)}." for note, found in by_note.items() if len(found) >= _MANY]


def one_line(text: str) -> str:
    """Return text with every run of blanks and line ends as one blank."""
    return " ".join(text.split())


def render(reports: Sequence[Judged], *, colour: bool = False) -> str:
    """Return the report as text.

    Parameters
    ----------
    reports
        One verdict for each input.
    colour
        Whether to add terminal colours; the words are the same with and without.
    """
    lines = [(escaped(text, 4 * WIDTH), style) for text, style in _lines(reports)]
    if not colour:
        return "".join(f"{text}\n" for text, _ in lines)
    from rich.console import Console
    from rich.text import Text

    out = StringIO()
    console = Console(file=out, force_terminal=True, color_system="standard", soft_wrap=True, highlight=False)
    for text, style in lines:
        console.print(Text(text, style=style))
    return out.getvalue()


def _lines(reports: Sequence[Judged]) -> Iterator[Line]:
    told: set[str] = set()
    yield overall(reports), "bold"
    for one in reports:
        said = f" {verdict(one.verdict.findings)}" if len(reports) > 1 else ""
        yield "", ""
        yield f"{one.name}: {summary(one.verdict)}.{said}", "dim"
        for name, found in groupby(one.verdict.findings, key=heading):
            findings = list(found)
            yield "", ""
            yield name, "bold underline"
            for short in glance(findings):
                yield from ((line, "") for line in _wrap(short, "  "))
            for finding in findings:
                yield from _finding(finding, reason(finding, told))
        yield from _left_out(one.verdict)
    if any(one.verdict.findings for one in reports):
        yield "", ""
        closing = f"{EXCUSE} `woundfhir explain CODE` tells more, and who says so. {CAUTION}"
        yield from ((line, "dim") for line in _wrap(closing, ""))


def reason(finding: Finding, told: set[str]) -> str:
    """Return why it matters, at the first finding of a rule in a report; later ones need no second telling.

    Parameters
    ----------
    finding
        The next finding of the report.
    told
        The rules whose reason stands in the report; this one's is added.
    """
    if finding.rule in told:
        return ""
    told.add(finding.rule)
    return f"Why: {finding.why}"


def _finding(finding: Finding, why: str) -> Iterator[Line]:
    called, style = CALLED[finding.severity]
    for line in _wrap(f"{called}: {sentence(finding)}", "  "):
        yield line, style
    if finding.value is not None:
        yield from ((line, "") for line in _wrap(f"Found: {one_line(finding.value)}", "      "))
    yield from ((line, "") for line in _wrap(finding.fix, "      "))
    if why:
        yield from ((line, "dim") for line in _wrap(why, "      "))
    if not finding.to_add:
        yield from ((line, "dim") for line in _wrap(f"Source: {finding.source}", "      "))
    yield f"      [{finding.rule}] {finding.path}", "dim"


def _left_out(judged: Verdict) -> Iterator[Line]:
    if judged.left_out:
        yield "", ""
        yield "Left out", "bold underline"
    for one in judged.left_out:
        count = len(one.findings)
        for line in _wrap(f"[{one.code}] {count} finding{'' if count == 1 else 's'}: {one_line(one.reason)}", "  "):
            yield line, "dim"


def _wrap(text: str, indent: str) -> list[str]:
    return textwrap.wrap(
        one_line(text),
        _WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  " if indent else "",
        break_long_words=False,
        break_on_hyphens=False,
    ) or [indent]
