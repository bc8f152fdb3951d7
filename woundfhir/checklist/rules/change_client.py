"""Every dressing change: the client's side of it, the plan that follows, and what was used."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.catalogue import catalogue
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import ask, gaps, laid, listed, newest_area

_PER_DAY = {"d": Decimal(1), "h": Decimal(24), "wk": Decimal(1) / 7, "min": Decimal(1440)}
#: Tag of a product -> words by which an allergy to it is written.
_ALLERGENS = {
    "adhesive": ("adhesive", "tape", "plaster"),
    "silver": ("silver",),
    "iodine": ("iodine",),
    "alginate": ("alginate", "seaweed"),
    "silicone": ("silicone",),
}
_PAIN_ANSWERS = (
    "plan.pain_plan",
    "plan.escalation",
    "care.response.analgesia",
    "care.response.action",
    "care.response.reported_to",
    "care.response.stinging_action",
)


@rule("CH05", "large-wound-volume", severity="recommended", scope="entry", group="every change")
def large_wound_volume(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A large wound was cleansed with the volume of a small one.

    Why: A larger bed needs more fluid to be rinsed clean.
    Wrong: a wound of 8 x 6 cm, cleansing: {volume: 100 mL}
    Right: the same wound, cleansing: {volume: 500 mL}
    Fix: Check the volume; if it is right, write in the note of the cleansing why it was enough.
    Source: common practice (common practice, no source)
    """
    size = newest_area(entry)
    if size is None or size <= policy.number("cleansing.large_area"):
        return
    # Below the least volume CH03 asks already.
    least, wanted = policy.number("cleansing.volume"), policy.number("cleansing.large_volume")
    for item in entry.items("care.cleansing"):
        volume = item.measure("volume", "mL")
        if volume is not None and least <= volume < wanted and not item.note:
            found = f"A wound above {policy.says('cleansing.large_area')}, cleansed with less than {wanted} mL"
            yield Problem(item.path("volume"), found, source=policy.source("cleansing.large_volume"))


