"""Several visits compared: measured on time and by one method, stage, size, progress."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from functools import lru_cache

from woundfhir.chart.views import EntryView, WoundView
from woundfhir.checklist.free_words import note_about
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import apart, area, dead_tissue, exudate_level, gap_days, measured, size, sized
from woundfhir.checklist.rules.pressure import staged
from woundfhir.measures.change import percent_area_reduction
from woundfhir.record.units import MeasureError

_WAY = ("assessment.measure_method", "assessment.measure_axis")


def _way(entry: EntryView) -> tuple[str | None, ...]:
    return tuple(entry.word(path) for path in _WAY)


def same_way(one: EntryView, other: EntryView) -> bool:
    """Whether two measurements may be compared: no method or axis is written that differs."""
    return _agree(_way(one), _way(other))


def _agree(one: tuple[str | None, ...], other: tuple[str | None, ...]) -> bool:
    pairs = zip(one, other, strict=True)
    return all(first is None or second is None or first == second for first, second in pairs)


@lru_cache(maxsize=256)
def _like(way: tuple[str | None, ...]) -> Callable[[EntryView], bool]:
    """Return the test whether an entry was measured on a known day, in a way that may be compared with this one."""

    def test(one: EntryView) -> bool:
        return _measured_on_a_day(one) and _agree(_way(one), way)

    return test


def measured_before(entry: EntryView) -> EntryView | None:
    """Return the newest earlier entry of the episode with a size."""
    return entry.comparable(measured)


@rule("CO01", "measured-weekly", severity="required", scope="wound", group="course")
def measured_weekly(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    limit, source = policy.days("full_assessment.days"), policy.source("full_assessment.days")
    for episode in wound.episodes:
        for entry in _overdue(episode, limit):
            yield Problem(entry.path("assessment.length"), limit=limit, source=source)


def _overdue(episode: list[EntryView], limit: int) -> Iterator[EntryView]:
    """Yield, for each gap between two measurements that is longer than the limit, the first entry beyond it."""
    # A wound that was never measured is counted from the first note on it.
    last, found = episode[0], False
    for entry in episode:
        if sized(entry) or entry.absent("assessment.length"):
            last, found = entry, False
        elif not found and entry.holds("open wound", "assessed"):
            days = gap_days(last, entry)
            # A full assessment without a size is the catalogue's own finding.
            if days is not None and days > limit and not entry.holds("full assessment"):
                found = True
                yield entry


@rule("CO02", "stage-lowered", severity="caution", scope="entry", group="course", when=("pressure injury",))
def stage_lowered(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    now = staged(entry)
    last = entry.comparable(staged)
    before = None if last is None else staged(last)
    # The stage of the wound itself is that of its first episode.
    if before is None and entry.episode_start == 0:
        before = next((int(tag[6:]) for tag in entry.tags("wound.stage") if tag.startswith("stage:")), None)
    if now is not None and before is not None and now < before:
        yield Problem(entry.path("assessment.pressure_injury_stage"))


@rule("CO03", "measured-another-way", severity="recommended", scope="entry", group="course")
def measured_another_way(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = measured_before(entry) if area(entry) is not None else None
    if last is not None and not same_way(last, entry) and not note_about(entry, "size"):
        yield Problem(entry.path("assessment.measure_method"))


@rule(
    "CO06",
    "pressure-injury-no-progress",
    severity="caution",
    scope="entry",
    group="course",
    when=("pressure injury", "open wound"),
    about=("worse",),
)
def pressure_injury_no_progress(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if stands_still(entry, policy):
        yield Problem(
            entry.path("plan.escalation"),
            limit=policy.days("pressure_injury.progress_days"),
            source=policy.source("pressure_injury.progress_days"),
        )


def stands_still(entry: EntryView, policy: Policy) -> bool:
    """Whether a pressure injury is no smaller and no better than the policy's days ago."""
    now, days = area(entry), policy.days("pressure_injury.progress_days")
    if now is None or not entry.holds("pressure injury"):
        return False
    old = next((one for one in entry.comparables(_like(_way(entry))) if apart(one, entry, days)), None)
    return old is not None and now >= size(old) and not _better(old, entry)


def _better(old: EntryView, new: EntryView) -> bool:
    """Whether depth, dead tissue or exudate got less."""
    depths = (old.measure("assessment.depth", "cm"), new.measure("assessment.depth", "cm"))
    levels = (exudate_level(old), exudate_level(new))
    dead = (dead_tissue(old), dead_tissue(new))
    return any(first is not None and second is not None and second < first for first, second in (depths, levels, dead))


@rule(
    "CO07",
    "venous-ulcer-four-weeks",
    severity="caution",
    scope="entry",
    group="course",
    when=("venous ulcer", "open wound"),
    about=("worse",),
)
def venous_ulcer_four_weeks(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    key = "course.venous_percent"
    if _fell_less(entry, policy, key):
        yield Problem(
            entry.path("plan.escalation"),
            limit=policy.says(key),
            weeks=policy.number("course.weeks"),
            source=policy.source(key),
        )


@rule(
    "CO08",
    "foot-ulcer-four-weeks",
    severity="caution",
    scope="entry",
    group="course",
    when=("diabetic foot", "open wound"),
    about=("worse",),
)
def foot_ulcer_four_weeks(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    key = "course.diabetic_foot_percent"
    if _fell_less(entry, policy, key):
        yield Problem(
            entry.path("plan.escalation"),
            limit=policy.says(key),
            weeks=policy.number("course.weeks"),
            source=policy.source(key),
        )


def _fell_less(entry: EntryView, policy: Policy, key: str) -> bool:
    """Whether the area fell by less than the policy's share."""
    fallen = fallen_in_time(entry, policy)
    return fallen is not None and fallen < policy.number(key)


def _measured_on_a_day(entry: EntryView) -> bool:
    return entry.day is not None and measured(entry)


def fallen_in_time(entry: EntryView, policy: Policy) -> Decimal | None:
    """Return by how much the area fell, in per cent, at the first measurement four weeks after the first; else None."""
    due, now = int(policy.number("course.weeks") * 7), area(entry)
    first = entry.oldest_comparable(_measured_on_a_day)
    if now is None or first is None or not same_way(first, entry):
        return None
    last = entry.comparable(_measured_on_a_day)
    if not apart(first, entry, due) or last is None or apart(first, last, due):
        return None
    try:
        return percent_area_reduction(size(first), now)
    except MeasureError:
        return None


def _stage_2(entry: EntryView) -> bool:
    return staged(entry) == 2


@rule(
    "CO13",
    "stage-2-open-long",
    severity="caution",
    scope="wound",
    group="course",
    when=("pressure injury",),
    about=("worse",),
)
def stage_2_open_long(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    newest = wound.newest
    if newest is None:
        return
    first = newest.oldest_comparable(_stage_2)
    if first is None or staged(newest) != 2 or not newest.holds("open wound"):
        return
    days, limit = gap_days(first, newest), policy.days("pressure_injury.stage_2_days")
    if days is not None and days > limit and not stands_still(newest, policy):
        yield Problem(newest.path("plan.escalation"), limit=limit, source=policy.source("pressure_injury.stage_2_days"))
