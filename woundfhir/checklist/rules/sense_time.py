"""Sense of times: written before the visit, care before the wound, a plan that lies behind, supplies out of date."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView, VisitView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import ask
from woundfhir.record import dates


@rule("SN06", "care-outside-the-wounds-life", severity="sense", scope="entry", group="sense")
def care_outside_the_wounds_life(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The note is about a wound before it began, or after it closed.

    Why: One of the two dates is wrong, or the note is on the wrong wound.
    Wrong: onset: 2026-03-10, and a note on it of 2026-03-02
    Right: onset: 2026-02, and a note on it of 2026-03-02
    Fix: Correct the onset or closing date, the time of the visit, or the wound.
    Source: arithmetic of the record itself (arithmetic)
    """
    onset, closed = entry.answer("wound.onset"), entry.answer("wound.closed")
    if dates.earlier(entry.visit.at, onset):
        yield Problem(entry.path(), "The note is dated before the wound began")
    # A closed wound may be looked at again; a dressing change on it is what does not fit.
    if entry.wound.status == "closed" and entry.holds("dressing change") and dates.earlier(closed, entry.visit.at):
        yield Problem(
            entry.path("care"),
            "A dressing change after the wound closed: opened again, or the wrong wound?",
            "Correct the date, or chart a wound that opened again as a new one.",
        )


@rule("SN07", "written-before-the-visit", severity="sense", scope="visit", group="sense")
def written_before_the_visit(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """The note was written before the visit took place.

    Why: Care is charted after it is given, never before.
    Wrong: at: 2026-03-02T10:05-05:00, written: 2026-03-02T08:00-05:00
    Right: at: 2026-03-02T10:05-05:00, written: 2026-03-02T10:40-05:00
    Fix: Correct the time that is wrong; if it was written ahead, say so and chart what was really done.
    Source: arithmetic of the note itself; never before the care: College of Nurses of Ontario, Documentation, 2025,
        from memory (arithmetic)
    """
    if dates.earlier(visit.written_at, visit.at):
        yield Problem(visit.path("written"), "Written before the visit took place")


@rule("SN13", "born-after-the-visit", severity="sense", scope="visit", group="sense")
def born_after_the_visit(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """The client was born after the visit, or the wound's, the score's or the measurement's day lies after it.

    Why: A finding cannot be older than the note that tells of it, or younger.
    Wrong: at: 2026-03-02, limb_pressure: [{date: 2026-12-27}]
    Right: at: 2026-03-02, limb_pressure: [{date: 2025-12-27}]
    Fix: Correct the date; a wrong year is the usual slip.
    Source: arithmetic of the record itself (arithmetic)
    """
    last = visit.written_at or visit.at
    if dates.earlier(last, visit.patient.given("born")):
        yield Problem("patient.born", "Date of birth after a note was written")
    if dates.earlier(last, visit.answer("client.risk_date")):
        yield Problem(visit.path("client.risk_date"), "Risk score dated after the note was written")
    for entry in visit.entries:
        for item in entry.items("assessment.limb_pressure"):
            if dates.earlier(last, item.answer("date")):
                yield Problem(item.path("date"), "Limb pressure dated after the note was written")
        for index, photo in enumerate(entry.data.get("photos", ())):
            if dates.earlier(last, photo.get("taken")):
                yield Problem(entry.path(f"photos[{index}].taken"), "Photo dated after the note was written")


@rule("SN14", "supply-out-of-date", severity="caution", scope="entry", group="sense")
def supply_out_of_date(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A supply was used after its expiry date.

    Why: After that date nobody stands for its being sterile.
    Wrong: at: 2026-03-02, supplies: [{item: calcium alginate, expires: 2026-01}]
    Right: supplies: [{item: calcium alginate, expires: 2027-06}]
    Fix: Check the pack; if it was used, write who was told. Local policy and the licensed practitioner decide.
    Source: ISO 15223-1, the use-by date on a medical device (published standard)
    """
    for index, one in enumerate(entry.data.get("supplies", ())):
        expires = one.get("expires")
        # "2026-03" is good to the end of March: an earlier month on the same precision is out.
        if isinstance(expires, str) and dates.earlier(expires, (entry.visit.at or "")[: len(expires)]):
            yield ask(
                entry.path(f"supplies[{index}].expires"),
                "Used after its expiry date: is the date on the pack right?",
                "Correct the date; if it was used, write who was told.",
            )


@rule("SN15", "plan-lies-behind", severity="sense", scope="entry", group="sense")
def plan_lies_behind(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The next change or the next full assessment is planned for a day before the visit.

    Why: Nobody comes on a day that is over.
    Wrong: at: 2026-03-02, next_change: 2026-02-04
    Right: at: 2026-03-02, next_change: 2026-03-04
    Fix: Correct the day.
    Source: arithmetic of the note itself (arithmetic)
    """
    at = entry.visit.at
    for key, what in (("next_change", "Next change"), ("next_full_assessment", "Next full assessment")):
        planned = entry.answer(f"plan.{key}")
        if (
            isinstance(planned, str)
            and dates.moment(planned) is not None
            and dates.earlier(planned, (at or "")[: len(planned)])
        ):
            yield Problem(entry.path(f"plan.{key}"), f"{what} is planned for a day before the visit")


@rule("SN20", "closed-and-open", severity="sense", scope="wound", group="sense")
def closed_and_open(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    """A wound is called open and has a closing date, or is called resolved in the newest note and still open.

    Why: The next team must know whether somebody has to come.
    Wrong: status: open, closed: 2026-04-02
    Right: status: closed, closed: 2026-04-02
    Fix: Write status and closing date that fit together.
    Source: HL7 FHIR R4, Condition: an abated condition is not active (con-4) (published standard)
    """
    if wound.status == "open" and wound.has("wound.closed"):
        yield Problem(wound.path("closed"), "The wound is called open, and has a closing date")
    resolved = bool(wound.entries) and wound.entries[-1].word("assessment.healing_trend") == "resolved"
    if wound.status == "open" and resolved and not wound.has("wound.closed"):
        yield Problem(wound.path("status"), "The newest note calls the wound resolved, the record calls it open")
    onset, closed = wound.answer("wound.onset"), wound.answer("wound.closed")
    if dates.earlier(closed, onset):
        yield Problem(wound.path("closed"), "The wound closed before it began")
