"""Photos: taken at the start, at intervals and at transfer, with ruler and label."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import gap_days, gaps


def _photographed(entry: EntryView) -> bool:
    return entry.wrote("photos") or entry.has("care.photography")


@rule(
    "FU08",
    "photo-due",
    severity="recommended",
    scope="entry",
    group="full assessment",
    when=("full assessment", "open wound"),
)
def photo_due(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not _agreed(entry) or entry.wrote("photos") or entry.written("care.photography"):
        return
    last = entry.latest(_photographed)
    if entry.holds("first assessment") or last is None:
        # Without any photo the first assessment is where it is missing; later notes do not say it again.
        if entry.holds("first assessment"):
            yield Problem(entry.path("photos"), "first")
        return
    days = gap_days(last, entry)
    if days is not None and days > policy.days("full_assessment.photo_days"):
        yield Problem(
            entry.path("photos"),
            "due",
            limit=policy.says("full_assessment.photo_days"),
            source=policy.source("full_assessment.photo_days"),
        )


def _agreed(entry: EntryView) -> bool:
    visit = entry.visit
    while visit is not None:
        if visit.written("client.photo_consent"):
            return visit.flag("client.photo_consent") is True
        visit = visit.previous  # type: ignore[assignment]
    return False


@rule("FU09", "photo-details", severity="recommended", scope="entry", group="full assessment")
def photo_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    missing: list[str] = []
    for item in entry.items("care.photography"):
        missing += gaps(item, "with_ruler", "label")
    if entry.wrote("photos"):
        if not entry.items("care.photography"):
            missing += ["with_ruler", "label"]
        if any("taken" not in photo for photo in entry.data["photos"]):
            missing.append("taken")
    if missing:
        yield Problem(entry.path("photos" if entry.wrote("photos") else "care.photography"), missing=missing)
