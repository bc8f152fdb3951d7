"""Skin tears and fragile skin; burns that another team should see."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import laid, opened

_SPECIAL = frozenset(("face", "hand", "foot", "genital", "joint"))


def _fragile(entry: EntryView) -> bool:
    return entry.holds("skin tear") or "fragile" in entry.tags("assessment.periwound")


@rule("ST01", "adhesive-on-fragile-skin", severity="caution", scope="entry", group="skin tear", about=("dressing",))
def adhesive_on_fragile_skin(entry: EntryView, policy: Policy) -> Iterator[Problem]:
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
        if "adhesive" in item.tags(field) and "silicone" not in item.tags(field)
    ]
    # Where the client does not tolerate adhesives, CH17 asks about the same tape.
    if sticks and not entry.patient.allergic_to("adhesive"):
        yield Problem(sticks[0].path())


@rule(
    "ST02",
    "arrow-for-removal",
    severity="recommended",
    scope="entry",
    group="skin tear",
    when=("skin tear", "dressing change"),
)
def arrow_for_removal(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    held = entry.items("care.securement")
    if held and not any(item.written("arrow") or item.note for item in held):
        yield Problem(held[0].path("arrow"))


@rule(
    "BU01", "burn-for-a-burn-service", severity="caution", scope="entry", group="burn", when=("burn",), about=("burn",)
)
def burn_for_a_burn_service(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if "full thickness" in entry.tags("assessment.burn_depth"):
        key = "full_thickness_honey" if laid(entry, "honey") else "full_thickness"
    elif _SPECIAL & entry.wound.tags("wound.site"):
        key = "site"
    else:
        return
    yield Problem(entry.path("assessment.burn_depth"), key, since=opened(entry), from_onset=True)
