"""Safety of the limb: compression left off a venous ulcer, or put on a limb that may not bear it."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.blood_flow import ANKLE, blood_flow
from woundfhir.checklist.rules.bounds import above, below
from woundfhir.checklist.rules.helpers import compressed, first_with, has_illness, opened

_ANKLE, _TOE = "limb_pressure.ankle_severe", "limb_pressure.toe_severe"
_MMHG = "mm[Hg]"
#: Signs of the limb that speak for a poor blood supply where two of them come together.
_COLD = frozenset(
    ("cool to touch", "pale when raised", "red when hanging", "slow capillary refill", "calf pain on walking")
)


@rule(
    "LL30",
    "venous-ulcer-without-compression",
    severity="caution",
    scope="entry",
    group="lower limb",
    when=("venous ulcer", "open wound", "dressing change"),
    about=("circulation",),
)
def venous_ulcer_without_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    off = entry.none("care.compression") or any(item.none("system") for item in entry.items("care.compression"))
    if off and not entry.has("plan.refusal") and not _reason_to_wait(entry, policy):
        yield Problem(entry.path("care.compression"))


def _reason_to_wait(entry: EntryView, policy: Policy) -> bool:
    """Whether the note itself shows why none is on: flow out of range or not found, or a red flag."""
    found = blood_flow(entry).ankle
    low, high = policy.number("limb_pressure.low"), policy.number("limb_pressure.high")
    if found is not None and not (found[1].at_least(low) and found[1].at_most(high)):
        return True
    if entry.has("assessment.red_flags") or "hazard:circulation" in entry.tags("assessment.pulses"):
        return True
    return entry.holds("arterial ulcer") or bool(severe_pressures(entry, policy))


@rule(
    "LL31",
    "compression-on-an-arterial-ulcer",
    severity="caution",
    scope="entry",
    group="lower limb",
    when=("arterial ulcer",),
    about=("circulation",),
)
def compression_on_an_arterial_ulcer(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    # A mixed ulcer may be compressed by its index, which LL02 to LL04 ask about.
    if on is not None and not entry.holds("venous ulcer"):
        yield Problem(on.path(), since=first_with(entry, compressed))


@rule(
    "LL32",
    "compression-on-a-limb-at-risk",
    severity="caution",
    scope="entry",
    group="lower limb",
    about=("circulation",),
)
def compression_on_a_limb_at_risk(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on, pressures = compressed(entry), severe_pressures(entry, policy)
    if on is None:
        return
    what = list(pressures)
    if "hazard:circulation" in entry.tags("assessment.pulses") and "rest pain" in entry.words("assessment.limb_signs"):
        what.append("pulses")
    if entry.word("assessment.sensation") == "lost":
        what.append("sensation")
    if has_illness(entry, "bypass"):
        what.append("bypass")
    if what:
        yield Problem(
            on.path(),
            since=first_with(entry, compressed),
            what=what,
            source=policy.source(pressures.get(what[0], _TOE)),
        )


@rule("LL33", "limb-pressure-very-low", severity="caution", scope="entry", group="lower limb", about=("circulation",))
def limb_pressure_very_low(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    # Under compression LL32 asks.
    if compressed(entry) is not None:
        return
    for item in entry.items("assessment.limb_pressure"):
        if found := _low(item, policy):
            key = next(iter(found.values()))
            yield Problem(item.path(), what=list(found), limit=policy.number(key), source=policy.source(key))


@rule("LL34", "signs-of-poor-flow", severity="caution", scope="entry", group="lower limb", about=("circulation",))
def signs_of_poor_flow(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    signs = set(entry.words("assessment.limb_signs"))
    if "rest pain" in signs or len(signs & _COLD) >= 2:
        yield Problem(entry.path("assessment.limb_signs"), since=opened(entry))


@rule("SE48", "ankle-wider-than-calf", severity="sense", scope="entry", group="sense")
def ankle_wider_than_calf(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.compression"):
        ankle, calf = item.measure("ankle_circumference", "cm"), item.measure("calf_circumference", "cm")
        if ankle is not None and calf is not None and ankle > calf and not item.note:
            yield Problem(item.path("ankle_circumference"))


@rule("SE50", "compression-beyond-its-range", severity="sense", scope="entry", group="sense")
def compression_beyond_its_range(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    limit = policy.number("compression.most")
    for item in entry.items("care.compression"):
        if above(item, "target_pressure", _MMHG, limit):
            yield Problem(item.path("target_pressure"), limit=limit, source=policy.source("compression.most"))


def severe_pressures(entry: EntryView, policy: Policy) -> dict[str, str]:
    """The pressures of the limb that are certainly very low, each with its number of the policy; the newest of each."""
    flow, found = blood_flow(entry), dict[str, str]()
    if flow.ankle_pressure is not None:
        found |= {what: key for what, key in _low(flow.ankle_pressure, policy).items() if what == "ankle"}
    if flow.toe_pressure is not None:
        found |= {what: key for what, key in _low(flow.toe_pressure, policy).items() if what == "toe"}
    return found


def _low(item: Item, policy: Policy) -> dict[str, str]:
    found = {}
    ankles = [key for key in ANKLE if item.has(key)]
    if ankles and all(below(item, key, _MMHG, policy.number(_ANKLE)) for key in ankles):
        found["ankle"] = _ANKLE
    if below(item, "toe_pressure", _MMHG, policy.number(_TOE)):
        found["toe"] = _TOE
    return found
