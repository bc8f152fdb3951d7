"""Safety of care: skin left unprotected, a dressing worn too long or leaking, supplies that run out, dry eschar cut."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from woundfhir.catalogue import Word
from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.pages import common
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.bounds import above, exact, planned_interval, tolerance
from woundfhir.checklist.rules.course_care import came_late
from woundfhir.checklist.rules.helpers import RULER, exudes, gap_days, last_change, on_the_heel, seen_tissues
from woundfhir.checklist.rules.negative_pressure import on_blood_thinner
from woundfhir.checklist.rules.safety_limb import severe_pressures
from woundfhir.record import dates

#: The size of a dressing, as "10 x 10 cm".
_SIDES = re.compile(r"(\d+(?:\.\d+)?)\s*[x\u00d7]\s*(\d+(?:\.\d+)?)\s*(cm|mm|in)?", re.IGNORECASE)
#: Dressings that came off with more fluid than they hold.
_THROUGH = frozenset(("leaking", "strike-through"))
#: How much a product takes up, by its tags: the more, the later.
_TAKES_UP = ("light", "moderate", "heavy", "most")
#: Tags of what takes fluid up at all: a film and a contact layer are for light exudate, and hold none.
_HOLDS = frozenset(("absorbent", "gelling", "hydrocolloid"))


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
    elif exudes(entry, 4):
        yield Problem(entry.path("care.periwound_protection"), "exudate")


@rule("CH31", "worn-longer-than-planned", severity="caution", scope="entry", group="every change", about=("dressing",))
def worn_longer_than_planned(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = last_change(entry)
    if last is None or last.nth < entry.episode_start or not last.before(entry):
        return
    plan, since = planned_interval(last), gap_days(last, entry)
    late = came_late(last, entry, policy.days("plan.grace_days"))
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
        if not _came_through(entry, item):
            continue
        # Without an earlier plan and days worn, nothing shows that the interval is shorter now.
        worn = item.measure("days_worn", "d")
        kept = plan.most >= before.most if before is not None else worn is None or plan.most >= worn
        if kept and exact(item, "days_worn") and not _changed_cover(entry, last):
            yield Problem(item.path("condition"))


def _came_through(entry: EntryView, item: Item) -> bool:
    """Whether a dressing held less than came: a full one where much comes, the skin is wet, or it takes up little."""
    condition = set(item.words("condition"))
    if _THROUGH & condition:
        return True
    wet = exudes(entry, 4) or "maceration" in entry.tags("assessment.periwound")
    little = "absorbent" in item.tags("dressing") and not {"moderate", "heavy"} & item.tags("dressing")
    gel = "gelling" in item.tags("dressing")  # alginate and its like fill up as they should
    return "saturated" in condition and not gel and (wet or little)


def _changed_cover(entry: EntryView, last: EntryView | None) -> bool:
    """Whether more lies on the wound than at the change before: more pieces, or one that takes up more."""
    now = _products(entry)
    if last is not None and last.nth >= entry.episode_start:
        before = _products(last)
        more = len(_holding(now)) > len(_holding(before))
    else:
        # What lay there beside the dressing that is named is not known: another one must take up more.
        before, more = _named_products(entry, "care.removed", "dressing"), False
    # A product that no list knows cannot be compared: WD01 asks what it is.
    unknown = not before or any(word is None for word in (*now, *before))
    return unknown or (more and _most(now) >= _most(before)) or _most(now) > _most(before)


def _most(products: list[Word | None]) -> int:
    tags = [word.tags for word in _holding(products)]
    return max((at for found in tags for at, tag in enumerate(_TAKES_UP, 1) if tag in found), default=0)


def _holding(products: list[Word | None]) -> list[Word]:
    return [word for word in products if word is not None and _HOLDS & word.tags]


def _products(entry: EntryView) -> list[Word | None]:
    return [
        *_named_products(entry, "care.primary_dressing", "dressing"),
        *_named_products(entry, "care.secondary_dressing", "dressing"),
        *_named_products(entry, "care.packing", "material"),
    ]


def _named_products(entry: EntryView, path: str, field: str) -> list[Word | None]:
    return [word for item in entry.items(path) for _, word in item.named(field)]


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


def _count(text: object) -> int | None:
    """The number of a count; None for other words."""
    return int(text) if isinstance(text, str) and text.isdecimal() else None


@rule("DB10", "dry-heel-eschar-cut", severity="caution", scope="entry", group="debridement", about=("circulation",))
def dry_heel_eschar_cut(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not on_the_heel(entry.wound):
        return
    dry = "dry" in entry.tags("assessment.bed_moisture") or entry.none("assessment.exudate_amount")
    covered = any("necrotic" in tags for _, tags in seen_tissues(entry))
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
    for item in entry.items("plan.order") or _orders_before(entry):
        expires = item.answer("expires")
        # "2026-03" holds to the end of March.
        if isinstance(expires, str) and dates.earlier(expires, (entry.at or "")[: len(expires)]):
            yield Problem(item.path("expires") if entry.items("plan.order") else entry.path("plan.order"))


def _orders_before(entry: EntryView) -> list[Item]:
    """The newest orders of this episode: they hold on until others are written."""
    last = entry.in_episode(_has_orders)
    return [] if last is None else last.items("plan.order")


def _has_orders(entry: EntryView) -> bool:
    return bool(entry.items("plan.order"))


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
    wound = sorted(side for side in sides if side is not None)
    for path in ("care.secondary_dressing", "care.primary_dressing"):
        laid = entry.items(path)
        if len(wound) != 2 or len(laid) != 1:
            continue
        (item,) = laid
        piece = _piece(item)
        # What fills a cavity is narrow.
        if piece is None or {"packing", "paste"} & item.tags("dressing"):
            continue
        if any(one + RULER < other for one, other in zip(sorted(piece), wound, strict=True)):
            yield Problem(item.path("size"), "measured")
            return


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
    if isinstance(said, str) and not entry.has("plan.refusal"):
        # The field is in free words: only what is understood as a means, and is not denied, takes the pressure off.
        if _says("none", said):
            yield Problem(entry.path("plan.offloading"), "none")
        elif not _says("means", said):
            yield Problem(entry.path("plan.offloading"), "not_understood")
    turning = entry.visit.answer("client.turning_plan")
    if entry.holds("pressure injury") and isinstance(turning, str) and _says("none", turning):
        yield Problem(entry.visit.path("client.turning_plan"), "turning")


def _says(key: str, text: str) -> bool:
    return re.search(common("offloading_words")[key], text.strip(), re.I | re.X) is not None
