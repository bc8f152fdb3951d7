"""Lower limb: blood flow known, dated and in range before compression; red flags; arithmetic of the index."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import (
    acted,
    ankle_index,
    ask,
    compressed,
    diabetic,
    gaps,
    index_of,
    limb_pressures,
    listed,
    newest_index,
    toe_index,
)
from woundfhir.checklist.rules.signs import sign_count, systemic_signs
from woundfhir.measures.timing import days_since_last

_FLAGS_OF_INFECTION = frozenset(("acute infection", "suspected sepsis"))
_HUNDREDTH = Decimal("0.01")


@rule("LL01", "limb-pressure-details", severity="required", scope="entry", group="lower limb")
def limb_pressure_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A limb pressure stands without side, value or date.

    Why: An index is only good for the leg it was taken on, and only for a time.
    Wrong: limb_pressure: [{index: 0.98}]
    Right: limb_pressure: [{side: left, index: 0.98, date: 2026-02-27}]
    Fix: Write side, index (or toe pressure, or waveform) and the day on which it was measured.
    Source: Health Quality Ontario, Quality Standard: Venous Leg Ulcers, 2017, statement 1 (seen)
    """
    for item in entry.items("assessment.limb_pressure"):
        missing = gaps(item, {"side": "side", "date": "date"})
        values = ("index", "toe_pressure", "toe_index", "waveform")
        if not any(item.written(name) for name in values) and index_of(item) is None:
            missing.append("value")
        if missing:
            yield Problem(item.path(), f"Limb pressure: {listed(missing)} not written")


