"""Gelling, drawing and occlusive dressings: do bed, dressing and cover fit together, and is it charted?"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.catalogue import catalogue
from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import acted, ask, covers, exudate_level, laid, tissues
from woundfhir.checklist.rules.signs import systemic_signs

_DAYS = {"d": Decimal(1), "h": Decimal(1) / 24, "wk": Decimal(7)}


def _primary(entry: EntryView, *tags: str) -> list[Item]:
    wanted = frozenset(tags)
    return [item for item in entry.items("care.primary_dressing") if wanted & item.tags("dressing")]


def _dry(entry: EntryView) -> bool:
    return "dry" in entry.tags("assessment.bed_moisture")


def _moistened(entry: EntryView) -> bool:
    return bool(_primary(entry, "donates moisture")) or any(item.note for item in _primary(entry, "gelling", "honey"))


@rule("DR05", "drawing-dressing-on-a-dry-bed", severity="caution", scope="entry", group="dressings")
def drawing_dressing_on_a_dry_bed(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A gelling or honey dressing lies on a dry bed, or on a bed that is mostly eschar.

    Why: These dressings need fluid to gel and draw; on a dry bed they dry it further and stick.
    Wrong: bed_moisture: dry, primary_dressing: [{dressing: calcium alginate}]
    Right: primary_dressing: [{dressing: calcium alginate, note: moistened with saline, order of 2 March}]
    Fix: Write whether it was moistened, or why this dressing. Local policy and the licensed practitioner decide.
    Source: a hospice's wound products chart (honey not for dry necrotic wounds; its columns are jumbled); teaching
        pages on alginates (seen, secondary source)
    """
    drawing = _primary(entry, "gelling", "honey")
    if not drawing or _moistened(entry):
        return
    if _dry(entry) or _mostly_eschar(entry):
        what = "dry" if _dry(entry) else "mostly eschar"
        yield ask(
            drawing[0].path(),
            f"The bed is {what}, and the dressing draws fluid: was it moistened, or does another fit?",
            "Write in the note of the dressing that it was moistened, or why this one.",
        )


def _mostly_eschar(entry: EntryView) -> bool:
    found = [(word == "eschar", share or Decimal(0)) for word, _, share in tissues(entry)]
    others = max((share for eschar, share in found if not eschar), default=Decimal(0))
    return any(eschar and share > others for eschar, share in found)


