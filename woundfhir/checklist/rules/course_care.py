"""History over several visits: packing left in, overdue changes, care that stopped."""

from __future__ import annotations

import re
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
_OTHERS = frozenset(
    (
        *("client", "patient", "self", "himself", "herself", "themselves", "family", "wife", "husband", "spouse"),
        *("partner", "daughter", "son", "sister", "brother", "mother", "father", "parent", "parents", "friend"),
        *("caregiver", "caregivers", "carer", "carers", "clinic", "hospital"),
        *("cliente", "patiente", "famille", "femme", "épouse", "mari", "époux", "conjoint", "conjointe", "fille"),
        *("fils", "soeur", "sœur", "frère", "mère", "père", "parente", "ami", "amie", "aidant", "aidante"),
        *("clinique", "hôpital"),
    )
)
_WORD = re.compile(r"\w+")


@rule("CO04", "closed-with-packing-in", severity="caution", scope="wound", group="course")
def closed_with_packing_in(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    newest = wound.newest
    if newest is None or not (wound.closed or newest.word("assessment.healing_trend") == "resolved"):
        return
    last = next((one for one in reversed(wound.entries) if filled(one)), None)
    if last is None:
        return
    # A dressing change in between without a count is asked about there (PK03).
    out = any(
        one.holds("dressing change") or taken_out(one) is not None or one.flag("care.removed.all_out")
        for one in wound.entries[last.nth + 1 :]
    )
    paste = all("paste" in item.tags("material") for item in last.items("care.packing"))
    if not out and not paste:
        yield Problem(last.path("care.packing"))


@rule("CO05", "change-overdue", severity="caution", scope="wound", group="course", about=("stopped",))
def change_overdue(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    grace, today = policy.days("plan.grace_days"), wound.record.today
    changes = [(one, one.day) for one in wound.episode if one.holds("dressing change") and one.day is not None]
    if not changes or today is None or stopped(wound, policy):
        return
    last, day = changes[-1]
    due = dates.day(last.answer("plan.next_change"))
    # A plan that lies behind its own visit is a slip of the pen (SE15).
    if due is not None and due >= day and (over := (today - due).days) > grace and _goes_on(last):
        yield Problem(last.path("plan.next_change"), "overdue", over=over, source=policy.source("plan.grace_days"))
        return
    late = [now for (before, _), (now, _) in pairwise(changes) if came_late(before, now, grace)]
    if late:
        key = "late_again" if late[1:] else "late"
        yield Problem(late[-1].path(), key, times=len(late), source=policy.source("plan.grace_days"))


def _goes_on(last: EntryView) -> bool:
    """Whether another change is to come from the writers of this record, as far as the last change says."""
    return not last.wound.closed and last.holds("open wound") and not _handed_over(last.wound)


def came_late(before: EntryView, now: EntryView, grace: int) -> bool:
    """Whether a change came later than the one before it planned, and nobody changed the dressing in between."""
    due = dates.day(before.answer("plan.next_change"))
    if due is None or now.day is None or (now.day - due).days <= grace:
        return False
    by = before.answer("plan.change_by")
    if isinstance(by, str) and _OTHERS & set(_WORD.findall(by.casefold())):
        return False
    # What came off was laid on in between, by somebody who did not write here.
    apart = gap_days(before, now)
    return apart is None or not any(below(item, "days_worn", "d", Decimal(apart)) for item in now.items("care.removed"))


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
