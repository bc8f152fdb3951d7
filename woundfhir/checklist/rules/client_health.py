"""The client beside the wound: blood glucose far out of range, who consents for a child."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView, VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.bounds import above, age_below, below

_GLUCOSE = "client.glucose"


@rule("SF04", "glucose-far-out", severity="caution", scope="visit", group="safety", about=("glucose",))
def glucose_far_out(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    high, low = "glucose.high", "glucose.low"
    if above(visit, _GLUCOSE, "mmol/L", policy.number(high)):
        yield Problem(visit.path(_GLUCOSE), "high", limit=policy.says(high), source=policy.source(high))
    elif below(visit, _GLUCOSE, "mmol/L", policy.number(low)):
        yield Problem(visit.path(_GLUCOSE), "low", limit=policy.says(low), source=policy.source(low))


@rule("HD13", "who-consents-for-a-child", severity="recommended", scope="entry", group="header")
def who_consents_for_a_child(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    young = age_below(entry, policy.days("consent.child_years"))
    if not young:
        return
    by = entry.visit.items("client.consent_by")
    if entry.nth == 0 and entry.flag("client.consent") and not entry.written("client.consent_by"):
        yield Problem(entry.visit.path("client.consent_by"), "nobody")
    elif by and all(item.word("who") == "client" for item in by):
        yield Problem(entry.visit.path("client.consent_by"), "child")


@rule("SE54", "pain-scale-for-a-young-child", severity="sense", scope="entry", group="sense")
def pain_scale_for_a_young_child(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if "self-report" in entry.tags("assessment.pain_scale"):
        years = "pain.number_scale_years"
        if age_below(entry, policy.days(years)):
            yield Problem(entry.path("assessment.pain_scale"), source=policy.source(years))