@rule("DR06", "alginate-with-little-exudate", severity="caution", scope="entry", group="dressings")
def alginate_with_little_exudate(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """An alginate or gelling fibre lies on a wound with no or hardly any exudate.

    Why: Without fluid the fibres do not gel; they dry the bed and stick to it.
    Wrong: exudate_amount: scant, primary_dressing: [{dressing: calcium alginate}]
    Right: exudate_amount: moderate, primary_dressing: [{dressing: calcium alginate}]
    Fix: Check the amount; write whether the dressing was moistened, or why this one. Local policy and the licensed
        practitioner decide.
    Source: descriptions and teaching pages: alginates for moderate to heavy exudate (seen, secondary source)
    """
    level = exudate_level(entry)
    fibres = [item for item in _primary(entry, "gelling") if "heavy" in item.tags("dressing")]
    # On a dry bed or eschar DR05 asks already.
    answered = _moistened(entry) or _dry(entry) or _mostly_eschar(entry)
    if fibres and level is not None and level <= 1 and not answered:
        yield ask(
            fibres[0].path(),
            "Hardly any exudate under an alginate or gelling fibre: does it still fit?",
            "Write that it was moistened, or why this one.",
        )


@rule(
    "DR07",
    "drawing-dressing-without-absorbent-cover",
    severity="caution",
    scope="entry",
    group="dressings",
    when=("dressing change",),
)
def drawing_dressing_without_absorbent_cover(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A gelling or honey dressing lies on the wound without an absorbent cover.

    Why: Honey draws fluid out of the wound; without something that takes it up, the skin around macerates and the
        honey is washed thin.
    Wrong: primary_dressing: [{dressing: honey alginate}], secondary_dressing: [{dressing: film dressing}]
    Right: primary_dressing: [{dressing: honey alginate}], secondary_dressing: [{dressing: foam dressing}]
    Fix: Write the absorbent cover, or no_secondary_reason with the clinical reason. Local policy and the licensed
        practitioner decide.
    Source: Molan PC and Betts JA, Clinical usage of honey as a wound dressing: an update, J Wound Care 2004 (fluid,
        dilution); the cover itself is common practice (seen, secondary source)
    """
    drawing = [item for item in _primary(entry, "gelling", "honey") if "adhesive" not in item.tags("dressing")]
    if not drawing or entry.has("care.no_secondary_reason") or entry.absent("care.secondary_dressing"):
        return
    over = covers(entry)
    # Words outside the list, and another absorbent primary on top, cannot be judged as missing.
    if any("absorbent" in item.tags("dressing") or not item.tags("dressing") for item in over):
        return
    if any(not {"gelling", "honey"} & item.tags("dressing") for item in _primary(entry, "absorbent")):
        return
    what = "the cover does not absorb" if over else "no cover is written"
    yield ask(
        entry.path("care.secondary_dressing"),
        f"A dressing that draws fluid, and {what}: what takes the fluid up?",
        "Write the absorbent cover, or no_secondary_reason.",
    )


@rule(
    "DR08",
    "cover-does-not-fit-exudate",
    severity="caution",
    scope="entry",
    group="dressings",
    when=("dressing change",),
)
def cover_does_not_fit_exudate(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The cover over a gelling or honey dressing is one for less exudate than is written.

    Why: Fluid that the cover cannot hold runs onto the skin or strikes through before the next change.
    Wrong: exudate_amount: large, secondary_dressing: [{dressing: foam dressing}]
    Right: exudate_amount: large, secondary_dressing: [{dressing: super-absorbent dressing}]
    Fix: Check the amount and the cover, or write why this one until the next change. Local policy and the licensed
        practitioner decide.
    Source: Molan PC and Betts JA, Clinical usage of honey as a wound dressing: an update, J Wound Care 2004; groups by
        exudate as taught (seen, secondary source)
    """
    level = exudate_level(entry)
    over = covers(entry)
    if level is None or level < 3 or not _primary(entry, "gelling", "honey") or entry.has("plan.change_reason"):
        return
    wanted = "heavy" if level >= 4 else "moderate"
    absorbent = [item for item in over if "absorbent" in item.tags("dressing")]
    unknown = any(not item.tags("dressing") for item in over)
    if absorbent and not unknown and not any(wanted in item.tags("dressing") for item in absorbent):
        yield ask(
            absorbent[0].path(),
            "Is this cover enough for the amount of exudate until the next change?",
            "Write a cover for this amount, or why this one, under change_reason.",
        )


@rule(
    "DR09",
    "skin-protection-under-drawing-dressing",
    severity="recommended",
    scope="entry",
    group="dressings",
    when=("dressing change",),
)
def skin_protection_under_drawing_dressing(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A honey or gelling dressing lies on the wound, and skin protection is not written.

    Why: These dressings draw fluid to the edge; the skin there is sealed first.
    Wrong: primary_dressing: [{dressing: honey alginate}], no periwound_protection
    Right: periwound_protection: [{product: barrier film, area: 2 cm round the wound}]; or periwound_protection: none
    Fix: Write the product and where it went, or periwound_protection: none with the reason in the note.
    Source: common practice (common practice, no source)
    """
    if laid(entry, "honey", "gelling") and not entry.written("care.periwound_protection"):
        yield Problem(
            entry.path("care.periwound_protection"), "A dressing that draws fluid: skin protection not written"
        )


@rule("DR20", "hydrocolloid-infected-or-wet", severity="caution", scope="entry", group="dressings")
def hydrocolloid_infected_or_wet(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A hydrocolloid lies on a wound with signs of infection, or with much exudate.

    Why: A hydrocolloid closes the wound off and holds little fluid.
    Wrong: exudate_amount: large, primary_dressing: [{dressing: adhesive hydrocolloid}]
    Right: exudate_amount: small, infection_signs: [none], primary_dressing: [{dressing: adhesive hydrocolloid}]
    Fix: Write what was looked at and why this dressing, or who was asked. Local policy and the licensed practitioner
        decide.
    Source: a hospice's wound products chart; hydrocolloid page: light to moderate exudate (seen, secondary source)
    """
    closed = [item for item in _primary(entry, "hydrocolloid") if not item.note]
    infected = any(word != "none" for word in entry.words("assessment.infection_signs"))
    infected = infected or bool(systemic_signs(entry, policy))
    wet = (exudate_level(entry) or 0) >= 4
    if closed and (infected or wet) and not acted(entry):
        why = "signs of infection" if infected else "much exudate"
        yield ask(
            closed[0].path(),
            f"A hydrocolloid with {why}: was this looked at?",
            "Write in the note of the dressing why it was chosen, or who was asked.",
        )


@rule(
    "DR22",
    "worn-longer-than-its-range",
    severity="recommended",
    scope="entry",
    group="dressings",
    when=("dressing change",),
)
def worn_longer_than_its_range(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A honey dressing is planned to stay on longer than its range of wear.

    Why: Honey is washed thin by exudate; the more there is, the sooner it is changed.
    Wrong: primary_dressing: [{dressing: honey alginate}], change_every: 7 d
    Right: primary_dressing: [{dressing: honey alginate}], change_every: 3 d
    Fix: Check change_every against the pack, or write change_reason.
    Source: secondary summary of licensed wear times (low-quality source)
    """
    found = entry.quantity("plan.change_every")
    unit = _DAYS.get(catalogue().units.get(found.unit or "", "")) if found else None
    honey = _primary(entry, "honey")
    if not honey or found is None or unit is None or entry.has("plan.change_reason"):
        return
    keys = [
        "plan.honey_hydrocolloid_days" if "hydrocolloid" in honey[0].tags("dressing") else "plan.honey_alginate_days"
    ]
    if (exudate_level(entry) or 0) >= 4 and not any("heavy" in item.tags("dressing") for item in covers(entry)):
        keys.append("plan.heavy_exudate_days")
    key = min(keys, key=policy.number)
    if found.value * unit > policy.number(key):
        yield Problem(
            entry.path("plan.change_every"),
            f"Honey is planned to stay on longer than {policy.says(key)}",
            source=policy.source(key),
        )
