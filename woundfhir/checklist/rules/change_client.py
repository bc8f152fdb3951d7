"""Every dressing change: the client's side of it, the plan that follows, and what was used."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.catalogue import catalogue
from woundfhir.chart.allergies import allergies_met
from woundfhir.chart.views import EntryView
from woundfhir.checklist.action_words import refused
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import gaps, laid
from woundfhir.record.bounds import Amount

#: What was done about pain itself.
_PAIN_ANSWERS = ("plan.pain_plan", "care.response.analgesia", "client.pain_needs")


@rule(
    "CH11", "change-not-evaluated", severity="required", scope="entry", group="every change", when=("dressing change",)
)
def change_not_evaluated(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.response"):
        if not item.written("tolerated") and not item.note:
            yield Problem(item.path("tolerated"))


@rule("CH37", "hard-to-bear", severity="recommended", scope="entry", group="every change", when=("dressing change",))
def hard_to_bear(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    # Where the pain is charted as moderate or severe, CH16 asks.
    said = _eased(entry) or not refused(entry.answer("care.response.action"))
    said = said or "not bearable" in entry.tags("care.response.stinging")  # asked about by DR11
    said = said or next(severe_pain_without_plan(entry, policy), None) is not None
    for item in entry.items("care.response"):
        if item.word("tolerated") == "with difficulty" and not said and not entry.items("plan.escalation"):
            yield Problem(item.path("tolerated"))


@rule("CH12", "more-than-daily", severity="recommended", scope="entry", group="every change")
def more_than_daily(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    every = entry.amount("plan.change_every", "d")
    if every is None or every.value <= 0 or entry.has("plan.change_reason"):
        return
    if Amount(every.value * policy.number("plan.changes_per_day"), every.comparator).below(Decimal(1)):
        yield Problem(entry.path("plan.change_every"), source=policy.source("plan.changes_per_day"))


@rule("CH13", "supplies-used", severity="recommended", scope="entry", group="every change", when=("dressing change",))
def supplies_used(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not entry.has("care.primary_dressing"):
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
    if _pain_rose(entry) and not stings:
        yield Problem(entry.path("care.response.pain_after"))


def _eased(entry: EntryView) -> bool:
    """Whether something was done about moderate pain, or is planned against it; to wait is not."""
    return any(entry.has(path) and not refused(entry.answer(path)) for path in _PAIN_ANSWERS)


def _pain_rose(entry: EntryView) -> bool:
    after = entry.amount("care.response.pain_after")
    before = (
        entry.number(path)
        for path in ("care.response.pain_during", "assessment.pain_at_change", "assessment.pain_at_rest")
    )
    base = next((score for score in before if score is not None), None)
    return after is not None and base is not None and after.above(base)


@rule("CH16", "severe-pain-without-plan", severity="recommended", scope="entry", group="every change", about=("pain",))
def severe_pain_without_plan(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    paths = ("assessment.pain_at_rest", "assessment.pain_at_change", "care.response.pain_during")
    scores = [(score, path) for path in paths if (score := entry.amount(path)) is not None]
    if not scores or _eased(entry) or _pain_rose(entry):
        return
    severe, moderate = (_highest(scores, policy.number(f"pain.{key}")) for key in ("severe", "moderate"))
    if severe is not None:
        yield Problem(entry.path(severe), "severe", source=policy.source("pain.severe"))
    elif moderate is not None:
        yield Problem(entry.path(moderate), "moderate", source=policy.source("pain.moderate"))


def _highest(scores: list[tuple[Amount, str]], limit: Decimal) -> str | None:
    """Return the path of the highest score that is certainly at or above a limit; None where there is none."""
    high = [(score.value, path) for score, path in scores if score.at_least(limit) and score.value <= 10]
    return max(high)[1] if high else None


@rule("CH17", "allergy-meets-product", severity="caution", scope="entry", group="every change", about=("allergy",))
def allergy_meets_product(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    stated, honey = catalogue().pages.substances.keys(), laid(entry, "honey")
    places: dict[str, str] = {}
    for leaf in entry.leaves() if entry.patient.active_allergies else ():
        if leaf.concept.answers is not None and leaf.concept.answers.substances:
            entry.hear(leaf.path)
    every = allergies_met(entry.leaves(), (name for _, name in entry.patient.active_allergies))
    # What lies on the wound now comes before what came off.
    for met in sorted(every, key=lambda one: one.came_off):
        for substance in met.substances:
            # What an allergy names in other words may hold anything, and is not printed.
            places.setdefault(substance if substance in stated else "other", met.leaf.path)
    for substance, place in sorted(places.items()):
        if substance != "honey" or not honey:  # DR02 asks about honey on the wound
            yield Problem(place, product=[substance])


@rule("CH18", "dry-removal", severity="caution", scope="entry", group="every change")
def dry_removal(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.removed"):
        if "stuck" in item.tags("condition") and not item.flag("moistened"):
            # Where the bed is charted as dry, DR05 asks about the new dressing.
            drawing = laid(entry, "gelling", "honey") and "dry" not in entry.tags("assessment.bed_moisture")
            yield Problem(item.path("moistened"), "drawing" if drawing else "dry")
