"""The report that a nurse reads: the verdict first, then by wound what to look at and what to write."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

import click

from woundfhir.checklist import Finding, Verdict
from woundfhir.errors import WIDTH, escaped
from woundfhir.report.judged import Judged
from woundfhir.report.words import count, say

#: The widest line, in characters.
COLUMNS = 100
_BLANKS = re.compile(r"[ \t\n\r\f\v]+")
_SENTENCE = re.compile(r"(?<=[.?!]) (?=[A-ZÀ-Ý])")
#: Severity -> colour where there is colour; the words alone (``called``) say the same.
_COLOURS = {"caution": "bold magenta", "sense": "bold red", "required": "bold yellow", "recommended": "cyan"}
Line = tuple[str, str]


def verdict(findings: Iterable[Finding], unanswered: int = 0, excused: int = 0) -> str:
    """Return the verdict in one line.

    Parameters
    ----------
    findings
        What was found.
    unanswered, excused
        How many answers nobody has: without, and with a reason of the list.

    Examples
    --------
    >>> verdict([]), verdict([], 13)
    ('Complete.', 'Complete as far as known: 13 answered unknown.')
    """
    found = list(findings)
    if not found:
        if not unanswered and not excused:
            return say("complete")
        parts = {"unanswered": unanswered, "excused": excused}
        known = ", ".join(say(f"counts.{key}", number=number) for key, number in parts.items() if number)
        return say("complete_as_known", counts=known)
    safety, add = sum(1 for one in found if one.severity == "caution"), sum(1 for one in found if one.to_add)
    counts = {"caution": safety, "add": add, "look": len(found) - add - safety}
    return ", ".join(say(f"counts.{key}", number=number) for key, number in counts.items() if number) + "."


def of_verdicts(judged: Sequence[Verdict]) -> str:
    """Return the verdict on one input or several in one line."""
    return verdict(
        (found for one in judged for found in one.findings),
        sum(len(one.unanswered) for one in judged),
        sum(len(one.excused) for one in judged),
    )


def summary(judged: Verdict) -> str:
    """Return what was judged, and by what."""
    notes = count("notes", judged.notes)
    if judged.drafts:
        notes = count("drafts", judged.drafts, notes=notes)
    return say("summary", notes=notes, checklist=judged.checklist, policy=judged.policy)


def overall(reports: Sequence[Judged]) -> str:
    """Return the first line of a report on one input or several."""
    if not any(one.verdict.notes for one in reports) and not any(one.verdict.findings for one in reports):
        return say("no_note")
    first = of_verdicts([one.verdict for one in reports])
    safety = sum(1 for one in reports for found in one.verdict.elsewhere if found.severity == "caution")
    return f"{first} {say('safety_elsewhere', number=safety)}" if safety else first


def heading(finding: Finding) -> str:
    """Return the heading under which a finding stands: safety first, whatever the wound, then by wound."""
    if finding.severity == "caution":
        return say("heading_safety")
    return say("heading_client") if finding.wound is None else _named(finding.wound, "wound")


def where(finding: Finding) -> str:
    """Return which note a finding is about, as words before its message; a safety prompt names its wound too."""
    wound = finding.wound if finding.severity == "caution" else None
    note = None if finding.visit is None else _named(finding.visit, "note")
    if note is not None and finding.draft:
        note = say("draft", note=note)
    if wound is not None and note is not None:
        note = note[0].lower() + note[1:]
    parts = [part for part in (wound and _named(wound, "wound"), note) if part]
    return say("place", place=", ".join(parts)) if parts else ""


def _named(label: str, kind: str) -> str:
    """``Wound W1``; where the label is a position (``wound 2``) it names its kind itself."""
    return say(f"named.{kind}", label=label.rpartition(" ")[2])


def called(finding: Finding) -> str:
    """Return how a report calls what was found, by its severity."""
    return say(f"called.{finding.severity}")


def sentence(finding: Finding) -> str:
    """Return note and message as one sentence with its end."""
    return f"{where(finding)}{finding.message}{'' if finding.message.endswith(('.', '?')) else '.'}"


def one_line(text: str) -> str:
    """Return text with every run of blanks and line ends as one blank; a blank at which no line ends stays."""
    return " ".join(part for part in _BLANKS.split(text) if part)


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
    return "".join(f"{styled(text, style)}\n" for text, style in lines)


def styled(text: str, style: str) -> str:
    r"""Return a line in a style, by the codes of ANSI terminals (ECMA-48).

    Examples
    --------
    >>> styled("Complete.", "bold green")
    '\x1b[32m\x1b[1mComplete.\x1b[0m'
    """
    attributes: dict[str, bool] = {}
    colour = None
    for one in style.split():
        if one in ("bold", "dim", "underline"):
            attributes[one] = True
        else:
            colour = one
    return click.style(text, fg=colour, **attributes) if text and style else text


def _lines(reports: Sequence[Judged]) -> Iterator[Line]:
    fresh = Fresh()
    yield overall(reports), "bold"
    for one in reports:
        own = f" {of_verdicts([one.verdict])}" if len(reports) > 1 else ""
        yield "", ""
        yield f"{one.name}: {summary(one.verdict)}.{own}", "dim"
        for name, found in groupby(one.verdict.findings, key=heading):
            yield "", ""
            yield name, "bold underline"
            for finding in found:
                yield from _finding(finding, fresh)
        yield from _answered(one.verdict)
        yield from _left_out(one.verdict)
        if one.verdict.elsewhere:
            yield "", ""
            yield from ((line, "dim") for line in wrap(elsewhere(one.verdict), ""))
    if any(one.verdict.findings for one in reports):
        yield "", ""
        closing = f"{say('excuse')} {say('explain')} {say('caution')}"
        yield from ((line, "dim") for line in wrap(closing, ""))


def _answered(judged: Verdict) -> Iterator[Line]:
    """What an action answers, folded to one line each."""
    if judged.answered:
        yield "", ""
        yield say("answered"), "bold underline"
    for one in judged.answered:
        for line in wrap(f"{sentence(one)} {answers(one)} [{one.reference}]", "  "):
            yield line, "dim"


def answers(finding: Finding) -> str:
    """Return who was told and when, of what answers a finding: ``answered: physician, 2026-03-02 10:30``."""
    return "; ".join(say("answered_by", who=", ".join(one.who), when=one.when) for one in finding.answers)


def elsewhere(judged: Verdict) -> str:
    """Return how many findings stand on other notes, where one note was asked for; empty where there are none."""
    if not judged.elsewhere:
        return ""
    return say("elsewhere", verdict=verdict(judged.elsewhere))


class Fresh:
    """What is new in a report: each sentence stands in it once.

    Examples
    --------
    >>> fresh = Fresh()
    >>> fresh("Write the size. Local policy decides."), fresh("Write the depth. Local policy decides.")
    ('Write the size. Local policy decides.', 'Write the depth.')
    """

    def __init__(self) -> None:
        self._seen: set[str] = set()

    def __call__(self, text: str, before: str = "") -> str:
        """Return the sentences of a text that are new, with words before them; empty where none is."""
        new = []
        for one in _SENTENCE.split(one_line(text)):
            if one not in self._seen:
                self._seen.add(one)
                new.append(one)
        return before + " ".join(new) if new else ""


def _finding(finding: Finding, fresh: Fresh) -> Iterator[Line]:
    for line in wrap(say("with_label", label=called(finding), words=sentence(finding)), "  "):
        yield line, _COLOURS[finding.severity]
    if finding.value is not None:
        yield from ((line, "") for line in wrap(say("found", value=one_line(finding.value)), "      "))
    for text, tone in explained(finding, fresh):
        yield from ((line, tone) for line in wrap(text, "      "))
    yield f"      [{finding.reference}] {finding.path}", "dim"


def explained(finding: Finding, fresh: Fresh) -> Iterator[Line]:
    """Yield what to write, why it matters and who says so, each with its style, as far as it is new in the report."""
    texts = [(fresh(finding.fix), ""), (fresh(finding.to_answer), "")]
    texts.append((fresh(finding.why, say("why")), "dim"))
    if not finding.to_add:
        texts.append((fresh(finding.source, say("source")), "dim"))
    yield from (one for one in texts if one[0])


def _left_out(judged: Verdict) -> Iterator[Line]:
    if judged.left_out:
        yield "", ""
        yield say("left_out"), "bold underline"
    for one in judged.left_out:
        found = count("findings", len(one.findings))
        for line in wrap(
            f"[{one.reference}] {say('left_out_rule', findings=found, reason=one_line(one.reason))}", "  "
        ):
            yield line, "dim"


def wrap(text: str, indent: str) -> list[str]:
    """Return text as lines no wider than ``COLUMNS``, unless one word is; later lines are indented by two more."""
    return textwrap.wrap(
        one_line(text),
        COLUMNS,
        initial_indent=indent,
        subsequent_indent=indent + "  " if indent else "",
        break_long_words=False,
        break_on_hyphens=False,
    ) or [indent]
