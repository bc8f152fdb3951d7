"""Diabetic foot: honey on it, parts of the classification, referral in time."""

from __future__ import annotations

import re
from collections.abc import Iterator

from woundfhir.chart.views import EntryView, WoundView
from woundfhir.checklist.actions import refused
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import honey_since, laid


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
