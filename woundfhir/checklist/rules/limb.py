"""Lower limb: blood flow known, dated and in range before compression; red flags; arithmetic of the index."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView, VisitView, WoundView
from woundfhir.chart.words import entry_of
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.blood_flow import MEASURED, blood_flow
from woundfhir.checklist.rules.helpers import ankle_index, compressed, diabetic, gaps, toe_index
from woundfhir.checklist.rules.signs import deep_infection
from woundfhir.measures.timing import days_between
from woundfhir.record.positions import positions
from woundfhir.record.shapes import shape_of

_FLAGS_OF_INFECTION = frozenset(("acute infection", "suspected sepsis"))
_HUNDREDTH = Decimal("0.01")


@rule("LL01", "limb-pressure-details", severity="required", scope="entry", group="lower limb")
def limb_pressure_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("assessment.limb_pressure"):
        missing = gaps(item, "side", "date")
        if not any(item.written(name) for name in MEASURED):
            missing.append("value")
        if missing:
            yield Problem(item.path(), missing=missing)


@rule(
    "LL02",
    "compression-without-limb-pressure",
    severity="caution",
    scope="entry",
    group="lower limb",
    about=("circulation",),
)
def compression_without_limb_pressure(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    if on is None:
        return
    flow = blood_flow(entry)
    if not flow.known:
        yield Problem(on.path(), "unknown")
    elif not flow.dated and not entry.items("assessment.limb_pressure"):
        # In the note that holds it, LL01 asks for the date.
        yield Problem(on.path(), "undated")


@rule(
    "LL03", "limb-pressure-out-of-range", severity="caution", scope="entry", group="lower limb", about=("circulation",)
)
def limb_pressure_out_of_range(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    found = blood_flow(entry).ankle
    if found is None or (compressed(entry) is None and not entry.items("assessment.limb_pressure")):
        return
    item, index = found
    low, high = policy.number("limb_pressure.low"), policy.number("limb_pressure.high")
    severe = compressed(entry) is not None and index.below(policy.number("limb_pressure.severe"))
    if severe or not index.outside(low, high):
        return
    key = "limb_pressure.low" if index.below(low) else "limb_pressure.high"
    side = "below" if index.below(low) else "above"
    message = side if compressed(entry) is None else f"{side}_compressed"
    yield Problem(
        _place(entry, item),
        message,
        limit=policy.number(key),
        source=policy.source(key),
        since=_measured_at(entry, item),
    )


@rule(
    "LL04",
    "compression-with-severe-index",
    severity="caution",
    scope="entry",
    group="lower limb",
    about=("circulation",),
)
def compression_with_severe_index(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    flow, on = blood_flow(entry), compressed(entry)
    if on is None:
        return
    limit = policy.number("limb_pressure.severe")
    if flow.ankle is not None and flow.ankle[1].below(limit):
        since = _put_on(entry, flow.ankle[0])
        yield Problem(on.path(), "index", limit=limit, source=policy.source("limb_pressure.severe"), since=since)
    elif flow.oxygen is not None and flow.oxygen[1].below(policy.number("limb_pressure.oxygen_severe")):
        key, since = "limb_pressure.oxygen_severe", _put_on(entry, flow.oxygen[0])
        yield Problem(on.path(), "oxygen", limit=policy.number(key), source=policy.source(key), since=since)


@rule("LL15", "toe-pressure-low", severity="caution", scope="entry", group="lower limb", about=("circulation",))
def toe_pressure_low(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    flow = blood_flow(entry)
    if compressed(entry) is None and not entry.items("assessment.limb_pressure"):
        return
    # A low ankle index asks for the same (LL03, LL04).
    if flow.ankle is not None and flow.ankle[1].below(policy.number("limb_pressure.low")):
        return
    # A very low toe pressure is asked about by LL32 and LL33.
    if flow.toe is not None and flow.toe[1].below(policy.number("limb_pressure.toe_severe")):
        return
    pressure, index = "limb_pressure.toe_pressure", "limb_pressure.toe_index"
    if flow.toe is not None and flow.toe[1].below(policy.number(pressure)):
        since, limit = _measured_at(entry, flow.toe[0]), policy.number(pressure)
        yield Problem(_place(entry, flow.toe[0]), "pressure", limit=limit, source=policy.source(pressure), since=since)
    elif flow.toe_index is not None and flow.toe_index[1].below(policy.number(index)):
        since, limit = _measured_at(entry, flow.toe_index[0]), policy.number(index)
        yield Problem(_place(entry, flow.toe_index[0]), "index", limit=limit, source=policy.source(index), since=since)


def _put_on(entry: EntryView, item: Item) -> VisitView:
    """The first visit since a limb pressure was measured at which compression was put on."""
    rank = _measured_at(entry, item).rank
    since = (one.visit for one in entry.wound.entries[: entry.nth] if one.visit.rank >= rank and compressed(one))
    return next(since, entry.visit)


def _measured_at(entry: EntryView, item: Item) -> VisitView:
    """The visit whose note holds a limb pressure: what was decided on it since then still holds."""
    visit = positions(item.path()).visit
    return entry.visit if visit is None else entry.record.visits[visit]


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
    about=("circulation",),
)
def toe_pressure_wanted(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    flow = blood_flow(entry)
    found = flow.ankle
    if found is None:
        return
    stiff = found[1].above(policy.number("limb_pressure.stiff"))
    # Above the range of the policy LL03 asks already.
    if (diabetic(entry) or stiff) and not flow.others and not found[1].above(policy.number("limb_pressure.high")):
        yield Problem(entry.path("assessment.limb_pressure"), source=policy.source("limb_pressure.stiff"))


@rule("LL06", "limb-pressure-old", severity="recommended", scope="entry", group="lower limb", about=("circulation",))
def limb_pressure_old(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    if on is None or entry.day is None:
        return
    taken = blood_flow(entry).taken
    passed = None if taken is None else days_between(taken, entry.day.isoformat())
    healed = entry.word("assessment.healing_trend") == "resolved"
    key = "limb_pressure.resolving_days" if healed else "limb_pressure.days"
    if passed is not None and passed.least > policy.days(key):
        yield Problem(on.path(), limit=policy.days(key), source=policy.source(key))


@rule(
    "LL07",
    "red-flag-of-the-limb",
    severity="caution",
    scope="entry",
    group="lower limb",
    about=("circulation", "infection", "sepsis", "cancer"),
)
def red_flag_of_the_limb(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    flags = [word for word in entry.words("assessment.red_flags") if word != "none"]
    if not flags or not entry.has("assessment.red_flags"):
        return
    matters = _flag_matters(entry)
    # Signs of deep infection are asked about by FU06.
    same = set(flags) <= _FLAGS_OF_INFECTION and bool(deep_infection(entry, policy))
    if compressed(entry) is not None:
        about = tuple(sorted({*matters, "circulation"}))
        yield Problem(entry.path("assessment.red_flags"), "compressed", about=about)
    elif not same:
        yield Problem(entry.path("assessment.red_flags"), "not_called", about=tuple(sorted(matters)))


def _flag_matters(entry: EntryView) -> set[str]:
    """The matters of the red flags: the hazard that each names, and that of the list for a word it does not know."""
    concept, value = entry.find("assessment.red_flags")
    found = set[str]()
    for _, text in shape_of(concept).named(concept, value):
        known = entry_of(concept, text)
        named = {tag.removeprefix("hazard:") for tag in known.tags if tag.startswith("hazard:")} if known else set()
        if known is None and concept.answers is not None:
            named = {concept.answers.other}
        found |= named
    return found


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
