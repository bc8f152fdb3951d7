"""History over several visits: measured in time, the same way, stage never lowered, size that grows."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.views import EntryView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import RULER, acted, area, ask, gap_days, measured, sized, tissues
from woundfhir.checklist.rules.pressure import staged
from woundfhir.measures.change import percent_area_reduction
from woundfhir.record.units import MeasureError

_WAY = ("assessment.measure_method", "assessment.measure_axis")


def _same_way(one: EntryView, other: EntryView) -> bool:
    """Whether two measurements may be compared: neither method nor axes are said to differ."""
    pairs = [(one.word(path), other.word(path)) for path in _WAY]
    return all(first is None or second is None or first == second for first, second in pairs)


def _measured_before(entry: EntryView) -> EntryView | None:
    return entry.latest(measured)


@rule("CO01", "measured-weekly", severity="required", scope="wound", group="course")
def measured_weekly(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    """An open wound was not measured for longer than the policy gives.

    Why: Weekly measurement is what shows, in time, that a wound does not close.
    Wrong: measured on 2 March, then dressing changes until 16 March without a size
    Right: length and width at least every seven days
    Fix: Measure at this visit, or write a reason: length: {absent: not performed}.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, 2007, recommendation 3.1b (seen)
    """
    limit, told = policy.days("full_assessment.days"), False
    # A wound that was never measured is counted from the first note on it.
    last = wound.entries[0] if wound.entries else None
    for entry in wound.entries:
        if sized(entry) or entry.absent("assessment.length"):
            last, told = entry, False
        elif last is not None and not told and entry.holds("open wound", "assessed"):
            days = gap_days(last, entry)
            # A full assessment without a size is the catalogue's own finding.
            if days is not None and days > limit and not entry.holds("full assessment"):
                told = True
                yield Problem(
                    entry.path("assessment.length"),
                    f"Not measured for more than {limit} days",
                    source=policy.source("full_assessment.days"),
                )


@rule("CO02", "stage-lowered", severity="caution", scope="entry", group="course", when=("pressure injury",))
def stage_lowered(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The stage is lower than at an earlier note.

    Why: A stage says how deep tissue was lost; a healing stage 4 fills with scar and stays a healing stage 4.
    Wrong: stage 4 on 2 March, stage 3 on 30 March
    Right: stage 4 on 30 March, with depth and tissue that show the healing
    Fix: Keep the deepest stage and write healing_trend: improving; if the first one was wrong, amend that note. Local
        policy and the licensed practitioner decide.
    Source: NPUAP position on reverse staging 1995, as quoted by Berlowitz 2005; CMS, MDS 3.0 RAI Manual v1.20.1,
        section M (seen)
    """
    now = staged(entry)
    last = entry.latest(staged)
    before = None if last is None else staged(last)
    if before is None:
        known = [int(tag[6:]) for tag in entry.tags("wound.stage") if tag.startswith("stage:")]
        before = known[0] if known else None
    if now is not None and before is not None and now < before:
        yield ask(
            entry.path("assessment.pressure_injury_stage"),
            "The stage is lower than before: a stage does not go back as the wound heals. Which one is right?",
            "Keep the deepest stage and write how it heals; if the first one was wrong, amend that note.",
        )


