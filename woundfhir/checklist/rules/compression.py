"""Compression: what was put on, by whom, how the limb was looked at before and after."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import ask, compressed, gaps, listed

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
    """Whether compression is put on here for the first time in this record."""
    return compressed(entry) is not None and entry.latest(compressed) is None


@rule("LL08", "compression-details", severity="required", scope="entry", group="lower limb")
def compression_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Compression is written without what the next nurse needs to put it on again.

    Why: A bandage of another kind, or with other layers, is another pressure on the leg.
    Wrong: compression: {system: multi-component system}
    Right: compression: {system: multi-component system, layers: 2, target_pressure: 40 mmHg, applied_by: A. Nurse RN}
    Fix: Write system, layers, target pressure at the ankle or stretch, and who put it on; the first time also started.
    Source: Health Quality Ontario, Quality Standard: Venous Leg Ulcers, 2017, statement 5: by a trained individual; the
        single parts are common practice (seen)
    """
    on = compressed(entry)
    if on is None:
        return
    missing = gaps(on, {"system": "system"})
    if on.word("system") in _BANDAGES:
        missing += gaps(on, {"layers": "layers"})
    if not on.written("target_pressure") and not on.written("stretch"):
        missing.append("target pressure or stretch")
    missing += gaps(on, {"applied_by": "who put it on"})
    if first_compression(entry):
        missing += gaps(on, {"started": "since when"})
    if missing:
        yield Problem(on.path(), f"Compression: {listed(missing)} not written")


@rule("LL09", "circulation-after-compression", severity="caution", scope="entry", group="lower limb")
def circulation_after_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Compression is on; not written that toes were looked at after, or that the client knows when to take it off.

    Why: A bandage that is too tight cuts off the foot within hours, and the nurse is gone by then.
    Wrong: compression: {system: short stretch bandage}
    Right: compression: {system: short stretch bandage, circulation_checked: yes, taught_removal: yes}
    Fix: Write circulation_checked (colour, warmth, feeling of the toes) and taught_removal. Local policy and the
        licensed practitioner decide.
    Source: common practice in nursing procedures (common practice, no source)
    """
    on = compressed(entry)
    if on is None:
        return
    if not on.flag("circulation_checked") and not on.absent("circulation_checked"):
        yield ask(
            on.path("circulation_checked"),
            "Compression is on: were toes checked after for colour, warmth and feeling?",
            "Write circulation_checked: yes, or what was found and done.",
        )
    if first_compression(entry) and not on.flag("taught_removal") and not on.absent("taught_removal"):
        yield ask(
            on.path("taught_removal"),
            "Does the client know when to take the compression off and whom to call?",
            "Write taught_removal: yes, or who was told in their place.",
        )


@rule("LL10", "circumference-for-compression", severity="recommended", scope="entry", group="lower limb")
def circumference_for_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Compression is on, and the record holds no circumference of ankle and calf.

    Why: The same bandage presses harder on a thin ankle; a thin or odd leg is padded first.
    Wrong: compression: {system: multi-component system}, no circumference in any note
    Right: compression: {..., ankle_circumference: 23.5 cm, calf_circumference: 36.0 cm}
    Fix: Measure and write ankle_circumference and calf_circumference, and padding where it was used.
    Source: common practice; pressure under a bandage depends on circumference by Laplace's law (common practice, no
        source)
    """
    on = compressed(entry)
    if on is None or not first_compression(entry):
        return
    if missing := gaps(on, {"ankle_circumference": "ankle", "calf_circumference": "calf"}):
        yield Problem(on.path(), f"Compression: circumference of {listed(missing)} not written")


@rule("LL11", "heart-before-compression", severity="caution", scope="entry", group="lower limb")
def heart_before_compression(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Compression is put on for the first time, and heart failure is known or was not asked for.

    Why: Compression moves fluid from the leg to the heart; a failing heart may not manage it.
    Wrong: compression: {system: short stretch bandage}, conditions: [heart failure], nothing in the plan
    Right: the same, and plan: {compression_plan: agreed with the heart clinic on 1 March}
    Fix: Write heart_failure: yes or no; if yes, who agreed to compression. Local policy and the licensed practitioner
        decide.
    Source: NICE text on leg ulcers, as quoted by teaching pages: advice of a heart specialist (seen, secondary source)
    """
    on = compressed(entry)
    if on is None or not first_compression(entry) or entry.has("plan.compression_plan") or entry.has("plan.referral"):
        return
    client = entry.patient
    failing = entry.flag("client.heart_failure")
    named = client.has_condition("heart failure", "cardiac failure")
    # A list of conditions without it, and a history taken, tell that it was asked for.
    asked = failing is False or client.given("conditions") is not None or entry.written("client.history")
    if failing or (named and failing is not False):
        yield ask(
            on.path(),
            "Heart failure, and compression for the first time: who agreed to it?",
            "Write who agreed, when, and what is watched.",
        )
    elif not asked:
        yield ask(
            on.path(),
            "Compression for the first time: was heart failure asked for?",
            "Write heart_failure: yes or no under client.",
        )


@rule(
    "LL12",
    "limb-signs",
    severity="recommended",
    scope="entry",
    group="lower limb",
    when=("lower limb ulcer", "first assessment"),
)
def limb_signs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A first look at an ulcer of the leg or foot without a word on the limb itself.

    Why: Oedema, colour, warmth and how fast colour comes back tell vein from artery before any measurement.
    Wrong: pulses: palpable, and no more
    Right: limb_signs: [oedema of the limb, brown staining of the limb]; or limb_signs: {absent: not performed}
    Fix: Write what was seen and felt under limb_signs.
    Source: common practice (common practice, no source)
    """
    seen = {"oedema", "haemosiderin staining", "hardened tissue"} & set(entry.words("assessment.periwound"))
    if not entry.written("assessment.limb_signs") and not seen:
        yield Problem(entry.path("assessment.limb_signs"), "The limb itself (oedema, colour, warmth): not written")
