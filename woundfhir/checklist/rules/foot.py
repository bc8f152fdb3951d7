"""Diabetic foot: honey on it, parts of the classification, referral in time."""

from __future__ import annotations

import re
from collections.abc import Iterator

from woundfhir.chart.views import EntryView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import ask, honey_asked_about, laid


@rule(
    "DF01",
    "honey-on-a-diabetic-foot",
    severity="caution",
    scope="entry",
    group="diabetic foot",
    when=("diabetic foot",),
)
def honey_on_a_diabetic_foot(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Honey lies on a diabetic foot ulcer.

    Why: The international foot guideline advises against honey and bee products for healing these ulcers.
    Wrong: kind: diabetic foot ulcer, primary_dressing: [{dressing: honey paste}], nobody asked
    Right: the same, and plan: {referral: foot clinic asked on 2 March, honey for odour for two weeks}
    Fix: Write the reason and who agreed. Local policy and the licensed practitioner decide.
    Source: Chen P et al., IWGDF guideline on interventions to heal foot ulcers 2023, Diabetes Metab Res Rev
        2024;40:e3644, quoted elsewhere and not read in full (seen, secondary source)
    """
    if laid(entry, "honey") and not honey_asked_about(entry):
        yield ask(
            entry.path("care.primary_dressing"),
            "Honey on a diabetic foot ulcer, which the 2023 foot guideline advises against: who agreed to it?",
            "Write the reason, and who agreed.",
        )


@rule(
    "DF02",
    "foot-classification-parts",
    severity="recommended",
    scope="entry",
    group="diabetic foot",
    when=("diabetic foot",),
)
def foot_classification_parts(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A foot classification is named, but its parts are not written.

    Why: A total hides whether it is depth, blood flow or infection that is bad; the parts tell what to treat.
    Wrong: foot_classification: WIfI, foot_grade: 3
    Right: foot_classification: WIfI, foot_grade: W2 I1 fI0
    Fix: Write each part under foot_grade.
    Source: International Working Group on the Diabetic Foot, classification, as quoted by a journal's practice page
        (seen, secondary source)
    """
    if not entry.has("assessment.foot_classification"):
        return
    grade, place = entry.answer("assessment.foot_grade"), entry.path("assessment.foot_grade")
    of_parts = entry.word("assessment.foot_classification") in ("WIfI", "SINBAD")
    if grade is None:
        yield Problem(place, "Foot classification named, grade not written")
    elif of_parts and isinstance(grade, str) and re.fullmatch(r"\d+(\s*(of|/)\s*\d+)?", grade.strip()):
        yield Problem(place, "Only a total is written; the parts of the classification are not")


@rule(
    "DF03",
    "foot-referred-in-time",
    severity="recommended",
    scope="wound",
    group="diabetic foot",
    when=("diabetic foot",),
)
def foot_referred_in_time(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    """A foot wound in diabetes was not referred within the days that the policy gives.

    Why: A foot ulcer in diabetes can be lost within days.
    Wrong: first note 2 March, no referral, with a policy of 1 day
    Right: plan: {referral: foot clinic called on 2 March}
    Fix: Write the referral and its day, or why there is none.
    Source: NHS National Wound Care Strategy Programme, lower limb recommendations: 1 day; Ontario's guideline sets no
        number in the text seen (seen, secondary source)
    """
    limit = policy.days("limb_pressure.foot_referral_days")
    first = wound.entries[0] if wound.entries else None
    if not limit or first is None or first.day is None:
        return
    for entry in wound.entries:
        if entry.day is not None and (entry.day - first.day).days <= limit and entry.written("plan.referral"):
            return
    today = wound.record.today
    if today is not None and (today - first.day).days >= limit:
        yield Problem(
            first.path("plan.referral"),
            f"Diabetic foot ulcer: no referral within {limit} day of the first note",
            source=policy.source("limb_pressure.foot_referral_days"),
        )
