"""Findings in one fixed order, and the verdict that they make together."""

from __future__ import annotations

from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache
from typing import Literal, NamedTuple

from woundfhir.catalogue import catalogue, frame, per_catalogue
from woundfhir.chart.views import RecordView, VisitView
from woundfhir.checklist.actions import Answer, answered
from woundfhir.checklist.rule import Problem, Rule, Severity
from woundfhir.record.labels import label
from woundfhir.record.positions import positions

Level = Literal["error", "warning", "information"]
LEVELS: tuple[Level, ...] = ("error", "warning", "information")

#: (severity, whether the note is a draft) -> level. A draft's gaps are information, a final note's are errors. A safety
#: prompt weighs at least as much as a gap, and a draft does not make what it asks about less urgent.
_LEVEL: dict[tuple[Severity, bool], Level] = {
    ("required", False): "error",
    ("required", True): "information",
    ("recommended", False): "warning",
    ("recommended", True): "information",
    ("sense", False): "error",
    ("sense", True): "warning",
    ("caution", False): "error",
    ("caution", True): "error",
}
#: Most important first: what may hurt, what is wrong, what is missing, what would be good.
IMPORTANCE: tuple[Severity, ...] = ("caution", "sense", "required", "recommended")
TO_ADD = frozenset(("required", "recommended"))


