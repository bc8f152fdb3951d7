"""Diabetic foot: honey on it, parts of the classification, referral in time."""

from __future__ import annotations

import re
from collections.abc import Iterator

from woundfhir.chart.views import EntryView, WoundView
from woundfhir.checklist.action_words import refused
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import compressed, honey_since, laid, on_the_heel


@rule(
    "DF01",
    "honey-on-a-diabetic-foot",
    severity="caution",
    scope="entry",
    group="diabetic foot",
    when=("diabetic foot",),
    about=("dressing",),
)
def honey_on_a_diabetic_foot(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if laid(entry, "honey"):
        yield Problem(entry.path("care.primary_dressing"), since=honey_since(entry))


def _ordinary(wound: WoundView) -> EntryView | None:
    """The newest note of an open wound, a dressing change, where no full assessment of the episode asks for all."""
    newest = wound.newest
    if newest is None or wound.closed or not newest.holds("open wound") or not newest.holds("dressing change"):
        return None
    full = any(one.holds("full assessment") or one.holds("first assessment") for one in wound.episode)
    return None if full else newest


@rule("LL35", "blood-flow-never-charted", severity="recommended", scope="wound", group="lower limb")
def blood_flow_never_charted(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    newest = _ordinary(wound)
    if newest is None or not (newest.holds("lower limb ulcer") or on_the_heel(wound)):
        return
    # Under compression LL02 asks.
    charted = ("assessment.pulses", "assessment.limb_pressure", "assessment.limb_signs", "assessment.red_flags")
    if compressed(newest) is None and not any(one.written(path) for one in wound.episode for path in charted):
        yield Problem(newest.path("assessment.pulses"))


@rule("SF05", "offloading-never-charted", severity="recommended", scope="wound", group="safety")
def offloading_never_charted(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    newest = _ordinary(wound)
    if newest is None or not newest.holds("needs offloading") or newest.has("plan.refusal"):
        return
    own = ("plan.offloading", "client.turning_plan", "client.support_surface", "client.seating")
    if not any(one.written(path) for one in wound.episode for path in own):
        yield Problem(newest.path("plan.offloading"))


@rule(
    "DF02",
    "foot-classification-parts",
    severity="recommended",
    scope="entry",
    group="diabetic foot",
    when=("diabetic foot",),
)
def foot_classification_parts(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not entry.has("assessment.foot_classification"):
        return
    grade, place = entry.answer("assessment.foot_grade"), entry.path("assessment.foot_grade")
    of_parts = entry.word("assessment.foot_classification") in ("WIfI", "SINBAD")
    if grade is None:
        yield Problem(place, "no_grade")
    elif of_parts and isinstance(grade, str) and re.fullmatch(r"\d+(\s*(of|/)\s*\d+)?", grade.strip()):
        yield Problem(place, "only_total")


@rule(
    "DF03",
    "foot-referred-in-time",
    severity="recommended",
    scope="wound",
    group="diabetic foot",
    when=("diabetic foot",),
)
def foot_referred_in_time(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    limit = policy.days("limb_pressure.foot_referral_days")
    first = wound.entries[0] if wound.entries else None
    if not limit or first is None or first.day is None:
        return
    for entry in wound.entries:
        if (
            entry.day is not None
            and (entry.day - first.day).days <= limit
            and not refused(entry.answer("plan.referral"))
        ):
            return
    today = wound.record.today
    if today is not None and (today - first.day).days >= limit:
        yield Problem(
            first.path("plan.referral"), limit=limit, source=policy.source("limb_pressure.foot_referral_days")
        )
