"""Every dressing change: what came off, how the wound was cleansed, and what went on."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import area, covers, exudes, gaps
from woundfhir.record.bounds import Amount
from woundfhir.texts import AsWritten

#: Primary dressings that hold no fluid and do not stick: something must lie over them.
_NEEDS_COVER = frozenset(("contact layer", "hydrogel", "packing", "gauze", "iodine"))
_COVERS_ITSELF = frozenset(("absorbent", "adhesive", "film", "negative pressure"))


@rule(
    "CH01",
    "removed-dressing-details",
    severity="required",
    scope="entry",
    group="every change",
    when=("dressing change",),
)
def removed_dressing_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.removed"):
        missing = gaps(item, "dressing", "condition")
        # With an earlier change in the record the days can be counted; at a first assessment nobody knows them.
        if entry.nth == 0 and not entry.holds("first assessment"):
            missing += gaps(item, "days_worn")
        if missing and "missing" not in item.tags("condition"):
            yield Problem(item.path(), missing=missing)


@rule("CH02", "cleansing-details", severity="required", scope="entry", group="every change", when=("dressing change",))
def cleansing_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.cleansing"):
        # Nobody measures the water of a shower or bath.
        missing = gaps(item, "solution", "volume", "method", "temperature")
        if missing and "bathing" not in item.tags("method"):
            yield Problem(item.path(), missing=missing)


@rule(
    "CH03",
    "cleansing-volume-low",
    severity="recommended",
    scope="entry",
    group="every change",
    when=("pressure injury",),
)
def cleansing_volume_low(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item, volume in _volumes(entry):
        if volume.below(policy.number("cleansing.volume")) and not item.note and not _small(entry, policy):
            yield Problem(
                item.path("volume"), limit=policy.says("cleansing.volume"), source=policy.source("cleansing.volume")
            )


def _small(entry: EntryView, policy: Policy) -> bool:
    """Whether the wound is small and flat, so that less is enough."""
    size = area(entry)
    return size is not None and size <= policy.number("cleansing.small_area") and not entry.holds("deep space")


def _volumes(entry: EntryView) -> Iterator[tuple[Item, Amount]]:
    for item in entry.items("care.cleansing"):
        volume = item.amount("volume", "mL")
        if volume is not None:
            yield item, volume


@rule("CH38", "peroxide-on-an-open-wound", severity="caution", scope="entry", group="every change", about=("dressing",))
def peroxide_on_an_open_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.cleansing"):
        if "releases gas" in item.tags("solution"):
            yield Problem(item.path("solution"))


@rule("CH04", "part-of-a-container", severity="recommended", scope="entry", group="every change")
def part_of_a_container(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.cleansing"):
        if item.flag("whole_container") is False and not item.note:
            yield Problem(item.path("whole_container"))


@rule("CH06", "irrigation-pressure", severity="caution", scope="entry", group="every change")
def irrigation_pressure(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    low, high = policy.number("cleansing.pressure_low"), policy.number("cleansing.pressure_high")
    for item in entry.items("care.cleansing"):
        pressure = item.amount("pressure")
        if pressure is not None and pressure.outside(low, high) and _psi(item):
            yield Problem(item.path("pressure"), low=low, high=high, source=policy.source("cleansing.pressure_high"))


def _psi(item: Item) -> bool:
    found = item.quantity("pressure")
    return found is not None and found.unit is not None and "psi" in found.unit.casefold()


@rule(
    "CH07",
    "irrigation-fluid-returned",
    severity="caution",
    scope="entry",
    group="every change",
    when=("undermined or tunnelling",),
)
def irrigation_fluid_returned(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.cleansing"):
        if "irrigation" in item.tags("method") and not item.flag("fluid_returned"):
            stayed_in = item.flag("fluid_returned") is False
            yield Problem(item.path("fluid_returned"), "stayed_in" if stayed_in else "not_written")


@rule("CH08", "skin-protection", severity="recommended", scope="entry", group="every change", when=("dressing change",))
def skin_protection(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    much = exudes(entry, 3)
    wet = much or "maceration" in entry.tags("assessment.periwound")
    if wet and not entry.written("care.periwound_protection"):
        yield Problem(entry.path("care.periwound_protection"), "exudate" if much else "macerated")


@rule("CH09", "dressing-size", severity="required", scope="entry", group="every change")
def dressing_size(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    first: Item | None = None
    amount: list[str] = []
    size: list[str] = []
    for item in (*entry.items("care.primary_dressing"), *covers(entry)):
        loose = {"paste", "hydrogel"} & item.tags("dressing")
        if item.written("amount" if loose and "amount" in item.concept.fields else "size") or item.written("size"):
            continue
        if item.has("dressing"):
            first = first or item
            # A word of the list may be printed; words outside it may hold anything, and are not.
            ((_, known),) = item.named("dressing")
            (amount if loose else size).append(known.shown if known is not None else "")
    if first is None:
        return
    names = AsWritten(word for word in dict.fromkeys((*size, *amount)) if word)
    what = [key for key, found in (("size", size), ("amount", amount)) if found]
    yield Problem(first.path(), "named" if names else "not_named", what=what, names=names)


@rule("CH10", "no-cover", severity="recommended", scope="entry", group="every change", when=("dressing change",))
def no_cover(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    tags = frozenset(tag for item in entry.items("care.primary_dressing") for tag in item.tags("dressing"))
    if not tags & _NEEDS_COVER or tags & _COVERS_ITSELF or entry.has("care.secondary_dressing"):
        return
    # A gelling or honey dressing without a cover is a safety prompt (DR07).
    if not entry.has("care.no_secondary_reason") and not tags & {"gelling", "honey"}:
        yield Problem(entry.path("care.secondary_dressing"))
