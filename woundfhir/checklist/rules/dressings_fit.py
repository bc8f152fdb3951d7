"""How a dressing is laid: inside the edge, whole, touching every hollow, and all of it out again."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import ask, filled, laid, last_change


@rule(
    "DR16", "kept-inside-the-edge", severity="recommended", scope="entry", group="dressings", when=("dressing change",)
)
def kept_inside_the_edge(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A dressing that is cut to fit is not charted as kept inside the wound edge.

    Why: A gelling or honey dressing that laps over the edge carries fluid onto sound skin.
    Wrong: primary_dressing: [{dressing: honey alginate, cut_to_fit: yes}]
    Right: primary_dressing: [{dressing: honey alginate, cut_to_fit: yes, inside_edge: yes}]
    Fix: Write inside_edge: yes, or why it laps over.
    Source: common practice (common practice, no source)
    """
    for item in entry.items("care.primary_dressing"):
        drawing = {"gelling", "honey"} & item.tags("dressing") and "cut" in item.tags("dressing")
        if not (item.flag("cut_to_fit") or drawing) or item.flag("inside_edge") or item.note:
            continue
        if item.flag("inside_edge") is False:
            yield Problem(item.path("inside_edge"), "The dressing laps over the wound edge: why?")
        else:
            yield Problem(item.path("inside_edge"), "Was the dressing kept inside the wound edge? Not written")


@rule("DR17", "adhesive-hydrocolloid-whole", severity="recommended", scope="entry", group="dressings")
def adhesive_hydrocolloid_whole(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """An adhesive hydrocolloid was cut or not used whole.

    Why: An adhesive one is sealed at its border and may lie on sound skin; cut, it leaks and lifts. A non-adhesive one
        may be cut.
    Wrong: primary_dressing: [{dressing: adhesive honey hydrocolloid, cut_to_fit: yes}]
    Right: primary_dressing: [{dressing: adhesive honey hydrocolloid, whole: yes}]
    Fix: Write whole: yes; if it was cut, write why in the note of the dressing.
    Source: common practice (common practice, no source)
    """
    for item in entry.items("care.primary_dressing"):
        cut = item.flag("cut_to_fit") or item.flag("whole") is False
        if cut and "whole" in item.tags("dressing") and not item.note:
            yield Problem(item.path("whole"), "An adhesive hydrocolloid is used whole: why was it cut?")


@rule(
    "DR18",
    "hollow-not-reached",
    severity="recommended",
    scope="entry",
    group="dressings",
    when=("dressing change", "undermined or tunnelling"),
)
def hollow_not_reached(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A tunnel or undermined area is written; not, that the dressing touches it or that it was packed.

    Why: A hollow that nothing touches fills with fluid and closes over at the top.
    Wrong: undermining: [{from: 2, to: 6, depth: 3 cm}], packing: none
    Right: packing: [{material: packing strip, pieces_in: 1}]; or primary_dressing: [{..., in_contact: yes}]
    Fix: Write in_contact: yes for the dressing, or the packing; if the hollow was left empty, write why.
    Source: common practice (common practice, no source)
    """
    # Where nothing is written about packing in a deep space, the catalogue's own rule asks for it.
    asked = not entry.written("care.packing") and entry.holds("deep space")
    touched = any(item.flag("in_contact") for item in entry.items("care.primary_dressing"))
    if filled(entry) or touched or asked or entry.absent("care.packing") or laid(entry, "negative pressure"):
        return
    if any(item.note for item in entry.items("care.packing")):
        return
    yield Problem(
        entry.path("care.primary_dressing"),
        "Tunnel or undermined area: not written that the dressing touches it or that it was packed",
    )


@rule("DR19", "alginate-all-out", severity="required", scope="entry", group="dressings", when=("dressing change",))
def alginate_all_out(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Alginate or fibre lay in a hollow; not written that all of it came out.

    Why: Fibres left in a hollow keep it wet and infected, and look like slough.
    Wrong: removed: {dressing: calcium alginate}
    Right: removed: {dressing: calcium alginate, all_out: yes}
    Fix: Rinse, look, and write all_out: yes; if not, what stayed and who was told.
    Source: instructions for alginates: soak, and ensure that a cavity dressing is removed, as taught (seen, secondary
        source)
    """
    before = last_change(entry)
    if before is None or not before.holds("undermined or tunnelling") or entry.flag("care.removed.all_out"):
        return
    packed = any(
        "gelling" in item.tags("material") and "paste" not in item.tags("material")
        for item in before.items("care.packing")
    )
    touching = any(
        {"alginate", "gelling"} & item.tags("dressing") and item.flag("in_contact") and not filled(before)
        for item in before.items("care.primary_dressing")
    )
    if not (packed or touching) or not entry.items("care.removed"):
        return
    if entry.flag("care.removed.all_out") is False:
        yield Problem(
            entry.path("care.removed.all_out"), "Not all of the alginate or fibre came out of the hollow: who was told?"
        )
    else:
        yield Problem(
            entry.path("care.removed.all_out"),
            "Alginate or fibre lay in the hollow: not written that all of it came out",
        )


@rule(
    "DR21",
    "hydrocolloid-on-a-diabetic-foot",
    severity="caution",
    scope="entry",
    group="dressings",
    when=("diabetic foot",),
)
def hydrocolloid_on_a_diabetic_foot(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A hydrocolloid lies on a diabetic foot ulcer.

    Why: A dressing that closes the wound off for days can hide infection in a foot that does not feel.
    Wrong: kind: diabetic foot ulcer, primary_dressing: [{dressing: adhesive hydrocolloid}]
    Right: the same, with the reason in the note of the dressing
    Fix: Write in the note of the dressing why it was chosen and when it is looked at. Local policy and the licensed
        practitioner decide.
    Source: common practice, recalled (from memory)
    """
    for item in entry.items("care.primary_dressing"):
        if "hydrocolloid" in item.tags("dressing") and "honey" not in item.tags("dressing") and not item.note:
            yield ask(
                item.path(),
                "A hydrocolloid on a diabetic foot ulcer: was closing it off looked at?",
                "Write in the note of the dressing why it was chosen, and when the foot is looked at again.",
            )
