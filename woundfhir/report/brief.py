"""The report in at most seven lines: the verdict, safety first, what to look at, then what to add in few words."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence

from woundfhir.checklist import Finding
from woundfhir.checklist.finding import IMPORTANCE
from woundfhir.errors import WIDTH, escaped
from woundfhir.report.judged import Judged
from woundfhir.report.text import COLUMNS, elsewhere, overall, verdict
from woundfhir.report.words import count, say, shortened

#: What begins a message and says nothing.
_ARTICLE = re.compile(r"^(?:the|an?|le|la|les|un|une) |^l'", re.IGNORECASE)
_HARD_BLANK = "\u00a0"
_COLON = re.compile("\u00a0?: ")
#: So many lines at most.
LINES = 7


def render(reports: Sequence[Judged]) -> str:
    """Return the short report.

    Parameters
    ----------
    reports
        One verdict for each input.

    Returns
    -------
    str
        At most ``LINES`` lines. What does not fit is counted in the last one, and never cut.
    """
    lines = [overall(reports)]
    lines += _one(reports[0]) if len(reports) == 1 else _several(reports)
    return "".join(f"{escaped(line, 4 * WIDTH)}\n" for line in lines)


def _several(reports: Sequence[Judged]) -> Iterator[str]:
    """One line an input, those with safety prompts first."""
    order = sorted(reports, key=lambda one: -sum(f.severity == "caution" for f in one.verdict.findings))
    found = [one for one in order if one.verdict.findings]
    room = LINES - 2
    for one in found[:room]:
        yield f"{one.name}: {verdict(one.verdict.findings)}"
    if found:
        more = say("more_inputs", number=len(found) - room) if len(found) > room else ""
        yield more + say("all_of_several")


def _one(one: Judged) -> list[str]:
    several_notes = one.verdict.notes > 1
    other = elsewhere(one.verdict)
    answered = len(one.verdict.answered)
    left_out = sum(len(left.findings) for left in one.verdict.left_out)
    room = LINES - 2 - bool(other) - bool(left_out) - bool(answered)
    shown, lines = _fitting(one.verdict.findings, room, several_notes)
    if one.verdict.findings:
        lines.append(_more(one.verdict.findings, shown) + say("all_of_one"))
    if answered:
        lines.append(say("answered_number", number=answered))
    if left_out:
        lines.append(say("left_out_brief", findings=count("findings", left_out)))
    return lines + ([other] if other else [])


def _fitting(findings: Sequence[Finding], room: int, several_notes: bool) -> tuple[dict[str, int], list[str]]:
    """Return the lines that fit, most important first, and how many findings of each kind they show."""
    shown: dict[str, int] = dict.fromkeys(IMPORTANCE, 0)
    lines, shown["caution"] = _prompts(findings, room, several_notes)
    if shown["caution"] < sum(one.severity == "caution" for one in findings):
        return shown, lines  # nothing less important takes its place
    for text, number in _sentences(findings, "sense", several_notes):
        wrapped = _wrapped(text)
        if len(lines) + len(wrapped) > room:
            return shown, lines
        lines += wrapped
        shown["sense"] += number
    for severity in ("required", "recommended"):
        some = [finding for finding in findings if finding.severity == severity]
        for start, words in gaps(some, severity, several_notes):
            packed, fitted = _pack(start, words, room - len(lines))
            lines += packed
            shown[severity] += fitted
    return shown, lines


def _prompts(findings: Sequence[Finding], room: int, several_notes: bool) -> tuple[list[str], int]:
    """Return the safety prompts, in whole sentences where all of them fit, else each in few words, and how many."""
    sentences = list(_sentences(findings, "caution", several_notes))
    lines = [line for text, _ in sentences for line in _wrapped(text)]
    if len(lines) <= room:
        return lines, sum(number for _, number in sentences)
    found: tuple[list[str], int] = [], 0
    for leave_out in ((), ("code",), ("code", "place"), ("code", "place", "rest"), ("code", "place", "rest", "and")):
        lines, shown = [], 0
        for start, words in _in_few_words(findings, several_notes, leave_out):
            packed, number = _filled(start, words, room - len(lines))
            lines, shown = lines + packed, shown + number
        found = max(found, (lines, shown), key=lambda one: one[1])
    return found


def _filled(start: str, words: Sequence[tuple[str, int]], room: int) -> tuple[list[str], int]:
    """Return as many words as fit on so many full lines, and how many findings they stand for."""
    for upto in range(len(words), 0, -1):
        lines = _wrapped(start + "; ".join(text for text, _ in words[:upto]))
        if len(lines) <= room:
            return lines, sum(number for _, number in words[:upto])
    return [], 0


def _in_few_words(
    findings: Sequence[Finding], several_notes: bool, leave_out: tuple[str, ...]
) -> Iterator[tuple[str, list[tuple[str, int]]]]:
    """The safety prompts by place, each as what it is about, without its question; the rest begins with a comma."""
    by_place: dict[str, list[tuple[str, int]]] = {}
    prompts = [one for one in findings if one.severity == "caution"]
    for (_, rule, message), group in merged(prompts).items():
        words = _COLON.split(message)[0].rstrip("?.")
        words = _ARTICLE.sub("", words.split(", ")[0], count=1) if "rest" in leave_out else words
        words = words.split(say("and"))[0] if "and" in leave_out else words
        words = words[0].lower() + words[1:] if words[1:2].islower() or words[1:2] == " " else words
        place = "" if "place" in leave_out else places(group, several_notes)
        by_place.setdefault(place, []).append((words if "code" in leave_out else f"{words} [{rule}]", len(group)))
    for place, words_here in by_place.items():
        yield start_of("caution", place), words_here


def _wrapped(text: str) -> list[str]:
    lines = textwrap.wrap(text, COLUMNS, subsequent_indent="  ", break_long_words=False)
    return [line.replace(_HARD_BLANK, " ") for line in lines]


def _more(findings: Sequence[Finding], shown: Mapping[str, int]) -> str:
    """``and 7 more (2 safety): ``, or nothing where everything is shown."""
    safety = sum(1 for one in findings if one.severity == "caution") - shown["caution"]
    hidden = len(findings) - sum(shown.values())
    if not hidden:
        return ""
    return say("more_safety", number=hidden, safety=safety) if safety else say("more", number=hidden)


def merged(findings: Iterable[Finding]) -> dict[tuple[str, str, str], list[Finding]]:
    """Findings with the same message, together: by kind, rule and message."""
    out: dict[tuple[str, str, str], list[Finding]] = {}
    for one in findings:
        out.setdefault((one.severity, one.rule, one.message), []).append(one)
    return out


def _sentences(findings: Sequence[Finding], severity: str, several_notes: bool) -> Iterator[tuple[str, int]]:
    for (_, _, message), group in merged(one for one in findings if one.severity == severity).items():
        named = places(group, several_notes)
        end = "" if message.endswith((".", "?")) else "."
        yield f"{start_of(severity, named)}{message}{end} [{_unbroken(group[0])}]", len(group)


def _unbroken(finding: Finding) -> str:
    """The code with its part of the checklist, which no line end may separate."""
    return finding.reference.replace(" ", _HARD_BLANK)


def places(group: Sequence[Finding], several_notes: bool) -> str:
    """``W1, V2``: the wounds and, where there are several, the notes that are meant."""
    wounds = dict.fromkeys(one.wound for one in group if one.wound is not None)
    notes = dict.fromkeys(one.visit for one in group if one.visit is not None) if several_notes else {}
    return ", ".join(say("and").join(names) for names in (wounds, notes) if names)


def gaps(found: Sequence[Finding], severity: str, several_notes: bool) -> Iterator[tuple[str, list[tuple[str, int]]]]:
    """What is to be added, by place, as few words each with the number of findings that they stand for."""
    by_place: dict[str, list[tuple[str, int]]] = {}
    for (_, _, message), group in merged(found).items():
        words = shortened(message)
        words = words[0].lower() + words[1:] if words[1:2].islower() else words
        by_place.setdefault(places(group, several_notes), []).append((words, len(group)))
    for place, words_here in by_place.items():
        yield start_of(severity, place), words_here


def start_of(severity: str, places: str) -> str:
    """Return how a line about findings of one kind at some places begins: ``Safety, W1, V2: ``."""
    return say("place", place=", ".join(part for part in (say(f"called_brief.{severity}"), places) if part))


def _pack(start: str, words: Sequence[tuple[str, int]], room: int) -> tuple[list[str], int]:
    """Return as many words as fit on so many lines, and how many findings they stand for."""
    lines: list[str] = []
    shown = 0
    for text, number in words:
        longer = f"{lines[-1]}; {text}" if lines else ""
        if lines and len(longer) < COLUMNS:
            lines[-1] = longer
        elif len(lines) < room:
            if lines:
                lines[-1] += ";"
            lines.append(f"  {text}" if lines else start + text)
        else:
            break
        shown += number
    return lines, shown