@rule("LL02", "compression-without-limb-pressure", severity="caution", scope="entry", group="lower limb")
def compression_without_limb_pressure(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Compression is on, and the record holds no dated limb pressure of this leg.

    Why: Compression on a leg with poor blood flow can cost the leg. Flow is measured first, by somebody trained.
    Wrong: compression: {system: short stretch bandage}, no limb_pressure of this leg in any note
    Right: limb_pressure: [{side: left, index: 0.98, date: 2026-02-27, by: vascular clinic}]
    Fix: Write index, side and date, or who decided without it. Local policy and the licensed practitioner decide.
    Source: RNAO, Assessment and Management of Venous Leg Ulcers, diagnostic evaluation: ankle pressure index before
        compression; Health Quality Ontario, Quality Standard: Venous Leg Ulcers, 2017 (seen)
    """
    on = compressed(entry)
    if on is None or entry.has("plan.compression_plan") or acted(entry):
        return
    known = list(limb_pressures(entry))
    if not known:
        yield ask(
            on.path(),
            "Compression is on: was blood flow measured first? The record holds no limb pressure of this leg",
            "Write index, side and date, or who decided and when.",
        )
    elif not any(item.written("date") for item in known) and not entry.items("assessment.limb_pressure"):
        # In the note that holds it, LL01 asks for the date.
        yield ask(
            on.path(),
            "Compression is on: when was the limb pressure measured? No date in the record",
            "Write the date of the measurement.",
        )


@rule("LL03", "limb-pressure-out-of-range", severity="caution", scope="entry", group="lower limb")
def limb_pressure_out_of_range(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The newest limb pressure lies outside the range of the policy, and no referral is written.

    Why: Below the range blood flow may be too poor for compression; above it the artery may be stiff and the number
        false.
    Wrong: limb_pressure: [{side: left, index: 0.72, date: 2026-02-27}], nothing in the plan
    Right: the same, and plan: {referral: vascular clinic, 2 March}
    Fix: Write who was asked and what is decided about compression, under referral or compression_plan. Local policy
        and the licensed practitioner decide.
    Source: RNAO, Assessment and Management of Venous Leg Ulcers, diagnostic evaluation; other guidelines set other
        limits, hence the policy (seen)
    """
    found = newest_index(entry)
    if found is None or (compressed(entry) is None and not entry.items("assessment.limb_pressure")) or _decided(entry):
        return
    item, index = found
    low, high = policy.number("limb_pressure.low"), policy.number("limb_pressure.high")
    severe = compressed(entry) is not None and index < policy.number("limb_pressure.severe")
    if low <= index <= high or severe:
        return
    key = "limb_pressure.low" if index < low else "limb_pressure.high"
    where = "below" if index < low else "above"
    under = " and compression is on" if compressed(entry) is not None else ""
    yield ask(
        _place(entry, item),
        f"Limb pressure index {where} {policy.number(key)}{under}: who was asked?",
        "Write the referral, and what is decided about compression.",
        source=policy.source(key),
    )


@rule("LL04", "compression-with-severe-index", severity="caution", scope="entry", group="lower limb")
def compression_with_severe_index(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Compression is on a leg whose newest index tells of severe arterial disease.

    Why: At such an index compression is held back until a specialist has seen the leg, and the referral is urgent.
    Wrong: limb_pressure: [{side: left, index: 0.42, date: 2026-02-27}], compression: {system: short stretch bandage}
    Right: no compression; or plan: {compression_plan: vascular surgeon on 1 March, light wrap, daily look at the toes}
    Fix: Write who decided on this compression, and when the leg is seen. Local policy and the licensed practitioner
        decide.
    Source: NICE Clinical Knowledge Summary, Leg ulcer - venous, 2021, as quoted by teaching pages (seen, secondary
        source)
    """
    found, on = newest_index(entry), compressed(entry)
    if (
        on is not None
        and found is not None
        and found[1] < policy.number("limb_pressure.severe")
        and not _decided(entry)
    ):
        limit = policy.number("limb_pressure.severe")
        yield ask(
            on.path(),
            f"Compression is on a leg with an index below {limit}: who decided on it, and who sees the leg?",
            "Write who decided, when, and when the leg is seen next.",
            source=policy.source("limb_pressure.severe"),
        )


def _decided(entry: EntryView) -> bool:
    """Whether this note, or an earlier one that saw the same index, says what was decided."""
    if _says_who(entry) or entry.items("assessment.limb_pressure"):
        return _says_who(entry)
    last = entry.latest(_says_who_or_index)
    return last is not None and _says_who(last)


def _says_who(entry: EntryView) -> bool:
    return any(entry.has(path) for path in ("plan.referral", "plan.compression_plan", "plan.escalation"))


def _says_who_or_index(entry: EntryView) -> bool:
    return _says_who(entry) or bool(entry.items("assessment.limb_pressure"))


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
    """Diabetes, or a stiff artery, and neither toe pressure nor waveform is known.

    Why: In diabetes the ankle arteries can be too stiff to press shut: the index looks good and is not.
    Wrong: conditions: [diabetes mellitus], limb_pressure: [{side: left, index: 1.35, date: 2026-02-27}]
    Right: limb_pressure: [{side: left, index: 1.35, toe_pressure: 62 mmHg, waveform: multiphasic, date: 2026-02-27}]
    Fix: Write toe pressure, toe index or waveform with its date, or that it was asked for under referral.
    Source: HEIW Wales, ankle brachial pressure index; Sibbald RG et al., Wound Bed Preparation 2021, Adv Skin Wound
        Care 34:183-195 (seen)
    """
    found = newest_index(entry)
    if found is None or entry.has("plan.referral"):
        return
    stiff = found[1] > policy.number("limb_pressure.stiff")
    known = any(
        item.written(name) for item in limb_pressures(entry) for name in ("toe_pressure", "toe_index", "waveform")
    )
    # Above the range of the policy LL03 asks already.
    if (diabetic(entry) or stiff) and not known and found[1] <= policy.number("limb_pressure.high"):
        yield Problem(
            entry.path("assessment.limb_pressure"),
            "Diabetes, and no toe pressure or waveform beside the index",
            source=policy.source("limb_pressure.stiff"),
        )


@rule("LL06", "limb-pressure-old", severity="recommended", scope="entry", group="lower limb")
def limb_pressure_old(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Compression goes on, and the newest limb pressure of the leg is old.

    Why: Arteries get worse with time; flow is measured again at least once a year.
    Wrong: compression in March 2026, limb_pressure of January 2025
    Right: limb_pressure: [{side: left, index: 0.95, date: 2026-01-14}]
    Fix: Have it measured and write it with its date, or write the referral.
    Source: Health Quality Ontario, Quality Standard: Venous Leg Ulcers, 2017, statement 1: at least every 12 months;
        RNAO, Assessment and Management of Venous Leg Ulcers, reassessment: every six months once healed (seen)
    """
    on = compressed(entry)
    if on is None or entry.day is None or entry.has("plan.referral"):
        return
    taken = [day for item in limb_pressures(entry) if isinstance(day := item.answer("date"), str)]
    passed = days_since_last(taken, entry.day.isoformat())
    healed = entry.word("assessment.healing_trend") == "resolved"
    key = "limb_pressure.resolving_days" if healed else "limb_pressure.days"
    if passed is not None and passed.least > policy.days(key):
        found = f"Compression, and the limb pressure is older than {policy.days(key)} days"
        yield Problem(on.path(), found, source=policy.source(key))


@rule("LL07", "red-flag-of-the-limb", severity="caution", scope="entry", group="lower limb")
def red_flag_of_the_limb(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A red flag of the limb is written, and no call; or compression is on beside it.

    Why: Spreading infection, poor blood flow, a clot or a cancer cannot wait, and compression can make them worse.
    Wrong: red_flags: [suspected deep vein thrombosis], compression: {system: short stretch bandage}
    Right: the same flag, compression: none, and plan: {escalation: physician called at 10:30}
    Fix: Write who was called, at what time, and what is decided about compression. Local policy and the licensed
        practitioner decide.
    Source: NHS National Wound Care Strategy Programme, lower limb recommendations (seen, secondary source)
    """
    flags = [word for word in entry.words("assessment.red_flags") if word != "none"]
    if not flags or not entry.has("assessment.red_flags"):
        return
    on = compressed(entry) is not None and not entry.has("plan.compression_plan")
    # Signs of deep infection without a call are asked for by FU06.
    same = set(flags) <= _FLAGS_OF_INFECTION and bool(
        systemic_signs(entry, policy) or sign_count(entry, policy).deep >= policy.number("infection.signs")
    )
    if on:
        yield ask(
            entry.path("assessment.red_flags"),
            "A red flag of the limb, and compression is on: who was called?",
            "Write who was called, at what time, and what is decided about compression.",
        )
    elif not acted(entry) and not same:
        yield ask(
            entry.path("assessment.red_flags"),
            "A red flag of the limb: who was called today?",
            "Write who was called, at what time, and what was agreed.",
        )


@rule("LL14", "index-and-pressures-differ", severity="sense", scope="entry", group="lower limb")
def index_and_pressures_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The index written is not the one that the pressures beside it give.

    Why: One wrong digit decides about compression.
    Wrong: {index: 0.98, dorsalis_pedis: 104 mmHg, posterior_tibial: 98 mmHg, brachial_left: 130 mmHg}
    Right: {index: 0.80, dorsalis_pedis: 104 mmHg, posterior_tibial: 98 mmHg, brachial_left: 130 mmHg}
    Fix: Work it out again: the higher ankle pressure of that leg, or its toe pressure, divided by the higher arm
        pressure.
    Source: HEIW Wales, ankle brachial pressure index: higher ankle over higher arm (seen)
    """
    for item in entry.items("assessment.limb_pressure"):
        for key, counted in (("index", ankle_index(item)), ("toe_index", toe_index(item))):
            written = item.number(key)
            if written is not None and counted is not None and abs(written - counted) >= 2 * _HUNDREDTH:
                yield Problem(item.path(key), "The limb pressure index is not the one that its pressures give")


@rule(
    "LL13",
    "limb-assessed-in-time",
    severity="recommended",
    scope="wound",
    group="lower limb",
    when=("lower limb ulcer",),
)
def limb_assessed_in_time(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    """The leg was not fully assessed within the days that the policy gives.

    Why: A leg ulcer whose cause is not found is dressed for months and does not close.
    Wrong: first note 2 March, full assessment 30 March, with a policy of 14 days
    Right: full assessment within the time
    Fix: Do the full assessment of the leg, and write why it was late.
    Source: NHS National Wound Care Strategy Programme, lower limb recommendations: 14 days; Ontario's standard sets no
        number in the text seen (seen, secondary source)
    """
    limit = policy.days("limb_pressure.assessment_days")
    first = wound.entries[0] if wound.entries else None
    if not limit or first is None or first.day is None or wound.record.today is None:
        return
    full = [one for one in wound.entries if one.holds("full assessment") and one.day is not None]
    by = min((one.day for one in full if one.day is not None), default=wound.record.today)
    if (by - first.day).days > limit:
        yield Problem(
            wound.path(),
            f"No full assessment of the leg within {limit} days of the first note",
            source=policy.source("limb_pressure.assessment_days"),
        )
