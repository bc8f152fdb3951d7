"""Hand-over of each wound: where it stands, what lies in and on it now, what worked, what is left."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import (
    area,
    ask,
    compressed,
    filled,
    last_change,
    limb_pressures,
    listed,
    packed_in,
    since,
    taken_out,
)

_OPEN = ("transfer", "open wound")


@rule("TR04", "transfer-previous-treatment", severity="required", scope="entry", group="transfer", when=_OPEN)
def transfer_previous_treatment(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without what was tried on the wound before.

    Why: What has worked is gone on with; what has failed is not begun again.
    Wrong: no previous_treatments and nothing under effective
    Right: previous_treatments: saline gauze; effective: honey alginate under compression
    Fix: Write previous_treatments and effective for the wound.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    if not entry.written("wound.previous_treatments") and not entry.written("wound.effective"):
        yield Problem(entry.path("wound.previous_treatments"), "Hand-over: treatments so far not written")


@rule("TR05", "transfer-where-it-stands", severity="required", scope="entry", group="transfer", when=_OPEN)
def transfer_where_it_stands(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A hand-over from which the wound's size, dressing or rhythm cannot be told.

    Why: The next nurse needs to know what she will find and when she has to come.
    Wrong: a hand-over note without size, dressing, change_every or next_change, and none in the notes before
    Right: length, width, primary_dressing, change_every and next_change, here or in the last note
    Fix: Write what is missing.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    notes = list(since(entry))
    missing = []
    # What the note asks for by its other purposes is missing there, and not twice.
    if not entry.holds("full assessment") and all(area(one) is None for one in notes):
        missing.append("size")
    staged = entry.written("wound.stage") or any(one.written("assessment.pressure_injury_stage") for one in notes)
    if entry.holds("pressure injury") and not entry.holds("full assessment") and not staged:
        missing.append("stage")
    if not entry.holds("dressing change"):
        parts = {
            "care.primary_dressing": "dressing",
            "plan.change_every": "how often changed",
            "plan.next_change": "next change",
        }
        missing += [words for path, words in parts.items() if not any(one.written(path) for one in notes)]
        if last_change(entry) is None:
            missing.append("last change")
    if missing:
        yield Problem(entry.path(), f"Hand-over: {listed(missing)} not written")


@rule("TR12", "transfer-packing-in-place", severity="caution", scope="entry", group="transfer", when=("transfer",))
def transfer_packing_in_place(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A hand-over with packing in the wound, without its count or its place.

    Why: Packing that the next team does not know of is found months later.
    Wrong: packing: [{material: packing strip, pieces_in: 1}] and no location
    Right: packing: [{material: packing strip, pieces_in: 1, location: tunnel at 4 o'clock, tail at 6}]
    Fix: Write pieces_in and location for what lies in the wound when the client leaves. Local policy and the licensed
        practitioner decide.
    Source: reports of retained packing; Erasmus guide to the skin, section 5.5 (seen)
    """
    if filled(entry):
        for item in entry.items("care.packing"):
            if item.has("material") and not item.written("location"):
                yield ask(
                    item.path("location"),
                    "Packing goes with the client: where does it lie?",
                    "Write location, beside pieces_in.",
                )
        return
    last = last_change(entry)
    out = taken_out(entry) is not None or entry.none("care.packing")
    if last is not None and filled(last) and not out and not entry.holds("dressing change"):
        count = "" if packed_in(last) is not None else ", and not counted"
        yield ask(
            entry.path("care.packing"),
            f"Packing went in at the last change{count}: does it go with the client?",
            "Write packing with pieces_in and location, or pieces_out.",
        )


@rule(
    "TR13",
    "transfer-compression",
    severity="required",
    scope="entry",
    group="transfer",
    when=("transfer", "venous ulcer"),
)
def transfer_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A hand-over of a venous ulcer without whether compression is on, or without the date of the limb pressure.

    Why: Compression that lapses on the day of transfer is an ulcer that opens again; without a date nobody dares go on.
    Wrong: no compression and no compression_plan in the hand-over
    Right: compression: {system: ..., target_pressure: 40 mmHg}; limb_pressure with its date in the record
    Fix: Write compression: what is on, or none and why; and the limb pressure with its date.
    Source: common practice (common practice, no source)
    """
    said = ("care.compression", "plan.compression_plan")
    # At a dressing change of a venous ulcer the catalogue's own rule asks for compression.
    if not any(entry.written(path) for path in said) and not entry.holds("dressing change"):
        yield Problem(entry.path("plan.compression_plan"), "Hand-over: compression on or off not written")
    dated = any(item.written("date") for item in limb_pressures(entry))
    if not dated and compressed(entry) is None and not entry.holds("first assessment"):
        yield Problem(entry.path("assessment.limb_pressure"), "Hand-over: limb pressure and its date not written")


@rule("TR14", "transfer-supplies-left", severity="recommended", scope="entry", group="transfer", when=_OPEN)
def transfer_supplies_left(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without what is left of the supplies.

    Why: The first change at the new place needs a dressing in the cupboard.
    Wrong: supplies: [{item: calcium alginate, quantity: 1}]
    Right: supplies: [{item: calcium alginate, quantity: 1, left: 4}]
    Fix: Write left for what goes along, or left: 0.
    Source: common practice (common practice, no source)
    """
    if not any(one.get("left") for one in entry.data.get("supplies", ())):
        yield Problem(entry.path("supplies"), "Hand-over: supplies left not written")


@rule("TR16", "transfer-measurements-over-time", severity="recommended", scope="entry", group="transfer", when=_OPEN)
def transfer_measurements_over_time(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A hand-over after weeks of care with fewer than two measurements.

    Why: One size is a snapshot; two with their dates tell the next team where the wound is going.
    Wrong: five notes over three weeks, one size
    Right: a size each week
    Fix: Measure today; give the earlier sizes with their dates if they stand elsewhere.
    Source: common practice (common practice, no source)
    """
    notes = list(since(entry))
    days = [one.day for one in notes if one.day is not None]
    long = bool(days) and (max(days) - min(days)).days > policy.days("full_assessment.days")
    sizes = [one for one in notes if area(one) is not None]
    # A size that is due today is asked for by the full assessment.
    blank = area(entry) is None and entry.holds("full assessment")
    if long and len(sizes) == 1 and not blank:
        yield Problem(entry.path("assessment"), "Hand-over: only one measurement in all these weeks")
