"""Skin tears and fragile skin; burns that another team should see."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import acted, ask, laid

_SPECIAL = frozenset(("face", "hand", "foot", "genital"))


def _fragile(entry: EntryView) -> bool:
    return entry.holds("skin tear") or "fragile" in entry.tags("assessment.periwound")


@rule("ST01", "adhesive-on-fragile-skin", severity="caution", scope="entry", group="skin tear")
def adhesive_on_fragile_skin(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Something that sticks lies on fragile skin or on a skin tear.

    Why: Adhesive lifts the top of fragile skin off with it; the next tear is made at the change.
    Wrong: kind: skin tear, securement: [{method: adhesive strips}]
    Right: kind: skin tear, securement: [{method: roll bandage without tape on the skin, arrow: yes}]
    Fix: Write a hold that does not stick, or why this one and how it comes off. Local policy and the licensed
        practitioner decide.
    Source: International Skin Tear Advisory Panel, and a textbook on skin injury by adhesives, as quoted (seen,
        secondary source)
    """
    if not _fragile(entry):
        return
    steps = (
        ("care.primary_dressing", "dressing"),
        ("care.secondary_dressing", "dressing"),
        ("care.securement", "method"),
    )
    sticks = [
        item
        for path, field in steps
        for item in entry.items(path)
        if "adhesive" in item.tags(field) and "silicone" not in item.tags(field) and not item.note
    ]
    if sticks:
        yield ask(
            sticks[0].path(),
            "Adhesive on fragile skin: is there a hold that does not stick?",
            "Write that hold, or in the note of the step why this one and how it comes off.",
        )


@rule(
    "ST02",
    "arrow-for-removal",
    severity="recommended",
    scope="entry",
    group="skin tear",
    when=("skin tear", "dressing change"),
)
def arrow_for_removal(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A skin tear was dressed; not written that an arrow shows in which direction to take the dressing off.

    Why: Pulled against the flap, the dressing tears it open again.
    Wrong: securement: [{method: roll bandage}]
    Right: securement: [{method: roll bandage, arrow: yes}]
    Fix: Draw an arrow in the direction of the flap and write arrow: yes.
    Source: International Skin Tear Advisory Panel practice (from memory)
    """
    held = entry.items("care.securement")
    if held and not any(item.written("arrow") or item.note for item in held):
        yield Problem(held[0].path("arrow"), "Skin tear: arrow for the direction of removal not written")


@rule("BU01", "burn-for-a-burn-service", severity="caution", scope="entry", group="burn", when=("burn",))
def burn_for_a_burn_service(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A full-thickness burn, or a burn of face, hand, foot or genital area, without a word on a burn service.

    Why: Such burns may need surgery. Honey was studied on shallow burns only, and is not the whole of their care.
    Wrong: burn_depth: full thickness, nothing in the plan
    Right: burn_depth: full thickness, plan: {referral: burn service called on 2 March, seen on 3 March}
    Fix: Write who was asked and when it is seen. Local policy and the licensed practitioner decide.
    Source: Yaghoobi R et al. 2013, review of honey (shallow partial-thickness burns); which burns are referred is
        common practice (seen)
    """
    if acted(entry) or entry.latest(acted) is not None:
        return
    if "full thickness" in entry.tags("assessment.burn_depth"):
        honey = " Is honey its only care?" if laid(entry, "honey") else ""
        found = f"A full-thickness burn: was a burn service asked?{honey}"
    elif _SPECIAL & entry.wound.tags("wound.site"):
        found = "A burn of face, hand, foot or genital area: was a burn service asked?"
    else:
        return
    yield ask(entry.path("assessment.burn_depth"), found, "Write who was asked, and when it is seen.")
