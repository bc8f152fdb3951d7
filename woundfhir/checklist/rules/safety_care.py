"""Safety of care: skin left unprotected, a dressing worn too long or leaking, supplies that run out, dry eschar cut."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.bounds import above, amount, exact, planned_interval, tolerance
from woundfhir.checklist.rules.helpers import RULER, exudate_level, gap_days, last_change, tissues
from woundfhir.checklist.rules.negative_pressure import on_blood_thinner
from woundfhir.checklist.rules.safety_limb import severe_pressures
from woundfhir.record import dates

#: Free words that say that there is none.
_NO = re.compile(r"(?:none|nil|no|nothing|not done|no off-?loading)\.?", re.IGNORECASE)
#: The size of a dressing, as "10 x 10 cm".
_SIDES = re.compile(r"(\d+(?:\.\d+)?)\s*[x\u00d7]\s*(\d+(?:\.\d+)?)\s*(cm|mm|in)?", re.IGNORECASE)
#: Dressings that came off with fluid beyond them.
_THROUGH = frozenset(("leaking", "strike-through"))


@rule(
    "CH30",
    "wet-skin-unprotected",
    severity="caution",
    scope="entry",
    group="every change",
    when=("dressing change",),
    about=("dressing",),
)
def wet_skin_unprotected(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    bare = any(item.none("product") for item in entry.items("care.periwound_protection"))
    if not bare and not entry.none("care.periwound_protection"):
        return
    skin = entry.tags("assessment.periwound")
    if "maceration" in skin:
        yield Problem(entry.path("care.periwound_protection"), "macerated")
    elif "raw" in skin:
        yield Problem(entry.path("care.periwound_protection"), "raw")
    elif (exudate_level(entry) or 0) >= 4:
        yield Problem(entry.path("care.periwound_protection"), "exudate")


@rule("CH31", "worn-longer-than-planned", severity="caution", scope="entry", group="every change", about=("dressing",))
def worn_longer_than_planned(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = last_change(entry)
    if last is None or last.nth < entry.episode_start or not last.before(entry):
        return
    plan, since = planned_interval(last), gap_days(last, entry)
    due = dates.day(last.answer("plan.next_change"))
    late = due is not None and entry.day is not None and (entry.day - due).days > policy.days("plan.grace_days")
    for item in entry.items("care.removed"):
        if not item.has("days_worn"):
            continue
        if since is not None and above(item, "days_worn", "d", Decimal(since + 1)):
            yield Problem(item.path("days_worn"), "impossible")
        # A change later than its planned day is asked about by CO05.
        elif plan is not None and not late and above(item, "days_worn", "d", plan.most + tolerance(plan, policy)):
            yield Problem(item.path("days_worn"), "longer")


@rule(
    "CH32",
    "leaking-and-interval-kept",
    severity="caution",
    scope="entry",
    group="every change",
    when=("dressing change",),
    about=("dressing",),
)
def leaking_and_interval_kept(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    plan = planned_interval(entry)
    if plan is None:
        return
    last = last_change(entry)
    before = planned_interval(last) if last is not None and last.nth >= entry.episode_start else None
    for item in entry.items("care.removed"):
        if not _THROUGH & set(item.words("condition")):
            continue
        worn = amount(item, "days_worn", "d")
        kept = plan.most >= before.most if before is not None else worn is not None and plan.most >= worn
        if kept and exact(item, "days_worn") and not _changed_cover(entry, last):
            yield Problem(item.path("condition"))


def _changed_cover(entry: EntryView, last: EntryView | None) -> bool:
    """Whether something else, or something more, lies on the wound than at the change before."""
    if last is None or last.nth < entry.episode_start:
        came_off, lies = entry.word("care.removed.dressing"), _products(entry)
        return came_off is not None and came_off not in lies
    return _products(entry) != _products(last)


def _products(entry: EntryView) -> list[str]:
    return sorted(
        word
        for path, field in (
            ("care.primary_dressing", "dressing"),
            ("care.secondary_dressing", "dressing"),
            ("care.packing", "material"),
        )
        for item in entry.items(path)
        if (word := item.word(field)) is not None
    )


@rule("CH33", "supplies-run-out", severity="caution", scope="entry", group="every change", about=("supplies",))
def supplies_run_out(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if "supply delivery" in entry.purposes or (
        not entry.has("plan.next_change") and not entry.has("plan.change_every")
    ):
        return
    for index, one in enumerate(entry.data.get("supplies", ())):
        left, used = _count(one.get("left")), _count(one.get("quantity"))
        if left is not None and used and left < used:
            yield Problem(entry.path(f"supplies[{index}].left"))


def _count(text: object) -> Decimal | None:
    """The number of a count; None for other words."""
    return Decimal(text) if isinstance(text, str) and text.replace(".", "", 1).isdecimal() else None


@rule("DB10", "dry-heel-eschar-cut", severity="caution", scope="entry", group="debridement", about=("circulation",))
def dry_heel_eschar_cut(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if "heel" not in entry.wound.tags("wound.site") | entry.wound.tags("wound.kind"):
        return
    dry = "dry" in entry.tags("assessment.bed_moisture") or entry.none("assessment.exudate_amount")
    covered = any("necrotic" in tags and (share is None or share > 0) for _, tags, share in tissues(entry))
    if not dry or not covered:
        return
    for item in entry.items("care.debridement"):
        if "sharp" in item.tags("kind"):
            yield Problem(item.path())


@rule("DB11", "sharp-debridement-at-risk", severity="caution", scope="entry", group="debridement")
def sharp_debridement_at_risk(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.debridement"):
        if "sharp" not in item.tags("kind"):
            continue
        found = (
            ("thinner", "bleeding", on_blood_thinner(entry)),
            ("flow", "circulation", bool(severe_pressures(entry, policy))),
            ("not_to_heal", "dressing", "non-healable" in entry.tags("plan.healability")),
        )
        what = [key for key, _, there in found if there]
        if what:
            about = tuple(sorted({matter for _, matter, there in found if there}))
            yield Problem(item.path(), about=about, what=what)


@rule("CH35", "order-run-out", severity="caution", scope="entry", group="every change", when=("dressing change",))
def order_run_out(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    items = entry.items("plan.order")
    for item in items:
        expires = item.answer("expires")
        # "2026-03" holds to the end of March.
        if isinstance(expires, str) and dates.earlier(expires, (entry.at or "")[: len(expires)]):
            yield Problem(item.path("expires"))


@rule(
    "CH36",
    "dressing-smaller-than-the-wound",
    severity="caution",
    scope="entry",
    group="every change",
    about=("dressing",),
)
def dressing_smaller_than_the_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.primary_dressing"):
        if item.flag("covers_wound") is False:
            yield Problem(item.path("covers_wound"), "said")
            return
    sides = [entry.measure(path, "cm") for path in ("assessment.length", "assessment.width")]
    laid = entry.items("care.secondary_dressing") or entry.items("care.primary_dressing")
    pieces = [found for item in laid if (found := _piece(item)) is not None]
    if len(laid) == len(pieces) == 1 and all(side is not None for side in sides):
        wound = sorted(side for side in sides if side is not None)
        if any(one + RULER < other for one, other in zip(sorted(pieces[0]), wound, strict=True)):
            yield Problem(laid[0].path("size"), "measured")


def _piece(item: Item) -> tuple[Decimal, Decimal] | None:
    """The sides in cm of a dressing that is one piece; None where that is not written."""
    found = _SIDES.fullmatch(str(item.answer("size") or "").strip())
    if found is None or (item.answer("pieces") or "1") != "1":
        return None
    scale = {"mm": Decimal("0.1"), "in": Decimal("2.54")}.get((found[3] or "cm").casefold(), Decimal(1))
    return Decimal(found[1]) * scale, Decimal(found[2]) * scale


@rule(
    "SF03", "no-offloading", severity="caution", scope="entry", group="safety", when=("needs offloading", "open wound")
)
def no_offloading(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    said = entry.answer("plan.offloading")
    # The field is in free words: "none" and its like are the answer that asks.
    if isinstance(said, str) and _NO.fullmatch(said.strip()) and not entry.has("plan.refusal"):
        yield Problem(entry.path("plan.offloading"))
