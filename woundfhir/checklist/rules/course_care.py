"""History over several visits: packing left in, overdue changes, care that stopped."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from woundfhir.chart.views import EntryView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.bounds import below
from woundfhir.checklist.rules.helpers import filled, gap_days, taken_out
from woundfhir.record import dates

#: Words in change_by that say that somebody else than the writer of these notes changes the dressing in between.
_OTHERS = (
    "client",
    "self",
    "family",
    "wife",
    "husband",
    "partner",
    "daughter",
    "son",
    "sister",
    "brother",
    "caregiver",
    "carer",
    "mother",
    "father",
    "clinic",
    "hospital",
)


@rule("CO04", "closed-with-packing-in", severity="caution", scope="wound", group="course")
def closed_with_packing_in(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    newest = wound.newest
    if newest is None or not (wound.closed or newest.word("assessment.healing_trend") == "resolved"):
        return
    last = next((one for one in reversed(wound.entries) if filled(one)), None)
    if last is None:
        return
    later = [
        one for one in wound.entries[last.nth + 1 :] if taken_out(one) is not None or one.flag("care.removed.all_out")
    ]
    # A dressing change in between without a count is asked about there (PK03).
    between = any(one.holds("dressing change") for one in wound.entries[last.nth + 1 :])
    paste = all("paste" in item.tags("material") for item in last.items("care.packing"))
    if not later and not between and not paste:
        yield Problem(last.path("care.packing"))


@rule("CO05", "change-overdue", severity="caution", scope="wound", group="course", about=("stopped",))
def change_overdue(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    grace = policy.days("plan.grace_days")
    changes = [one for one in wound.episode if one.holds("dressing change") and one.day is not None]
    if not changes or stopped(wound, policy):
        return
    last, today = changes[-1], wound.record.today
    due = dates.day(last.answer("plan.next_change"))
    # A plan that lies behind its own visit is a slip of the pen (SE15).
    planned = due is not None and last.day is not None and due >= last.day
    over = (today - due).days if planned and due is not None and today is not None else 0
    if over > grace and not wound.closed and last.holds("open wound") and not _handed_over(wound):
        yield Problem(last.path("plan.next_change"), "overdue", over=over, source=policy.source("plan.grace_days"))
        return
    late = [now for before, now in pairwise(changes) if came_late(before, now, grace)]
    if late:
        key = "late" if len(late) == 1 else "late_again"
        yield Problem(late[-1].path(), key, times=len(late), source=policy.source("plan.grace_days"))


def came_late(before: EntryView, now: EntryView, grace: int) -> bool:
    """Whether a change came later than the one before it planned, and nobody changed the dressing in between."""
    due = dates.day(before.answer("plan.next_change"))
    if due is None or now.day is None or (now.day - due).days <= grace:
        return False
    by = before.answer("plan.change_by")
    somebody = isinstance(by, str) and any(word in by.casefold().split() for word in _OTHERS)
    # What came off was laid on in between, by somebody who did not write here.
    apart = Decimal(gap_days(before, now) or 0)
    between = any(below(item, "days_worn", "d", apart) for item in now.items("care.removed"))
    return not somebody and not between


def stopped(wound: WoundView, policy: Policy) -> bool:
    """Whether nothing was written on an open wound for longer than the policy gives, while the record continues."""
    newest, today = wound.newest, wound.record.today
    if newest is None or newest.day is None or today is None or wound.closed or not newest.visit.counts:
        return False
    silent = (today - newest.day).days > policy.days("course.silent_days")
    return silent and not _handed_over(wound) and newest.word("assessment.healing_trend") != "resolved"


def _handed_over(wound: WoundView) -> bool:
    newest = wound.newest
    return newest is not None and (newest.visit.holds("transfer") or "discharge" in newest.visit.purposes)


@rule("CO10", "care-stopped", severity="caution", scope="wound", group="course")
def care_stopped(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    if stopped(wound, policy):
        days = policy.days("course.silent_days")
        yield Problem(wound.path("status"), days=days, source=policy.source("course.silent_days"))


@rule("CO11", "wound-never-charted", severity="required", scope="wound", group="course")
def wound_never_charted(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    if not wound.judged and wound.status != "closed" and wound.record.judged:
        yield Problem(wound.path())
