"""Safety: a hazard that stands in free words alone asks what was done about it, as one that is coded does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from woundfhir.catalogue.page import Hazard
from woundfhir.chart.conditions import all_hold
from woundfhir.chart.views import EntryView, VisitView
from woundfhir.checklist import free_words
from woundfhir.checklist.free_words import Written
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, Rule, registered, rule
from woundfhir.checklist.rules.helpers import opened
from woundfhir.checklist.rules.safety_named import LASTING
from woundfhir.freetext import Alarm

#: The rule that asks about each hazard that is coded.
_CODED = "SF01"


@rule("SF06", "hazard-in-words", severity="caution", scope="visit", group="safety")
def hazard_in_words(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    for written, alarm, since in _unasked(visit, policy):
        hazard = alarm.hazard
        found = written.text[alarm.start : alarm.end]
        yield Problem(
            written.path,
            about=(hazard.key,),
            since=since,
            value=found,
            source=hazard.source,
            hazard=hazard.title,
            ask=hazard.ask,
        )


def _unasked(visit: VisitView, policy: Policy) -> Iterator[tuple[Written, Alarm, VisitView | None]]:
    """Yield each hazard in words about which nothing else asks, once a wound, those of the whole client once."""
    entries = [entry for entry in visit.entries if not entry.wound.in_error]
    asked: set[str] = set()
    for entry in entries:
        here: set[str] = set()
        for written, alarm in _named(visit, free_words.of_entry(entry)):
            key, client = alarm.hazard.key, alarm.hazard.client
            if key in here or (client and key in asked):
                continue
            here.add(key)
            if not _asked_elsewhere(visit, entries if client else [entry], policy, alarm.hazard):
                yield written, alarm, opened(entry) if key in LASTING else None
        asked |= here
    for written, alarm in _named(visit, free_words.of_visit(visit)):
        if alarm.hazard.key not in asked and not _asked_elsewhere(visit, entries, policy, alarm.hazard):
            yield written, alarm, None
        asked.add(alarm.hazard.key)


def _named(visit: VisitView, texts: Iterator[Written]) -> Iterator[tuple[Written, Alarm]]:
    return free_words.heard(texts, [name for _, name in visit.patient.active_allergies])


def _asked_elsewhere(visit: VisitView, entries: Sequence[EntryView], policy: Policy, hazard: Hazard) -> bool:
    """Whether another rule asks the same of this note, of what is coded."""
    rules = [one for one in registered().values() if _may_ask(one, hazard)]
    views = {"visit": [visit], "entry": entries}
    return any(
        problem.about is None or hazard.key in problem.about
        for one in rules
        for view in views.get(one.scope, ())
        if all_hold(view, one.when)
        for problem in one.body(view, policy)
    )


def _may_ask(one: Rule, hazard: Hazard) -> bool:
    named = one.code in hazard.rules or one.code == _CODED  # the rule itself is about no matter of its own
    return one.severity == "caution" and (named or hazard.key in one.about)
