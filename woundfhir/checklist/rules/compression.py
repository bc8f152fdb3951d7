"""Compression: what was put on, by whom, and how the limb was checked before and after."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import compressed, first_with, gaps, has_illness
from woundfhir.record import dates

_BANDAGES = frozenset(
    (
        "short stretch bandage",
        "elastic bandage",
        "multi-component system",
        "zinc paste bandage with compression",
        "tubular bandage layers",
    )
)


def first_compression(entry: EntryView) -> bool:
    """Whether compression is put on here for the first time: no earlier note has it, and it did not start before."""
    on = compressed(entry)
    return on is not None and entry.latest(compressed) is None and not _under_way(on, entry)


def _under_way(on: Item, entry: EntryView) -> bool:
    """Whether the compression started on an earlier day than the visit."""
    started = on.answer("started")
    return isinstance(started, str) and bool(dates.earlier(started, (entry.visit.at or "")[: len(started)]))


@rule("LL08", "compression-details", severity="required", scope="entry", group="lower limb")
def compression_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    if on is None:
        return
    missing = gaps(on, "system")
    if on.word("system") in _BANDAGES:
        missing += gaps(on, "layers")
    if not on.written("target_pressure") and not on.written("stretch"):
        missing.append("target_pressure")
    missing += gaps(on, "applied_by")
    if first_compression(entry):
        missing += gaps(on, "started")
    if missing:
        yield Problem(on.path(), missing=missing)


@rule(
    "LL09",
    "circulation-after-compression",
    severity="caution",
    scope="entry",
    group="lower limb",
    about=("circulation",),
)
def circulation_after_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    if on is None:
        return
    if not on.flag("circulation_checked"):
        yield Problem(on.path("circulation_checked"), "toes")
    if first_compression(entry) and not on.flag("taught_removal") and not on.absent("taught_removal"):
        yield Problem(on.path("taught_removal"), "taught")


@rule("LL10", "circumference-for-compression", severity="recommended", scope="entry", group="lower limb")
def circumference_for_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    if on is None or not first_compression(entry):
        return
    if missing := gaps(on, "ankle_circumference", "calf_circumference"):
        yield Problem(on.path(), missing=missing)


@rule("LL11", "heart-before-compression", severity="caution", scope="entry", group="lower limb", about=("circulation",))
def heart_before_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = compressed(entry)
    if on is None:
        return
    client = entry.patient
    failing = entry.flag("client.heart_failure")
    named = has_illness(entry, "heart failure")
    # A list of conditions without it tells that it was asked for.
    asked = failing is False or client.given("conditions") is not None
    if failing or (named and failing is not False):
        yield Problem(on.path(), "known", since=first_with(entry, compressed))
    elif not asked and first_compression(entry):
        yield Problem(on.path(), "not_asked")


@rule(
    "LL12",
    "limb-signs",
    severity="recommended",
    scope="entry",
    group="lower limb",
    when=("lower limb ulcer", "first assessment"),
)
def limb_signs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    seen = {"oedema", "haemosiderin staining", "hardened tissue"} & set(entry.words("assessment.periwound"))
    if not entry.written("assessment.limb_signs") and not seen:
        yield Problem(entry.path("assessment.limb_signs"))
