"""Photos: taken at the start, at intervals and at hand-over, with ruler and label."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import gap_days, gaps, listed


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
    """The client agreed to photos, and none was taken although one is due.

    Why: A photo taken the same way each time shows what measurements miss.
    Wrong: a first assessment with photo_consent: yes and no photo
    Right: photos: [{file: W1-2026-03-02.jpg, taken: 2026-03-02}]; or care: {photography: none}
    Fix: Take one with ruler and label; or write care: photography: none, or {absent: reason}.
    Source: National Wound Care Strategy Programme, photography in wound assessment (seen)
    """
    if not _agreed(entry) or entry.wrote("photos") or entry.written("care.photography"):
        return
    last = entry.latest(_photographed)
    if entry.holds("first assessment") or last is None:
        # Without any photo the first assessment is where it is missing; later notes do not say it again.
        if entry.holds("first assessment"):
            yield Problem(entry.path("photos"), "First assessment without a photo")
        return
    days = gap_days(last, entry)
    if days is not None and days > policy.days("full_assessment.photo_days"):
        yield Problem(
            entry.path("photos"),
            f"Last photo more than {policy.says('full_assessment.photo_days')} ago",
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
    """A photo is noted without ruler, without label, or without its day.

    Why: Without ruler and label a photo cannot be compared, and nobody can tell whose wound it shows.
    Wrong: photos: [{file: p1.jpg}]
    Right: photos: [{file: p1.jpg, taken: 2026-03-02}], care: {photography: {with_ruler: yes, label: yes}}
    Fix: Write with_ruler and label under care: photography, and taken for the photo.
    Source: National Wound Care Strategy Programme, photography in wound assessment; teaching on documentation (seen)
    """
    missing: list[str] = []
    for item in entry.items("care.photography"):
        missing += gaps(item, {"with_ruler": "ruler", "label": "label"})
    if entry.wrote("photos"):
        if not entry.items("care.photography"):
            missing += ["ruler", "label"]
        if any("taken" not in photo for photo in entry.data["photos"]):
            missing.append("day")
    if missing:
        yield Problem(
            entry.path("photos" if entry.wrote("photos") else "care.photography"),
            f"Photo: {listed(missing)} not written",
        )
