"""Debridement: what was removed, how, by whose authority, and was blood flow known?"""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.blood_flow import blood_flow
from woundfhir.checklist.rules.helpers import gaps


def _done(entry: EntryView) -> list[Item]:
    """Return debridement done at the visit; autolytic debridement happens under the dressing."""
    return [item for item in entry.items("care.debridement") if item.word("kind") != "autolytic"]


@rule("DB01", "debridement-details", severity="required", scope="entry", group="debridement")
def debridement_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in _done(entry):
        # Wiping the bed with gauze or a pad is part of cleansing.
        if "wiping" in item.tags("kind"):
            continue
        missing = gaps(item, "kind", "tissue_removed", "before", "after")
        if "sharp" in item.tags("kind"):
            missing += gaps(item, "instrument", "depth_level", "bleeding")
        if missing:
            yield Problem(item.path(), missing=missing)


@rule(
    "DB02",
    "blood-flow-before-debridement",
    severity="caution",
    scope="entry",
    group="debridement",
    when=("lower limb ulcer",),
    about=("circulation",),
)
def blood_flow_before_debridement(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    done = [item for item in _done(entry) if "wiping" not in item.tags("kind")]
    if done and not blood_flow(entry).known:
        yield Problem(done[0].path())


@rule("DB03", "sharp-debridement-authority", severity="recommended", scope="entry", group="debridement")
def sharp_debridement_authority(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in _done(entry):
        if "sharp" in item.tags("kind") and not item.written("authorised_by"):
            yield Problem(item.path("authorised_by"))