def _reference(part: str, code: str) -> str:
    return code if code.startswith("SITE-") or not part else f"{part} {code}"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to add or to look at.

    Attributes
    ----------
    rule, name
        Code and name of the rule; ``woundfhir explain CODE`` prints its page.
    severity
        ``required`` and ``recommended``: to add. ``sense`` and ``caution``: to look at.
    level
        ``error``, ``warning`` or ``information``, which also depends on whether the note is a draft.
    path
        Place in the record: ``visits[3].wounds[0].assessment.exudate_amount``.
    message, fix, why, source
        What was found, what to write, why it matters, who says so. None holds a value of the client.
    wound, visit
        The names of the wound and the note in a report: their ids where these are plain labels such as ``W1``,
        else their number; None where the finding is about neither.
    draft
        Whether the note is a draft.
    value
        The value that was found; None unless asked for.
    part
        The part of the checklist that the rule belongs to, in words.
    about
        The matters that it asks about, and an action about each of which answers it; empty where none does.
    answers
        What answers it: who was told and when; empty while it is open. An answered finding weighs nothing.
    to_answer
        How an action answers it, and what an action that is written lacks; empty where none can.
    order
        Sort key.

    Examples
    --------
    >>> from woundfhir.checklist import check
    >>> from woundfhir.record import History
    >>> found = check(History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1", "kind": "skin tear"}]}))
    >>> site = next(one for one in found if one.rule == "GAP-wound.site")
    >>> site.path, site.severity, site.level
    ('wounds[0].site', 'required', 'error')
    """

    rule: str
    name: str
    severity: Severity
    level: Level
    path: str
    message: str
    fix: str
    why: str
    source: str
    wound: str | None
    visit: str | None
    draft: bool = False
    value: str | None = None
    part: str = ""
    about: tuple[str, ...] = ()
    answers: tuple[Answer, ...] = ()
    to_answer: str = ""
    order: tuple[int, ...] = field(default=(), repr=False, compare=False)

    @property
    def reference(self) -> str:
        """The code with the part of the checklist before it, as reports print it: ``every change CH04``."""
        return _reference(self.part, self.rule)

    @property
    def to_add(self) -> bool:
        """Whether something is to be added; else there is something to look at."""
        return self.severity in TO_ADD


class LeftOut(NamedTuple):
    """A rule that was left out: why, what it would have found, and its part of the checklist in words.

    Examples
    --------
    >>> LeftOut("GAP-plan.goal", "goals stand in the care plan", (), "gap").reference
    'gap GAP-plan.goal'
    """

    code: str
    reason: str
    findings: tuple[Finding, ...]
    part: str = ""

    @property
    def reference(self) -> str:
        """The code with the part of the checklist before it."""
        return _reference(self.part, self.code)


@dataclass(frozen=True, slots=True)
class Verdict:
    """Everything that a checklist found in one record.

    Attributes
    ----------
    findings
        Safety prompts of all wounds first, then by wound, most important first.
    answered
        The same of what an action answers; these weigh nothing.
    left_out
        The rules that were left out, each with the reason given.
    rules
        Every rule that was asked.
    checklist, policy
        Name and version of what was judged by.
    notes, drafts
        How many notes were judged, and how many of them are drafts.
    elsewhere
        Findings on other notes, where one note alone was asked for.
    unanswered, excused
        Paths of answers that nobody has: without, and with a reason of the list.

    Examples
    --------
    >>> from woundfhir.checklist import judge
    >>> from woundfhir.record import History
    >>> verdict = judge(History.of({"woundfhir": 1, "patient": {}}))
    >>> verdict.notes, verdict.count("error"), verdict.left_out
    (0, 1, ())
    """

    findings: tuple[Finding, ...]
    left_out: tuple[LeftOut, ...]
    rules: tuple[Rule, ...]
    checklist: str
    policy: str
    notes: int
    drafts: int
    elsewhere: tuple[Finding, ...] = ()
    answered: tuple[Finding, ...] = ()
    unanswered: tuple[str, ...] = ()
    excused: tuple[str, ...] = ()

    def count(self, level: Level) -> int:
        """Return how many findings have a level."""
        return sum(1 for finding in self.findings if finding.level == level)


@lru_cache(maxsize=4096)
@per_catalogue()
def _keys() -> frozenset[str]:
    """Every key that the record knows."""
    known = catalogue()
    named = {key for group in known.groups.values() for key in group}
    named |= {key for concept in known.concepts() for key in concept.fields}
    return frozenset((*named, *(key.key for key in frame().every_key())))


@per_catalogue(65536)
def safe_path(path: str) -> str:
    """Return a path up to the first key that is no key of the record, nor nearly one: such a key may be a name.

    Examples
    --------
    >>> safe_path("visits[0].wounds[0].assessment.lenght"), safe_path("patient.mrs_example"), safe_path("ida[2].x")
    ('visits[0].wounds[0].assessment.lenght', 'patient', '')
    """
    steps = path.split(".")
    for number, step in enumerate(steps):
        key = step.partition("[")[0]
        if key not in _keys() and (len(key) < 5 or not get_close_matches(key, _keys(), 1, 0.8)):
            return ".".join(steps[:number])
    return path


def finding(record: RecordView, rule: Rule, problem: Problem, show_values: bool) -> Finding:
    """Return the finding that a rule's problem is."""
    path = safe_path(problem.path)
    visit, wound_index = _whereabouts(record, path)
    draft = visit.draft if visit is not None else not any(note.counts for note in record.judged) and bool(record.judged)
    wound = None if wound_index is None else record.wounds[wound_index]
    about = rule.about if problem.about is None else problem.about
    answers, to_answer = _answers(record, about, problem, path)
    return Finding(
        rule=rule.code,
        name=rule.name,
        severity=rule.severity,
        level="information" if answers else _LEVEL[rule.severity, draft],
        path=path,
        message=rule.page.message(problem.key, problem.slots),
        fix=rule.page.advice(problem.key, problem.slots),
        why=rule.page.why,
        source=f"{rule.page.source}; {problem.source}" if problem.source else rule.page.source,
        wound=None if wound is None else label(wound.id, wound.index, "wound"),
        visit=None if visit is None else label(visit.id, visit.index, "note"),
        draft=draft,
        value=problem.value if show_values else None,
        part=rule.part,
        about=about,
        answers=answers,
        to_answer=to_answer,
        order=(
            0 if rule.severity == "caution" else 1,
            len(record.wounds) if wound_index is None else wound_index,
            IMPORTANCE.index(rule.severity),
            0 if visit is None else -visit.rank,
        ),
    )


def _answers(record: RecordView, about: tuple[str, ...], problem: Problem, path: str) -> tuple[tuple[Answer, ...], str]:
    """What answers a problem, else how an action would."""
    visit_index, entry_index, *_ = positions(path)
    if not about or visit_index is None:
        return (), ""
    visit = record.visits[visit_index]
    entry = None if entry_index is None else visit.entries[entry_index]
    return answered(record, visit, entry, about, problem.since, from_onset=problem.from_onset)


def _whereabouts(record: RecordView, path: str) -> tuple[VisitView | None, int | None]:
    """Return the note and the number of the wound that a path lies in; what was kept of a note may name one no more."""
    visit_index, entry_index, wound_index, _ = positions(path)
    if visit_index is None:
        return None, wound_index if wound_index is not None and wound_index < len(record.wounds) else None
    if visit_index >= len(record.visits):
        return None, None
    visit = record.visits[visit_index]
    there = entry_index is not None and entry_index < len(visit.entries)
    return visit, visit.entries[entry_index].wound.index if there and entry_index is not None else None
