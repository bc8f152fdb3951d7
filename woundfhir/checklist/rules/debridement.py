"""Debridement: what was taken away, with what, by whose authority, and was blood flow known?"""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import acted, ask, gaps, limb_pressures, listed


def _done(entry: EntryView) -> list[Item]:
    """Debridement by hand or tool; the body's own under a dressing (autolytic) takes nothing away at the visit."""
    return [item for item in entry.items("care.debridement") if item.word("kind") != "autolytic"]


@rule("DB01", "debridement-details", severity="required", scope="entry", group="debridement")
def debridement_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Debridement is written without what was taken away, how deep, or the wound before and after.

    Why: Only with before and after can the next one see whether a larger wound is a worse or a cleaner one.
    Wrong: debridement: [{kind: conservative sharp}]
    Right: debridement: [{kind: conservative sharp, tissue_removed: loose slough, instrument: scissors, depth_level:
        down to living tissue, bleeding: spots, before: 60 % slough, after: 20 % slough}]
    Fix: Write kind, tissue removed, wound before and after; for sharp ones instrument, depth level and bleeding too.
    Source: US Medicare contractors' list for wound care documentation; local coverage determination L35125 (seen,
        secondary source)
    """
    words = {"kind": "kind", "tissue_removed": "tissue taken away", "before": "wound before", "after": "wound after"}
    sharp = {"instrument": "instrument", "depth_level": "depth reached", "bleeding": "bleeding"}
    for item in _done(entry):
        missing = gaps(item, {**words, **sharp} if "sharp" in item.tags("kind") else words)
        if missing:
            yield Problem(item.path(), f"Debridement: {listed(missing)} not written")


@rule(
    "DB02",
    "blood-flow-before-debridement",
    severity="caution",
    scope="entry",
    group="debridement",
    when=("lower limb ulcer",),
)
def blood_flow_before_debridement(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A wound of the lower limb was debrided, and the record holds no limb pressure of that leg.

    Why: On a leg with poor blood flow a debrided wound may not close again.
    Wrong: kind: leg ulcer, debridement: [{kind: conservative sharp}], no limb_pressure in any note
    Right: limb_pressure: [{side: left, index: 0.98, date: 2026-02-27}], then debridement
    Fix: Write index, side and date, or who decided without it. Local policy and the licensed practitioner decide.
    Source: RNAO, Assessment and Management of Venous Leg Ulcers, diagnostic evaluation: vascular assessment before
        debridement (seen)
    """
    done = _done(entry)
    if done and next(limb_pressures(entry), None) is None and not acted(entry):
        yield ask(
            done[0].path(),
            "Debrided on the lower limb: was blood flow known? No limb pressure in the record",
            "Write index, side and date, or who decided and when.",
        )


@rule("DB03", "sharp-debridement-authority", severity="recommended", scope="entry", group="debridement")
def sharp_debridement_authority(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Sharp debridement is written without the order or authority for it.

    Why: Cutting below the skin is a controlled act; the note shows by whose authority it was done.
    Wrong: debridement: [{kind: conservative sharp}]
    Right: debridement: [{kind: conservative sharp, authorised_by: order of 1 March}]
    Fix: Write authorised_by: the order, or the medical directive and your certification.
    Source: Ontario, Regulated Health Professions Act 1991, controlled acts; local policy (from memory)
    """
    for item in _done(entry):
        if "sharp" in item.tags("kind") and not item.written("authorised_by"):
            yield Problem(item.path("authorised_by"), "Sharp debridement: order or authority not written")
