"""What many records say together: counts alone, so that memory does not grow with the number of notes.

Nothing of a client is kept: rules by their code, authors by designation and id where these look like such, wounds by
the catalogue's word for their kind, days by their week (ISO 8601).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.chart.notes import VisitView
from woundfhir.chart.views import open_record
from woundfhir.checklist import Finding, Verdict, judge
from woundfhir.checklist.actions import matters
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.site import Checklist
from woundfhir.record import History
from woundfhir.record.positions import positions
from woundfhir.report.writers import author
from woundfhir.texts import tables

#: The parts of an audit, beside the rules.
PARTS = ("author", "kind", "week", "matter")


def data() -> Mapping[str, Any]:
    """Return the words of an audit in the language that holds."""
    return tables("woundfhir.audit")


@dataclass
class Count:
    """What was counted of one author, kind or week, or of all together."""

    notes: int = 0
    complete: int = 0
    safety: int = 0
    answered: int = 0
    add: int = 0
    look: int = 0

    @property
    def share(self) -> float | None:
        """The share of complete notes, None where there is no note."""
        return self.complete / self.notes if self.notes else None

    def found(self, one: Finding) -> None:
        """Count a finding."""
        if one.severity == "caution":
            self.safety += 1
        elif one.to_add:
            self.add += 1
        else:
            self.look += 1


@dataclass
class RuleCount:
    """How often a rule spoke, and in how many notes."""

    title: str
    severity: str
    found: int = 0
    notes: int = 0


@dataclass
class Audit:
    """The counts of many records; ``take`` adds one."""

    checklist: Checklist
    policy: Policy
    today: date | None = None
    records: int = 0
    drafts: int = 0
    unread: int = 0
    total: Count = field(default_factory=Count)
    rules: dict[str, RuleCount] = field(default_factory=dict)
    parts: dict[str, dict[str, Count]] = field(default_factory=lambda: {part: {} for part in PARTS})

    def take(self, history: History) -> None:
        """Count one record: its finished notes, what was found on them, and the safety prompts that are answered."""
        verdict = self._judge(history)
        record = open_record(history)
        try:
            notes = [visit for visit in record.judged if not visit.draft]
            self.records += 1
            self.drafts += len(record.judged) - len(notes)
            by_note: dict[int, list[Finding]] = {visit.index: [] for visit in notes}
            for one in verdict.findings:
                index = positions(one.path).visit
                if index is None:
                    self._stray(one, history)
                elif index in by_note:
                    by_note[index].append(one)
            for visit in notes:
                self._note(
                    visit,
                    by_note[visit.index],
                    [one for one in verdict.answered if positions(one.path).visit == visit.index],
                )
        finally:
            record.release()
        self._rules(verdict, {visit.index for visit in notes})

    def _judge(self, history: History) -> Verdict:
        return judge(history, checklist=self.checklist, policy=self.policy, today=self.today)

    def _note(self, visit: VisitView, found: list[Finding], answered: list[Finding]) -> None:
        week = _week(visit.day)
        kinds = {_kind(entry.wound.data.get("kind")) for entry in visit.entries} or {data()["texts"]["not_written"]}
        complete = not any(one.level == "error" for one in found)
        for count, of_kind in self._counts(author(visit) or data()["texts"]["no_author"], week, kinds):
            count.notes += 1
            count.complete += complete
            for one in found:
                if of_kind is None or of_kind == self._kind_of(visit, one):
                    count.found(one)
            count.answered += sum(1 for one in answered if of_kind in (None, self._kind_of(visit, one)))
        self._matters(found, answered, complete)

    def _matters(self, found: list[Finding], answered: list[Finding], complete: bool) -> None:
        """Count what was asked about each matter in one note, and what an action about it answers."""
        asked = [one for one in found if one.severity == "caution"]
        for name in sorted({name for one in (*asked, *answered) for name in _matters_of(one)}):
            count = self.parts["matter"].setdefault(name, Count())
            count.notes += 1
            count.complete += complete
            count.safety += sum(name in _matters_of(one) for one in asked)
            count.answered += sum(name in _matters_of(one) for one in answered)

    def _counts(self, name: str, week: str, kinds: set[str]) -> Iterator[tuple[Count, str | None]]:
        """Yield every count that a note belongs to; of a kind, only what is found on wounds of it is counted."""
        yield self.total, None
        yield self.parts["author"].setdefault(name, Count()), None
        yield self.parts["week"].setdefault(week, Count()), None
        for kind in sorted(kinds):
            yield self.parts["kind"].setdefault(kind, Count()), kind

    def _kind_of(self, visit: VisitView, one: Finding) -> str | None:
        entry = positions(one.path).entry
        return None if entry is None else _kind(visit.entries[entry].wound.data.get("kind"))

    def _stray(self, one: Finding, history: History) -> None:
        """A finding about a wound or the client, and not about a note."""
        self.total.found(one)
        wound = positions(one.path).wound
        if wound is not None:
            kind = _kind(history.wounds[wound].get("kind"))
            self.parts["kind"].setdefault(kind, Count()).found(one)

    def _rules(self, verdict: Verdict, notes: set[int]) -> None:
        titles = {rule.code: rule for rule in verdict.rules}
        seen: set[tuple[str, int | None]] = set()
        for one in verdict.findings:
            index = positions(one.path).visit
            if index is not None and index not in notes:
                continue  # a draft's gaps are information
            rule = self.rules.setdefault(one.rule, RuleCount(titles[one.rule].page.title, one.severity))
            rule.found += 1
            if index is not None and (one.rule, index) not in seen:
                seen.add((one.rule, index))
                rule.notes += 1


def _matters_of(one: Finding) -> set[str]:
    """The matters of a finding in the words of the catalogue."""
    return {matters()[matter] for matter in one.about}


def _kind(word: Any) -> str:
    """The catalogue's word for a kind of wound; words of a person's own are not repeated."""
    answers = catalogue().concept("wound.kind").answers
    if not isinstance(word, str):
        return str(data()["texts"]["not_written"])
    found = answers.find(word) if answers else None
    return found.shown if found is not None else str(data()["texts"]["other"])


def _week(day: date | None) -> str:
    """The week of a day.

    Examples
    --------
    >>> _week(date(2026, 1, 1)), _week(date(2027, 1, 1))
    ('2026-W01', '2026-W53')
    """
    if day is None:
        return str(data()["texts"]["no_day"])
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"