@rule("CH11", "how-it-was-borne", severity="required", scope="entry", group="every change", when=("dressing change",))
def how_it_was_borne(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The response to care does not say how the client bore the change.

    Why: Care that is not judged is not finished; a change that was hard today needs another plan for the next one.
    Wrong: response: {pain_after: 2}
    Right: response: {tolerated: well, pain_after: 2}
    Fix: Write tolerated: well, with difficulty, or stopped early.
    Source: College of Nurses of Ontario, Documentation, 2025: the nursing process with evaluation, as quoted by a
        textbook (seen, secondary source)
    """
    for item in entry.items("care.response"):
        if not item.written("tolerated") and not item.note:
            yield Problem(item.path("tolerated"), "How did the client bear the change? Not written")


@rule("CH12", "more-than-daily", severity="recommended", scope="entry", group="every change")
def more_than_daily(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The dressing is planned to be changed more often than once a day, without a reason.

    Why: Many changes a day mostly tell that the dressing does not hold the fluid, and each one disturbs the bed.
    Wrong: change_every: 12 h
    Right: change_every: 12 h, change_reason: leaks through by evening, order for a larger super-absorbent asked for
    Fix: Write change_reason.
    Source: Hurd T et al. 2008, Niagara region: daily changes fell from 48 to 15 % with best practice (seen, secondary
        source)
    """
    found = entry.quantity("plan.change_every")
    per_day = _PER_DAY.get(catalogue().units.get(found.unit or "", "")) if found else None
    if found is None or per_day is None or found.value <= 0 or entry.has("plan.change_reason"):
        return
    if per_day / found.value > policy.number("plan.changes_per_day"):
        yield Problem(
            entry.path("plan.change_every"),
            "Changed more often than once a day: reason not written",
            source=policy.source("plan.changes_per_day"),
        )


@rule("CH13", "supplies-used", severity="recommended", scope="entry", group="every change", when=("dressing change",))
def supplies_used(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The supplies that were used are not written, or not how many.

    Why: The next visit stands or falls with what is left in the home.
    Wrong: a dressing change without supplies
    Right: supplies: [{item: calcium alginate, size: 10 x 10 cm, quantity: 1, left: 4}]
    Fix: Write item, size and quantity, and what is left.
    Source: common practice (common practice, no source)
    """
    if not entry.holds("dressing change") or not entry.has("care.primary_dressing"):
        return
    if not entry.wrote("supplies"):
        yield Problem(entry.path("supplies"), "Supplies used: not written")
    elif any("quantity" not in one for one in entry.data["supplies"]):
        yield Problem(entry.path("supplies"), "Supplies: how many were used is not written")


@rule("CH14", "swab-details", severity="recommended", scope="entry", group="every change")
def swab_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A swab was taken; not written how, why, or whether the wound was cleansed before.

    Why: A swab of old exudate grows what lies on top. It is taken after cleansing, for a reason, not as routine.
    Wrong: swab: {method: swab}
    Right: swab: {method: pressed and turned on clean tissue, after_cleansing: yes, reason: three signs of infection}
    Fix: Write method, after_cleansing and reason.
    Source: Wound infection made easy (Swanson and others), sampling after irrigation (seen)
    """
    for item in entry.items("care.swab"):
        if missing := gaps(item, {"method": "how", "after_cleansing": "whether after cleansing", "reason": "why"}):
            yield Problem(item.path(), f"Swab: {listed(missing)} not written")
        elif item.flag("after_cleansing") is False:
            yield Problem(item.path("after_cleansing"), "Swab taken before cleansing: can the result be relied on?")


@rule("CH15", "pain-rose", severity="caution", scope="entry", group="every change")
def pain_rose(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Pain was worse after the dressing went on, and nothing is written about it.

    Why: A new pain under a dressing can be stinging, a tight bandage or the wrong dressing. It is asked after at once.
    Wrong: response: {pain_during: 3, pain_after: 7}
    Right: response: {pain_during: 3, pain_after: 7, action: bandage taken off and put on again with less stretch}
    Fix: Write what was looked at, what was done and who was told. Local policy and the licensed practitioner decide.
    Source: J Wound Ostomy Continence Nurs 2009;36:60 (stinging after honey); that a rise is acted on is common practice
        (seen)
    """
    stings = "not bearable" in entry.tags("care.response.stinging")  # asked about by DR11
    if _pain_rose(entry) and not stings and not any(entry.has(path) for path in _PAIN_ANSWERS):
        yield ask(
            entry.path("care.response.pain_after"),
            "Pain was worse once the dressing was on: what was done?",
            "Write what was looked at, what was done, and who was told.",
        )


def _pain_rose(entry: EntryView) -> bool:
    after = entry.number("care.response.pain_after")
    before = (
        entry.number(path)
        for path in ("care.response.pain_during", "assessment.pain_at_change", "assessment.pain_at_rest")
    )
    base = next((score for score in before if score is not None), None)
    return after is not None and base is not None and after > base


@rule("CH16", "severe-pain-without-plan", severity="recommended", scope="entry", group="every change")
def severe_pain_without_plan(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Severe pain is written, and nothing against it.

    Why: Pain at the change can be planned for: tablets before it, another dressing, more time.
    Wrong: pain_at_change: 8
    Right: pain_at_change: 8, response: {analgesia: own tablets 30 minutes before}
    Fix: Write the pain relief given, or plan: {pain_plan: ...}.
    Source: Coleman S et al., J Tissue Viability 2017;26:226-240, symptoms (from memory)
    """
    paths = ("assessment.pain_at_rest", "assessment.pain_at_change", "care.response.pain_during")
    scores = [(score, path) for path in paths if (score := entry.number(path)) is not None]
    answered = any(entry.has(path) for path in (*_PAIN_ANSWERS, "client.pain_needs"))
    if not scores or answered or _pain_rose(entry):
        return
    worst, path = max(scores)
    if policy.number("pain.severe") <= worst <= 10:
        yield Problem(
            entry.path(path),
            "Severe pain, and no pain relief or pain plan written",
            source=policy.source("pain.severe"),
        )


@rule("CH17", "allergy-meets-product", severity="caution", scope="entry", group="every change")
def allergy_meets_product(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A product is on the wound to which the record holds an allergy.

    Why: A known reaction comes again. Either the product is another one, or the allergy is no longer true.
    Wrong: allergies: [{to: iodine}], primary_dressing: [{dressing: iodine dressing}]
    Right: another dressing; or plan: {escalation: prescriber asked, patch test without reaction}
    Fix: Check product and allergy; write what was agreed with whom. Local policy and the licensed practitioner decide.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1: allergies and adverse
        reactions to products, 2007 and 2011 (seen)
    """
    if entry.has("plan.escalation"):
        return
    used = entry.tags("care.primary_dressing") | entry.tags("care.secondary_dressing") | entry.tags("care.securement")
    used |= entry.tags("care.packing")
    for tag, words in _ALLERGENS.items():
        if tag in used and entry.patient.allergic_to(*words):
            yield ask(
                entry.path("care"),
                f"An allergy that may fit a product used here ({tag}): was it looked at?",
                "Write what was checked and what was agreed with whom.",
            )


@rule("CH18", "dry-removal", severity="caution", scope="entry", group="every change")
def dry_removal(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The dressing was dry and stuck, and was not moistened before it came off.

    Why: A dressing pulled off dry tears new tissue, bleeds and hurts.
    Wrong: removed: {dressing: calcium alginate, condition: [dry and stuck]}
    Right: removed: {dressing: calcium alginate, condition: [dry and stuck], moistened: yes}
    Fix: Write moistened: yes; if it was not, what the bed looked like after. Local policy and the licensed practitioner
        decide.
    Source: instructions for alginates: soak with saline before removal, as taught (seen, secondary source)
    """
    for item in entry.items("care.removed"):
        if "stuck" in item.tags("condition") and not item.flag("moistened"):
            # Where the bed is charted as dry, DR05 asks about the new dressing.
            drawing = laid(entry, "gelling", "honey") and "dry" not in entry.tags("assessment.bed_moisture")
            again = " Does a drawing dressing still fit?" if drawing else ""
            yield ask(
                item.path("moistened"),
                f"The dressing was dry and stuck: was it moistened before it came off?{again}",
                "Write moistened: yes or no, and how the bed looked after.",
            )
