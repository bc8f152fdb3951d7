"""Gelling, drawing and occlusive dressings: do bed, dressing and cover fit together, and is it charted?"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.bounds import planned_interval
from woundfhir.checklist.rules.helpers import covers, exudate_level, exudes, on_the_heel, tissues
from woundfhir.checklist.rules.safety_limb import severe_pressures
from woundfhir.checklist.rules.signs import systemic_signs


def _primary(entry: EntryView, *tags: str) -> list[Item]:
    return _with(entry.items("care.primary_dressing"), *tags)


def _with(items: list[Item], *tags: str) -> list[Item]:
    wanted = frozenset(tags)
    return [item for item in items if wanted & item.tags("dressing")]


def _dry(entry: EntryView) -> bool:
    return "dry" in entry.tags("assessment.bed_moisture")


def _moistened(entry: EntryView) -> bool:
    return bool(_primary(entry, "donates moisture"))


@rule(
    "DR05", "drawing-dressing-on-a-dry-bed", severity="caution", scope="entry", group="dressings", about=("dressing",)
)
def drawing_dressing_on_a_dry_bed(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    drawing = _primary(entry, "gelling", "honey")
    if not drawing or _moistened(entry):
        return
    if _dry(entry) or _mostly_eschar(entry):
        yield Problem(drawing[0].path(), "dry" if _dry(entry) else "eschar")


def _mostly_eschar(entry: EntryView) -> bool:
    found = [(word == "eschar", share) for word, _, share in tissues(entry) if share is not None]
    others = max((share for eschar, share in found if not eschar), default=Decimal())
    return any(eschar and share > others for eschar, share in found)


@rule("DR06", "alginate-with-little-exudate", severity="caution", scope="entry", group="dressings", about=("dressing",))
def alginate_with_little_exudate(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    level = exudate_level(entry)
    fibres = [item for item in _primary(entry, "gelling") if "heavy" in item.tags("dressing")]
    # On a dry bed or eschar DR05 asks already.
    answered = _moistened(entry) or _dry(entry) or _mostly_eschar(entry)
    if fibres and level is not None and level <= 1 and not answered:
        yield Problem(fibres[0].path())


@rule(
    "DR07",
    "drawing-dressing-without-absorbent-cover",
    severity="caution",
    scope="entry",
    group="dressings",
    when=("dressing change",),
    about=("dressing",),
)
def drawing_dressing_without_absorbent_cover(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    drawing = [item for item in _primary(entry, "gelling", "honey") if "adhesive" not in item.tags("dressing")]
    if not drawing:
        return
    over = covers(entry)
    # Words outside the list, and another absorbent primary on top, cannot be judged as missing.
    if any("absorbent" in item.tags("dressing") or not item.tags("dressing") for item in over):
        return
    if any(not {"gelling", "honey"} & item.tags("dressing") for item in _primary(entry, "absorbent")):
        return
    yield Problem(entry.path("care.secondary_dressing"), "does_not_absorb" if over else "none_written")


@rule(
    "DR08",
    "cover-does-not-fit-exudate",
    severity="caution",
    scope="entry",
    group="dressings",
    when=("dressing change",),
    about=("dressing",),
)
def cover_does_not_fit_exudate(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    level = exudate_level(entry)
    over = covers(entry)
    if level is None or level < 3 or not _primary(entry, "gelling", "honey"):
        return
    # What is changed every day need not hold more than a day's exudate.
    plan = planned_interval(entry)
    if plan is not None and plan.most <= 1:
        return
    wanted = "heavy" if level >= 4 else "moderate"
    absorbent = [item for item in over if "absorbent" in item.tags("dressing")]
    unknown = any(not item.tags("dressing") for item in over)
    if absorbent and not unknown and not any(wanted in item.tags("dressing") for item in absorbent):
        yield Problem(absorbent[0].path())


@rule(
    "DR20",
    "hydrocolloid-infected-or-wet",
    severity="caution",
    scope="entry",
    group="dressings",
    about=("infection", "dressing"),
)
def hydrocolloid_infected_or_wet(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    closed = _primary(entry, "hydrocolloid") or _with(covers(entry), "hydrocolloid")
    infected = any(word != "none" for word in entry.words("assessment.infection_signs"))
    infected = infected or bool(systemic_signs(entry, policy))
    wet = exudes(entry, 4)
    if closed and infected:
        yield Problem(closed[0].path(), "infected", about=("infection",))
    elif closed and wet:
        yield Problem(closed[0].path(), "wet", about=("dressing",))


@rule(
    "DR23", "dry-eschar-moistened-at-risk", severity="caution", scope="entry", group="dressings", about=("circulation",)
)
def dry_eschar_moistened_at_risk(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    wets = _primary(entry, "donates moisture", "honey")
    dry = _dry(entry) or entry.none("assessment.exudate_amount")
    poor = on_the_heel(entry.wound) or entry.holds("arterial ulcer") or bool(severe_pressures(entry, policy))
    if wets and dry and poor and _mostly_eschar(entry):
        yield Problem(wets[0].path())


@rule(
    "DR22",
    "worn-longer-than-its-range",
    severity="recommended",
    scope="entry",
    group="dressings",
    when=("dressing change",),
)
def worn_longer_than_its_range(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    planned = entry.amount("plan.change_every", "d")
    if planned is None or entry.has("plan.change_reason"):
        return
    for item in entry.items("care.primary_dressing"):
        # What the pack allows, as charted, comes before the policy's number.
        worn = item.amount("wear_time", "d")
        if worn is not None and worn.comparator not in (">", ">=") and planned.above(worn.value):
            yield Problem(entry.path("plan.change_every"), "pack")
            return
        if worn is None and "honey" in item.tags("dressing"):
            form = "hydrocolloid" if "hydrocolloid" in item.tags("dressing") else "alginate"
            key = f"plan.honey_{form}_days"
            if planned.above(policy.number(key)):
                yield Problem(
                    entry.path("plan.change_every"), "honey", limit=policy.says(key), source=policy.source(key)
                )
                return
