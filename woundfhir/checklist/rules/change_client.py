"""Every dressing change: the client's side of it, the plan that follows, and what was used."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.catalogue import catalogue
from woundfhir.chart.allergies import substances_met
from woundfhir.chart.views import EntryView
from woundfhir.checklist.actions import refused
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import gaps, laid
from woundfhir.record.shapes import shape_of

_PER_DAY = {"d": Decimal(1), "h": Decimal(24), "wk": Decimal(1) / 7, "min": Decimal(1440)}
#: What was done about pain itself.
_PAIN_ANSWERS = ("plan.pain_plan", "care.response.analgesia")


@rule(
    "CH11", "change-not-evaluated", severity="required", scope="entry", group="every change", when=("dressing change",)
)
def change_not_evaluated(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.response"):
        if not item.written("tolerated") and not item.note:
            yield Problem(item.path("tolerated"))


@rule("CH12", "more-than-daily", severity="recommended", scope="entry", group="every change")
def more_than_daily(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    found = entry.quantity("plan.change_every")
    per_day = _PER_DAY.get(catalogue().units.get(found.unit or "", "")) if found else None
    if found is None or per_day is None or found.value <= 0 or entry.has("plan.change_reason"):
        return
    if per_day / found.value > policy.number("plan.changes_per_day"):
        yield Problem(entry.path("plan.change_every"), source=policy.source("plan.changes_per_day"))


@rule("CH13", "supplies-used", severity="recommended", scope="entry", group="every change", when=("dressing change",))
def supplies_used(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not entry.holds("dressing change") or not entry.has("care.primary_dressing"):
        return
    if not entry.wrote("supplies"):
        yield Problem(entry.path("supplies"), "none")
    elif any("quantity" not in one for one in entry.data["supplies"]):
        yield Problem(entry.path("supplies"), "quantity")


@rule("CH14", "swab-details", severity="recommended", scope="entry", group="every change")
def swab_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.swab"):
        if missing := gaps(item, "method", "after_cleansing", "reason"):
            yield Problem(item.path(), "details", missing=missing)
        elif item.flag("after_cleansing") is False:
            yield Problem(item.path("after_cleansing"), "before_cleansing")


@rule("CH15", "pain-rose", severity="caution", scope="entry", group="every change", about=("pain",))
def pain_rose(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    stings = "not bearable" in entry.tags("care.response.stinging")  # asked about by DR11
    if _pain_rose(entry) and not stings and not _eased(entry):
        yield Problem(entry.path("care.response.pain_after"))


def _eased(entry: EntryView) -> bool:
    """Whether something was done about pain, or is planned against it; to wait is not."""
    return any(entry.has(path) and not refused(entry.answer(path)) for path in _PAIN_ANSWERS)


def _pain_rose(entry: EntryView) -> bool:
    after = entry.number("care.response.pain_after")
    before = (
        entry.number(path)
        for path in ("care.response.pain_during", "assessment.pain_at_change", "assessment.pain_at_rest")
    )
    base = next((score for score in before if score is not None), None)
    return after is not None and base is not None and after > base


@rule("CH16", "severe-pain-without-plan", severity="recommended", scope="entry", group="every change", about=("pain",))
def severe_pain_without_plan(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    paths = ("assessment.pain_at_rest", "assessment.pain_at_change", "care.response.pain_during")
    scores = [(score, path) for path in paths if (score := entry.number(path)) is not None]
    answered = _eased(entry) or entry.has("client.pain_needs")
    if not scores or answered or _pain_rose(entry):
        return
    worst, path = max(scores)
    if policy.number("pain.severe") <= worst <= 10:
        yield Problem(entry.path(path), source=policy.source("pain.severe"))


@rule("CH17", "allergy-meets-product", severity="caution", scope="entry", group="every change", about=("allergy",))
def allergy_meets_product(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    met = set[str]()
    for leaf in entry.leaves():
        if leaf.concept.group == "care" and leaf.concept.answers is not None and leaf.concept.answers.substances:
            for concept, word in shape_of(leaf.concept).named(leaf.concept, leaf.value):
                met.update(*(substances_met(name, concept, word) for _, name in entry.patient.active_allergies))
    if laid(entry, "honey"):
        met.discard("honey")  # asked about by DR02
    stated = catalogue().pages.substances.keys()
    for substance in sorted({one if one in stated else "other" for one in met}):
        yield Problem(entry.path("care"), product=[substance])


@rule("CH18", "dry-removal", severity="caution", scope="entry", group="every change")
def dry_removal(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.removed"):
        if "stuck" in item.tags("condition") and not item.flag("moistened"):
            # Where the bed is charted as dry, DR05 asks about the new dressing.
            drawing = laid(entry, "gelling", "honey") and "dry" not in entry.tags("assessment.bed_moisture")
            yield Problem(item.path("moistened"), "drawing" if drawing else "dry")