@rule("CO03", "measured-another-way", severity="caution", scope="entry", group="course")
def measured_another_way(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The wound was measured in another way than last time.

    Why: Length by width is about 40 % above the true area; a change of method looks like healing, or like its opposite.
    Wrong: ruler, head to toe on 2 March; tracing on 9 March
    Right: the same method and axes each time; or both methods once, side by side, with a word in the note
    Fix: Measure again the old way as well, or write that a new trend begins here. Local policy and the licensed
        practitioner decide.
    Source: Rogers LC et al., J Diabetes Sci Technol 2010;4:799; NPUAP, PUSH Tool 3.0, instructions (seen)
    """
    last = _measured_before(entry) if area(entry) is not None else None
    if last is not None and not _same_way(last, entry) and not entry.data.get("note"):
        yield ask(
            entry.path("assessment.measure_method"),
            "Measured in another way than last time: does a new trend begin here?",
            "Measure the old way as well, or write in the note that a new trend begins.",
        )


@rule(
    "CO06",
    "pressure-injury-no-progress",
    severity="caution",
    scope="entry",
    group="course",
    when=("pressure injury", "open wound"),
)
def pressure_injury_no_progress(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A pressure injury shows no sign of healing over two weeks, and no reassessment is written.

    Why: Without progress the injury and the whole person are looked at again: pressure, food, infection, pain.
    Wrong: 4.0 x 3.0 cm on 2 March, 4.0 x 3.1 cm on 16 March, same plan
    Right: the same sizes, and plan: {reassessment: cushion torn, replaced; dietitian asked}
    Fix: Write what was looked at again and what changes. Local policy and the licensed practitioner decide.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M0300: no evidence of progress within 14 days (seen, secondary
        source)
    """
    if _stands_still(entry, policy) and not acted(entry):
        yield ask(
            entry.path("plan.reassessment"),
            f"No progress in {policy.days('pressure_injury.progress_days')} days: were the wound and the whole person "
            "looked at again?",
            "Write what was looked at, and what changes.",
            source=policy.source("pressure_injury.progress_days"),
        )


def _stands_still(entry: EntryView, policy: Policy) -> bool:
    now, days = area(entry), policy.days("pressure_injury.progress_days")
    if now is None or not entry.holds("pressure injury"):
        return False
    old = next(
        (
            one
            for one in entry.backwards()
            if area(one) is not None and (gap_days(one, entry) or 0) >= days and _same_way(one, entry)
        ),
        None,
    )
    return old is not None and now >= (area(old) or 0) and not _better(old, entry)


def _better(old: EntryView, new: EntryView) -> bool:
    """Whether depth, dead tissue or exudate got less."""
    from woundfhir.checklist.rules.helpers import exudate_level

    depths = (old.measure("assessment.depth", "cm"), new.measure("assessment.depth", "cm"))
    levels = (exudate_level(old), exudate_level(new))
    dead = (_dead(old), _dead(new))
    return any(first is not None and second is not None and second < first for first, second in (depths, levels, dead))


def _dead(entry: EntryView) -> Decimal | None:
    found = [share or Decimal(0) for _, tags, share in tissues(entry) if "devitalised" in tags]
    return sum(found, Decimal(0)) if any(True for _ in tissues(entry)) else None


@rule(
    "CO07",
    "venous-ulcer-four-weeks",
    severity="caution",
    scope="entry",
    group="course",
    when=("venous ulcer", "open wound"),
)
def venous_ulcer_four_weeks(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """After four weeks a venous ulcer has not become much smaller, and no re-evaluation is written.

    Why: The change in four weeks tells best whether the ulcer will close under this plan.
    Wrong: 20 cm2 on 2 March, 18 cm2 on 30 March, same plan
    Right: the same, and plan: {reassessment: compression too low, changed; vascular clinic asked}
    Fix: Write what was re-evaluated and what changes. Local policy and the licensed practitioner decide.
    Source: Kantor J and Margolis DJ, Br J Dermatol 2000;142:960; Gelfand JM, Hoffstad O and Margolis DJ, J Invest
        Dermatol 2002;119:1420; RNAO, Assessment and Management of Venous Leg Ulcers, reassessment (seen)
    """
    yield from _four_weeks(entry, policy, "course.venous_percent")


@rule(
    "CO08",
    "foot-ulcer-four-weeks",
    severity="caution",
    scope="entry",
    group="course",
    when=("diabetic foot", "open wound"),
)
def foot_ulcer_four_weeks(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """After four weeks a diabetic foot ulcer has not halved, and no re-evaluation is written.

    Why: Few of the ulcers that have not halved by then close within twelve weeks.
    Wrong: 4 cm2 on 2 March, 3 cm2 on 30 March, same plan
    Right: the same, and plan: {reassessment: shoe not worn indoors, contact cast asked for}
    Fix: Write what was re-evaluated and what changes. Local policy and the licensed practitioner decide.
    Source: Sheehan P et al., Diabetes Care 2003;26:1879 (midpoint 53 %); that 50 % is the cut is from memory (seen)
    """
    yield from _four_weeks(entry, policy, "course.diabetic_foot_percent")


def _four_weeks(entry: EntryView, policy: Policy, key: str) -> Iterator[Problem]:
    fallen = _fallen(entry, policy)
    weeks = policy.number("course.weeks")
    if fallen is not None and fallen < policy.number(key) and not acted(entry):
        yield ask(
            entry.path("plan.reassessment"),
            f"Less than {policy.says(key)} smaller after {weeks} weeks: was the whole plan looked at again?",
            "Write what was looked at, and what changes.",
            source=policy.source(key),
        )


def _measured_on_a_day(entry: EntryView) -> bool:
    return entry.day is not None and measured(entry)


def _fallen(entry: EntryView, policy: Policy) -> Decimal | None:
    """Return by how much the area fell, in per cent, at the first measurement four weeks after the first; else None."""
    due, now = int(policy.number("course.weeks") * 7), area(entry)
    first = next((one for one in entry.wound.entries[: entry.nth] if _measured_on_a_day(one)), None)
    if now is None or first is None or not _same_way(first, entry):
        return None
    last = entry.latest(_measured_on_a_day)
    if (gap_days(first, entry) or 0) < due or last is None or (gap_days(first, last) or 0) >= due:
        return None
    try:
        return percent_area_reduction(area(first) or Decimal(0), now)
    except MeasureError:
        return None


@rule("CO09", "wound-larger", severity="caution", scope="entry", group="course", when=("open wound",))
def wound_larger(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The wound is larger than at the last measurement, and no word on it.

    Why: Larger can be infection, pressure, or a bed that was cleaned of slough. It is looked at, and said.
    Wrong: 4.0 x 3.0 cm on 2 March, 5.0 x 3.5 cm on 9 March, nothing written
    Right: the same, and healing_trend: deteriorating with plan: {reassessment: ...}; or the debridement
    Fix: Write healing_trend, or under reassessment why it is larger. Local policy and the licensed practitioner decide.
    Source: Woo KY and Sibbald RG, Ostomy Wound Manage 2009;55(8):40-48 (size); WOCN Society annual meeting 2013,
        abstract 7772 (larger at first under honey) (seen)
    """
    last = _measured_before(entry) if area(entry) is not None else None
    if last is None or not _same_way(last, entry) or not _grown(last, entry) or acted(entry):
        return
    said = entry.has("assessment.healing_trend") or any(one.has("care.debridement") for one in (last, entry))
    if said or "deep:Si" in entry.tags("assessment.infection_signs") or entry.data.get("note"):
        return
    # One cause, one finding: no progress at two or four weeks says more.
    if not _stands_still(entry, policy) and not _late(entry, policy):
        yield ask(
            entry.path("assessment.length"),
            "Larger than at the last measurement: was it looked at, and why is it so?",
            "Write healing_trend, or the reason under reassessment; cleaning the bed can make a wound larger at first.",
        )


def _late(entry: EntryView, policy: Policy) -> bool:
    fallen = _fallen(entry, policy)
    if fallen is None:
        return False
    return (entry.holds("venous ulcer") and fallen < policy.number("course.venous_percent")) or (
        entry.holds("diabetic foot") and fallen < policy.number("course.diabetic_foot_percent")
    )


def _grown(last: EntryView, now: EntryView) -> bool:
    """Whether length or width grew by more than a ruler can err; for an area alone, whether it grew."""
    grown = False
    for key in ("assessment.length", "assessment.width"):
        one, other = last.measure(key, "cm"), now.measure(key, "cm")
        if one is None or other is None:
            return (area(now) or 0) > (area(last) or 0)
        grown = grown or other - one > RULER
    return grown and (area(now) or 0) > (area(last) or 0)


@rule("CO13", "stage-2-open-long", severity="caution", scope="wound", group="course", when=("pressure injury",))
def stage_2_open_long(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    """A stage 2 pressure injury is open for longer than most take to close.

    Why: Most shallow injuries close within about two months; one that does not may be deeper, or no pressure injury.
    Wrong: stage 2 since December, still stage 2 in March, same plan
    Right: the same, and plan: {reassessment: moisture damage as well, plan changed}
    Fix: Write what was looked at again and what changes. Local policy and the licensed practitioner decide.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M0300B: most close within a reasonable time, such as 60 days
        (seen, secondary source)
    """
    newest = wound.newest
    first = next((one for one in wound.entries if staged(one) == 2), None)
    if newest is None or first is None or staged(newest) != 2 or not newest.holds("open wound") or acted(newest):
        return
    days, limit = gap_days(first, newest), policy.days("pressure_injury.stage_2_days")
    if days is not None and days > limit and not _stands_still(newest, policy):
        yield ask(
            newest.path("plan.reassessment"),
            f"Stage 2 and open for more than {limit} days: was it looked at again?",
            "Write what was looked at, and what changes.",
            source=policy.source("pressure_injury.stage_2_days"),
        )
