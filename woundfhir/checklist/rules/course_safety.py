"""Course: no progress in four weeks for every kind of wound, words that the sizes deny, a note copied from the last."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.views import EntryView
from woundfhir.checklist.free_words import note_about
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules import course
from woundfhir.checklist.rules.bounds import exact
from woundfhir.checklist.rules.helpers import RULER, apart, area, dead_tissue, gap_days, measured, size
from woundfhir.measures.change import percent_area_reduction
from woundfhir.record.units import MeasureError

_SIDES, _DEPTH = ("assessment.length", "assessment.width"), "assessment.depth"
#: Words for "not worse", each with the growth in per cent beyond which the size denies it: a key of the policy.
_NOT_WORSE = {"improving": "", "stable": "course.stable_percent", "unchanged": "course.stable_percent"}
#: What stays the same from note to note without being looked at again.
_STANDING = frozenset(
    (
        "measure_method",
        "measure_axis",
        "exudate_scale",
        "pain_scale",
        "pressure_injury_stage",
        "skin_tear_type",
        "foot_classification",
        "burn_depth",
        "burn_surface",
        "burn_surface_method",
        "limb_pressure",
        "mucosal",
    )
)


@rule(
    "CO30",
    "no-progress-in-four-weeks",
    severity="caution",
    scope="entry",
    group="course",
    when=("open wound",),
    about=("worse",),
)
def no_progress_in_four_weeks(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    weeks = policy.number("course.weeks")
    old = _weeks_ago(entry, int(weeks * 7))
    if old is None or _asked_already(entry, policy) or not _to_heal(entry):
        return
    key = (
        "course.venous_percent"
        if entry.holds("venous ulcer")
        else "course.diabetic_foot_percent"
        if entry.holds("diabetic foot")
        else "course.percent"
    )
    fallen = _fallen(old, entry)
    if fallen is not None and fallen < policy.number(key):
        yield Problem(
            entry.path("plan.reassessment"),
            # An answer of the last four weeks still holds.
            since=old.visit,
            limit=policy.says(key),
            weeks=weeks,
            source=policy.source(key),
        )


def _sized_on_a_day(entry: EntryView) -> bool:
    return entry.day is not None and measured(entry) and exact(entry, *_SIDES, "assessment.area", _DEPTH)


def _weeks_ago(entry: EntryView, days: int) -> EntryView | None:
    """The newest measurement, taken in the same way, that is certainly so many days earlier."""
    if not _sized_on_a_day(entry):
        return None
    return next(
        (one for one in entry.comparables(_sized_on_a_day) if course.same_way(one, entry) and apart(one, entry, days)),
        None,
    )


def _fallen(old: EntryView, entry: EntryView) -> Decimal | None:
    try:
        return percent_area_reduction(size(old), size(entry))
    except MeasureError:
        return None


def _asked_already(entry: EntryView, policy: Policy) -> bool:
    """Whether the rules for one kind of wound ask the same of this note: CO06 to CO08."""
    pairs = (
        ("pressure injury", course.pressure_injury_no_progress),
        ("venous ulcer", course.venous_ulcer_four_weeks),
        ("diabetic foot", course.foot_ulcer_four_weeks),
    )
    return any(entry.holds(kind) and next(body(entry, policy), None) is not None for kind, body in pairs)


def _judged(entry: EntryView) -> bool:
    return entry.has("plan.healability")


def _to_heal(entry: EntryView) -> bool:
    """Whether the wound is expected to heal: nothing else is written about it since it opened."""
    if entry.holds("malignant wound"):
        return False
    judged = entry if _judged(entry) else entry.in_episode(_judged)
    return judged is None or "not for moist healing" not in judged.tags("plan.healability")


@rule("CO31", "trend-and-size-differ", severity="caution", scope="entry", group="course", about=("worse",))
def trend_and_size_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    trend = entry.word("assessment.healing_trend") or ""
    if trend not in _NOT_WORSE or entry.has("care.debridement"):
        return
    if _grown_beyond(entry, policy.number(_NOT_WORSE[trend]) if _NOT_WORSE[trend] else Decimal(0)):
        yield Problem(entry.path("assessment.healing_trend"), "improving" if trend == "improving" else "stable")
    elif trend == "improving" and _more_dead_tissue(entry, policy.number("course.dead_tissue_points")):
        yield Problem(
            entry.path("assessment.healing_trend"), "dead_tissue", source=policy.source("course.dead_tissue_points")
        )


def _grown_beyond(now: EntryView, percent: Decimal) -> bool:
    """Whether the wound has grown by more than so many per cent since it was last measured, in the same way."""
    last = now.comparable(_sized_on_a_day) if _sized_on_a_day(now) else None
    if last is None or last.has("care.debridement") or not course.same_way(last, now):
        return False
    fallen = _fallen(last, now)
    return fallen is not None and -fallen > percent and _beyond_the_ruler(last, now)


def _more_dead_tissue(now: EntryView, points: Decimal) -> bool:
    """Whether the share of slough and dead tissue rose by so many points since the bed was last charted."""
    last = now.comparable(_bed_on_a_day) if _bed_on_a_day(now) else None
    if last is None or last.has("care.debridement"):
        return False
    one, other = dead_tissue(last), dead_tissue(now)
    return one is not None and other is not None and other - one >= points


def _bed_on_a_day(entry: EntryView) -> bool:
    return entry.day is not None and dead_tissue(entry) is not None


def _beyond_the_ruler(last: EntryView, now: EntryView) -> bool:
    """Whether a side of a wound that grew did so by more than a ruler can err; an area alone has none to err by."""
    pairs = [(last.measure(path, "cm"), now.measure(path, "cm")) for path in _SIDES]
    return any(one is None or other is None or other - one > RULER for one, other in pairs)


@rule("CO09", "wound-larger", severity="caution", scope="entry", group="course", when=("open wound",), about=("worse",))
def wound_larger(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = course.measured_before(entry) if area(entry) is not None else None
    if last is None or not course.same_way(last, entry) or not _grown(last, entry):
        return
    # A course that says otherwise is asked about by CO31.
    if next(trend_and_size_differ(entry, policy), None) is not None:
        return
    # Debridement makes a wound larger; no word about its course explains it.
    if any(one.has("care.debridement") for one in (last, entry)):
        return
    # One cause, one finding: no progress at two or four weeks says more.
    if not _asked_already(entry, policy):
        yield Problem(entry.path("assessment.length"))


def _grown(last: EntryView, now: EntryView) -> bool:
    """Whether length or width grew by more than a ruler can err; for an area alone, whether it grew."""
    grown = False
    for path in _SIDES:
        one, other = last.measure(path, "cm"), now.measure(path, "cm")
        if one is None or other is None:
            return size(now) > size(last)
        grown = grown or other - one > RULER
    return grown and size(now) > size(last)


@rule("CO32", "size-jumped", severity="sense", scope="entry", group="course", when=("open wound",))
def size_jumped(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = entry.comparable(_sized_on_a_day)
    if last is None or note_about(entry, "size"):
        return
    days = gap_days(last, entry)
    times = policy.number("size.jump_times")
    if (
        days is None
        or days > policy.days("full_assessment.days") * 2
        or any(one.has("care.debridement") for one in (last, entry))
    ):
        return
    for path in (*_SIDES, _DEPTH):
        one, other = last.measure(path, "cm"), entry.measure(path, "cm")
        # A small wound may close in days; from three centimetres on, a side that jumps is asked about.
        if one and other and max(one, other) >= times * min(one, other) and max(one, other) >= 30 * RULER:
            yield Problem(entry.path(path), times=times, source=policy.source("size.jump_times"))
            return


@rule("CO33", "same-as-the-last-note", severity="sense", scope="entry", group="course")
def same_as_the_last_note(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = entry.comparable(measured) if measured(entry) else None
    if last is None or last.day == entry.day or last is not entry.previous:
        return
    now, before = _seen(entry), _seen(last)
    if now == before and len(now) >= policy.number("course.copied_facts"):
        yield Problem(entry.path("assessment"), source=policy.source("course.copied_facts"))


def _seen(entry: EntryView) -> dict[str, str]:
    """What was measured, observed and felt at a visit: place -> answer as written."""
    start = len(entry.path()) + 1
    return {
        leaf.path[start:]: str(leaf.value)
        for leaf in entry.leaves()
        if leaf.path[start:].startswith(("assessment.", "care.response."))
        and leaf.path[start:].split(".")[1].split("[")[0] not in _STANDING
    }
