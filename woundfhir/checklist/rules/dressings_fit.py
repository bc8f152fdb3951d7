"""How a dressing is placed: inside the edge, whole, in contact with every space, and all of it removed again."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import covers, filled, laid, last_change


@rule(
    "DR16", "kept-inside-the-edge", severity="recommended", scope="entry", group="dressings", when=("dressing change",)
)
def kept_inside_the_edge(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.primary_dressing"):
        honey = "honey" in item.tags("dressing") and "cut" in item.tags("dressing")
        inside = item.flag("inside_edge")
        if (item.flag("cut_to_fit") or honey) and not inside and not item.note:
            yield Problem(item.path("inside_edge"), "laps_over" if inside is False else "not_written")


@rule("DR17", "adhesive-hydrocolloid-whole", severity="recommended", scope="entry", group="dressings")
def adhesive_hydrocolloid_whole(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.primary_dressing"):
        cut = item.flag("cut_to_fit") or item.flag("whole") is False
        if cut and "whole" in item.tags("dressing") and not item.note:
            yield Problem(item.path("whole"))


@rule(
    "DR18",
    "hollow-not-reached",
    severity="recommended",
    scope="entry",
    group="dressings",
    when=("dressing change", "undermined or tunnelling"),
)
def hollow_not_reached(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    # Where nothing is written about packing in a deep space, the catalogue's own rule asks for it.
    asked = not entry.written("care.packing") and entry.holds("deep space")
    touched = any(item.flag("in_contact") for item in entry.items("care.primary_dressing"))
    if filled(entry) or touched or asked or entry.absent("care.packing") or laid(entry, "negative pressure"):
        return
    if any(item.note for item in entry.items("care.packing")):
        return
    yield Problem(entry.path("care.primary_dressing"))


@rule("DR19", "alginate-all-out", severity="required", scope="entry", group="dressings", when=("dressing change",))
def alginate_all_out(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    before = last_change(entry)
    if before is None or not before.holds("undermined or tunnelling") or entry.flag("care.removed.all_out"):
        return
    packed = any(
        "gelling" in item.tags("material") and "paste" not in item.tags("material")
        for item in before.items("care.packing")
    )
    touching = not filled(before) and any(
        "gelling" in item.tags("dressing") and item.flag("in_contact") for item in before.items("care.primary_dressing")
    )
    if (packed or touching) and entry.items("care.removed"):
        key = "not_all" if entry.flag("care.removed.all_out") is False else "not_written"
        yield Problem(entry.path("care.removed.all_out"), key)


@rule(
    "DR21",
    "hydrocolloid-on-a-diabetic-foot",
    severity="caution",
    scope="entry",
    group="dressings",
    when=("diabetic foot",),
    about=("dressing",),
)
def hydrocolloid_on_a_diabetic_foot(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in (*entry.items("care.primary_dressing"), *covers(entry)):
        if "hydrocolloid" in item.tags("dressing") and "honey" not in item.tags("dressing"):
            yield Problem(item.path())
            return
