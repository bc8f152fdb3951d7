"""Hand-over of each wound: where it stands, what lies in and on it now, what worked, what is left."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.blood_flow import blood_flow
from woundfhir.checklist.rules.helpers import (
    compressed,
    filled,
    here_or_before,
    last_change,
    measured,
    packed_in,
    since,
    taken_out,
)

_OPEN = ("transfer", "open wound")


@rule("TR04", "transfer-previous-treatment", severity="required", scope="entry", group="transfer", when=_OPEN)
def transfer_previous_treatment(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not entry.written("wound.previous_treatments") and not entry.written("wound.effective"):
        yield Problem(entry.path("wound.previous_treatments"))


@cache
def _writes(path: str) -> Callable[[EntryView], bool]:
    """Return the test whether an entry has anything written at a path."""
    return lambda entry: entry.written(path)


@rule("TR05", "transfer-where-it-stands", severity="required", scope="entry", group="transfer", when=_OPEN)
def transfer_where_it_stands(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    missing = []
    # What the note asks for by its other purposes is missing there, and not twice.
    if not entry.holds("full assessment") and not here_or_before(entry, measured):
        missing.append("size")
    staged = entry.written("wound.stage") or here_or_before(entry, _writes("assessment.pressure_injury_stage"))
    if entry.holds("pressure injury") and not entry.holds("full assessment") and not staged:
        missing.append("stage")
    if not entry.holds("dressing change"):
        parts = ("care.primary_dressing", "plan.change_every", "plan.next_change")
        missing += [path.split(".")[1] for path in parts if not here_or_before(entry, _writes(path))]
        if last_change(entry) is None:
            missing.append("last_change")
    if missing:
        yield Problem(entry.path(), missing=missing)


@rule("TR12", "transfer-packing-in-place", severity="caution", scope="entry", group="transfer", when=("transfer",))
def transfer_packing_in_place(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if filled(entry):
        for item in entry.items("care.packing"):
            if item.has("material") and not item.written("location"):
                yield Problem(item.path("location"), "where")
        return
    last = last_change(entry)
    out = taken_out(entry) is not None or entry.none("care.packing")
    if last is not None and filled(last) and not out and not entry.holds("dressing change"):
        counted = packed_in(last) is not None
        yield Problem(entry.path("care.packing"), "left_in" if counted else "left_in_not_counted")


@rule(
    "TR13",
    "transfer-compression",
    severity="required",
    scope="entry",
    group="transfer",
    when=("transfer", "venous ulcer"),
)
def transfer_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    paths = ("care.compression", "plan.compression_plan")
    # At a dressing change of a venous ulcer the catalogue's own rule asks for compression.
    if not any(entry.written(path) for path in paths) and not entry.holds("dressing change"):
        yield Problem(entry.path("plan.compression_plan"), "compression")
    if not blood_flow(entry).dated and compressed(entry) is None and not entry.holds("first assessment"):
        yield Problem(entry.path("assessment.limb_pressure"), "limb_pressure")


@rule("TR14", "transfer-supplies-left", severity="recommended", scope="entry", group="transfer", when=_OPEN)
def transfer_supplies_left(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not any(one.get("left") for one in entry.data.get("supplies", ())):
        yield Problem(entry.path("supplies"))


@rule("TR16", "transfer-measurements-over-time", severity="recommended", scope="entry", group="transfer", when=_OPEN)
def transfer_measurements_over_time(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = entry if measured(entry) else entry.in_episode(measured)
    # A size that is due today is asked for by the full assessment.
    blank = last is not entry and entry.holds("full assessment")
    if last is None or blank or last.in_episode(measured) is not None:
        return
    days = [one.day for one in since(entry) if one.day is not None]
    if days and (max(days) - min(days)).days > policy.days("full_assessment.days"):
        yield Problem(entry.path("assessment"))
