"""Lower limb: blood flow known, dated and in range before compression; red flags; arithmetic of the index."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.blood_flow import blood_flow
from woundfhir.checklist.rules.helpers import acted, ankle_index, compressed, diabetic, gaps, index_of, toe_index
from woundfhir.checklist.rules.signs import sign_count, systemic_signs
from woundfhir.measures.timing import days_between

_FLAGS_OF_INFECTION = frozenset(("acute infection", "suspected sepsis"))
_HUNDREDTH = Decimal("0.01")


@rule("LL01", "limb-pressure-details", severity="required", scope="entry", group="lower limb")
def limb_pressure_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("assessment.limb_pressure"):
        missing = gaps(item, "side", "date")
        values = ("index", "toe_pressure", "toe_index", "waveform")
        if not any(item.written(name) for name in values) and index_of(item) is None:
            missing.append("value")
        if missing:
            yield Problem(item.path(), missing=missing)


@rule("LL02", "compression-without-limb-pressure", severity="caution", scope="entry", group="lower limb")
def compression_without_limb_pressure(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    if on is None or entry.has("plan.compression_plan") or acted(entry):
        return
    flow = blood_flow(entry)
    if not flow.known:
        yield Problem(on.path(), "unknown")
    elif not flow.dated and not entry.items("assessment.limb_pressure"):
        # In the note that holds it, LL01 asks for the date.
        yield Problem(on.path(), "undated")


@rule("LL03", "limb-pressure-out-of-range", severity="caution", scope="entry", group="lower limb")
def limb_pressure_out_of_range(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    found = blood_flow(entry).ankle
    if found is None or (compressed(entry) is None and not entry.items("assessment.limb_pressure")) or _decided(entry):
        return
    item, index = found
    low, high = policy.number("limb_pressure.low"), policy.number("limb_pressure.high")
    severe = compressed(entry) is not None and index < policy.number("limb_pressure.severe")
    if low <= index <= high or severe:
        return
    key = "limb_pressure.low" if index < low else "limb_pressure.high"
    side = "below" if index < low else "above"
    message = side if compressed(entry) is None else f"{side}_compressed"
    yield Problem(_place(entry, item), message, limit=policy.number(key), source=policy.source(key))


@rule("LL04", "compression-with-severe-index", severity="caution", scope="entry", group="lower limb")
def compression_with_severe_index(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    found, on = blood_flow(entry).ankle, compressed(entry)
    if (
        on is not None
        and found is not None
        and found[1] < policy.number("limb_pressure.severe")
        and not _decided(entry)
    ):
        limit = policy.number("limb_pressure.severe")
        yield Problem(on.path(), limit=limit, source=policy.source("limb_pressure.severe"))


def _decided(entry: EntryView) -> bool:
    """Whether this note, or an earlier one with the same index, has a decision on it."""
    if _decision(entry) or entry.items("assessment.limb_pressure"):
        return _decision(entry)
    last = entry.latest(_decision_or_index)
    return last is not None and _decision(last)


def _decision(entry: EntryView) -> bool:
    return any(entry.has(path) for path in ("plan.referral", "plan.compression_plan", "plan.escalation"))


def _decision_or_index(entry: EntryView) -> bool:
    return _decision(entry) or bool(entry.items("assessment.limb_pressure"))


def _place(entry: EntryView, item: Item) -> str:
    """Where to show it: the measurement where this note holds it, else the compression."""
    here = entry.path("assessment.limb_pressure")
    return item.path() if item.path().startswith(here) else entry.path("care.compression")


@rule(
    "LL05",
    "toe-pressure-wanted",
    severity="recommended",
    scope="entry",
    group="lower limb",
    when=("lower limb ulcer", "full assessment"),
)
def toe_pressure_wanted(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    flow = blood_flow(entry)
    found = flow.ankle
    if found is None or entry.has("plan.referral"):
        return
    stiff = found[1] > policy.number("limb_pressure.stiff")
    # Above the range of the policy LL03 asks already.
    if (diabetic(entry) or stiff) and not flow.others and found[1] <= policy.number("limb_pressure.high"):
        yield Problem(entry.path("assessment.limb_pressure"), source=policy.source("limb_pressure.stiff"))


@rule("LL06", "limb-pressure-old", severity="recommended", scope="entry", group="lower limb")
def limb_pressure_old(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    if on is None or entry.day is None or entry.has("plan.referral"):
        return
    taken = blood_flow(entry).taken
    passed = None if taken is None else days_between(taken, entry.day.isoformat())
    healed = entry.word("assessment.healing_trend") == "resolved"
    key = "limb_pressure.resolving_days" if healed else "limb_pressure.days"
    if passed is not None and passed.least > policy.days(key):
        yield Problem(on.path(), limit=policy.days(key), source=policy.source(key))


@rule("LL07", "red-flag-of-the-limb", severity="caution", scope="entry", group="lower limb")
def red_flag_of_the_limb(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    flags = [word for word in entry.words("assessment.red_flags") if word != "none"]
    if not flags or not entry.has("assessment.red_flags"):
        return
    on = compressed(entry) is not None and not entry.has("plan.compression_plan")
    # Signs of deep infection without a call are asked for by FU06.
    same = set(flags) <= _FLAGS_OF_INFECTION and bool(
        systemic_signs(entry, policy) or sign_count(entry, policy).deep >= policy.number("infection.signs")
    )
    if on:
        yield Problem(entry.path("assessment.red_flags"), "compressed")
    elif not acted(entry) and not same:
        yield Problem(entry.path("assessment.red_flags"), "not_called")


@rule("LL14", "index-and-pressures-differ", severity="sense", scope="entry", group="lower limb")
def index_and_pressures_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("assessment.limb_pressure"):
        for key, counted in (("index", ankle_index(item)), ("toe_index", toe_index(item))):
            written = item.number(key)
            if written is not None and counted is not None and abs(written - counted) >= 2 * _HUNDREDTH:
                yield Problem(item.path(key))


@rule(
    "LL13",
    "limb-assessed-in-time",
    severity="recommended",
    scope="wound",
    group="lower limb",
    when=("lower limb ulcer",),
)
def limb_assessed_in_time(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    limit = policy.days("limb_pressure.assessment_days")
    first = wound.entries[0] if wound.entries else None
    if not limit or first is None or first.day is None or wound.record.today is None:
        return
    full = [one for one in wound.entries if one.holds("full assessment") and one.day is not None]
    by = min((one.day for one in full if one.day is not None), default=wound.record.today)
    if (by - first.day).days > limit:
        yield Problem(wound.path(), limit=limit, source=policy.source("limb_pressure.assessment_days"))
