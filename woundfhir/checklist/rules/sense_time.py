"""Sense of times: written before the visit, care before the wound, a plan that lies behind, supplies out of date."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView, VisitView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.record import dates


@rule("SE06", "care-outside-the-wounds-life", severity="sense", scope="entry", group="sense")
def care_outside_the_wounds_life(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    onset, closed = entry.answer("wound.onset"), entry.answer("wound.closed")
    if dates.earlier(entry.visit.at, onset):
        yield Problem(entry.path(), "before")
    # A closed wound may be looked at again; a dressing change on it is what does not fit.
    if entry.wound.status == "closed" and entry.holds("dressing change") and dates.earlier(closed, entry.visit.at):
        yield Problem(entry.path("care"), "after")


@rule("SE07", "written-before-the-visit", severity="sense", scope="visit", group="sense")
def written_before_the_visit(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if dates.earlier(visit.written_at, visit.at):
        yield Problem(visit.path("written"))


@rule("SE13", "born-after-the-visit", severity="sense", scope="visit", group="sense")
def born_after_the_visit(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    last = visit.written_at or visit.at
    if dates.earlier(last, visit.patient.given("born")):
        yield Problem("patient.born", "born")
    if dates.earlier(last, visit.answer("client.risk_date")):
        yield Problem(visit.path("client.risk_date"), "risk")
    for entry in visit.entries:
        for item in entry.items("assessment.limb_pressure"):
            if dates.earlier(last, item.answer("date")):
                yield Problem(item.path("date"), "limb_pressure")
        for item in entry.items("plan.escalation"):
            when, day = dates.day(item.answer("when")), dates.day(last)
            if when is not None and day is not None and when > day:
                yield Problem(item.path("when"), "action")
        for index, photo in enumerate(entry.data.get("photos", ())):
            if dates.earlier(last, photo.get("taken")):
                yield Problem(entry.path(f"photos[{index}].taken"), "photo")


@rule("SE14", "supply-out-of-date", severity="caution", scope="entry", group="sense")
def supply_out_of_date(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for index, one in enumerate(entry.data.get("supplies", ())):
        expires = one.get("expires")
        # "2026-03" is good to the end of March: an earlier month on the same precision is out.
        if isinstance(expires, str) and dates.earlier(expires, (entry.visit.at or "")[: len(expires)]):
            yield Problem(entry.path(f"supplies[{index}].expires"))


@rule("SE15", "plan-lies-behind", severity="sense", scope="entry", group="sense")
def plan_lies_behind(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    at = entry.visit.at
    for key in ("next_change", "next_full_assessment"):
        planned = entry.answer(f"plan.{key}")
        if (
            isinstance(planned, str)
            and dates.moment(planned) is not None
            and dates.earlier(planned, (at or "")[: len(planned)])
        ):
            yield Problem(entry.path(f"plan.{key}"), what=[key])


@rule("SE57", "interval-of-nothing", severity="sense", scope="entry", group="sense")
def interval_of_nothing(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    every = entry.quantity("plan.change_every")
    if every is not None and every.value == 0:
        yield Problem(entry.path("plan.change_every"))


@rule("SE20", "closed-and-open", severity="sense", scope="wound", group="sense")
def closed_and_open(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    if wound.status == "open" and wound.has("wound.closed"):
        yield Problem(wound.path("closed"), "dated")
    resolved = bool(wound.entries) and wound.entries[-1].word("assessment.healing_trend") == "resolved"
    if wound.status == "open" and resolved and not wound.has("wound.closed"):
        yield Problem(wound.path("status"), "resolved")
    onset, closed = wound.answer("wound.onset"), wound.answer("wound.closed")
    if dates.earlier(closed, onset):
        yield Problem(wound.path("closed"), "order")
