"""Refusal: what was explained, who was told, what was agreed instead; nothing else is asked of a wound left alone."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import filled, gaps, last_change
from woundfhir.checklist.rules.negative_pressure import therapy


@rule("RF01", "refusal-details", severity="required", scope="entry", group="refusal")
def refusal_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    items = entry.items("plan.refusal")
    for item in items:
        if missing := gaps(item, "what", "reason", "explained", "understood", "told", "agreed"):
            yield Problem(item.path(), "details", missing=missing)
    if not items and not entry.absent("plan.refusal") and "refused" in entry.tags("care.response.tolerated"):
        yield Problem(entry.path("plan.refusal"), "nothing")


@rule("RF02", "refusal-asks-more", severity="caution", scope="entry", group="refusal", about=("stopped",))
def refusal_asks_more(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("plan.refusal"):
        if item.flag("understood") is False and "another" not in item.tags("by"):
            yield Problem(item.path("understood"), "not_understood")
        elif "nobody" in item.tags("told"):
            yield Problem(item.path("told"), "nobody")
    last = last_change(entry)
    inside = last is not None and (filled(last) or therapy(last) is not None)
    if entry.holds("refused") and inside:
        yield Problem(entry.path("plan.refusal"), "inside")
