"""Sense of a note: answers that contradict each other or leave out what gives them meaning."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.views import EntryView, VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import area_of_sides, exudate_level, lately, on_the_heel, sized, tissues
from woundfhir.measures.scales import RISK_TOTALS, push_total
from woundfhir.record.units import MeasureError

_CHOICES = (
    "assessment.exposed",
    "assessment.edge",
    "assessment.periwound",
    "assessment.infection_signs",
    "assessment.red_flags",
    "assessment.limb_signs",
)
#: A classification and the kind of wound that it is for.
_CLASSIFIED = {"pressure_injury_stage": "pressure injury", "skin_tear_type": "skin tear", "burn_depth": "burn"}


@rule("SE01", "shares-add-up", severity="sense", scope="entry", group="sense")
def shares_add_up(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    value = entry.answer("assessment.tissue")
    if type(value) is not dict:
        return
    amounts = [entry_amount for entry_amount in value.values() if isinstance(entry_amount, str)]
    shares = [share for _, _, share in tissues(entry) if share is not None]
    # A share that is no number, or has no unit, is a finding of its own.
    if len(shares) < len(value) or any("%" not in amount for amount in amounts):
        return
    total = sum(shares, Decimal(0))
    if total != 100:
        yield Problem(entry.path("assessment.tissue"), value=f"{total:f} %")


@rule("SE02", "depth-without-size", severity="sense", scope="entry", group="sense")
def depth_without_size(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if sized(entry) or entry.absent("assessment.length") or entry.absent("assessment.width"):
        return
    depth = entry.amount("assessment.depth", "cm")
    deep = depth is not None and depth.above(Decimal(0))
    # Between two full assessments undermining and tunnels may be looked at alone.
    hollow = entry.has("assessment.undermining") or entry.has("assessment.tunnels")
    hollow = hollow and not lately(entry, sized, policy.days("full_assessment.days"))
    # At a full assessment of an open wound the catalogue's own rules ask for length and width.
    if entry.holds("full assessment", "open wound"):
        return
    if deep:
        yield Problem(entry.path("assessment.depth"), "depth")
    elif hollow:
        yield Problem(entry.path("assessment"), "hollow")


@rule("SE03", "stage-on-another-wound", severity="sense", scope="entry", group="sense")
def stage_on_another_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not entry.has("wound.kind") or not entry.wound.tags("wound.kind"):
        return
    stage = entry.wound.tags("wound.stage")
    if "moisture" in entry.wound.tags("wound.kind") and stage and entry.nth == 0:
        yield Problem(entry.wound.path("stage"), what=["pressure_injury_stage"])
    for key, condition in _CLASSIFIED.items():
        # An ulcer of the heel may come from pressure whatever else it is called.
        heel = key == "pressure_injury_stage" and entry.holds("lower limb ulcer") and on_the_heel(entry.wound)
        if entry.has(f"assessment.{key}") and not entry.holds(condition) and not heel:
            yield Problem(entry.path(f"assessment.{key}"), what=[key])


@rule("SE04", "exudate-type-without-exudate", severity="sense", scope="entry", group="sense")
def exudate_type_without_exudate(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not entry.none("assessment.exudate_amount"):
        return
    if entry.has("assessment.exudate_type"):
        yield Problem(entry.path("assessment.exudate_type"), "type")
        return
    if entry.has("assessment.exudate_colour"):
        yield Problem(entry.path("assessment.exudate_colour"), "colour")
        return
    if any("wet" in item.tags("condition") for item in entry.items("care.removed")):
        yield Problem(entry.path("assessment.exudate_amount"), "soaked")


@rule("SE21", "none-beside-others", severity="sense", scope="entry", group="sense")
def none_beside_others(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for path in _CHOICES:
        words = set(entry.words(path))
        clean = "intact" if "intact" in words else "none"
        # Whole skin may be dry, scarred, stained or thin.
        others = words - {"none", "intact", "dry", "scar", "haemosiderin staining", "fragile"}
        if clean in words and others:
            yield Problem(entry.path(path), field=entry.find(path)[0].label, clean=clean)


@rule("SE22", "moisture-and-exudate-differ", severity="sense", scope="entry", group="sense")
def moisture_and_exudate_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    level, bed = exudate_level(entry), entry.tags("assessment.bed_moisture")
    if level is not None and (("dry" in bed and level >= 3) or ("wet" in bed and level == 0)):
        yield Problem(entry.path("assessment.bed_moisture"))


@rule("SE23", "edge-and-undermining-differ", severity="sense", scope="entry", group="sense")
def edge_and_undermining_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if "undermined" not in entry.words("assessment.edge"):
        return
    if entry.none("assessment.undermining"):
        yield Problem(entry.path("assessment.edge"), "none")
    elif not entry.written("assessment.undermining"):
        # Between two full assessments it need not be measured again; a full one asks for it by itself.
        known = lately(entry, _undermining, policy.days("full_assessment.days"))
        if not known and not entry.holds("full assessment"):
            yield Problem(entry.path("assessment.undermining"), "not_measured")


def _undermining(entry: EntryView) -> bool:
    return entry.written("assessment.undermining")


@rule("SE24", "signs-not-looked-for", severity="sense", scope="entry", group="sense")
def signs_not_looked_for(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if entry.flag("assessment.infection_checked") is False and entry.words("assessment.infection_signs"):
        yield Problem(entry.path("assessment.infection_checked"))


@rule("SE25", "two-scores-for-one-pain", severity="sense", scope="entry", group="sense")
def two_scores_for_one_pain(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    one, other = entry.number("assessment.pain_at_change"), entry.number("care.response.pain_during")
    if one is not None and other is not None and one != other:
        yield Problem(entry.path("assessment.pain_at_change"))


@rule("SE26", "size-contradicts-itself", severity="sense", scope="entry", group="sense")
def size_contradicts_itself(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    length, width = entry.measure("assessment.length", "cm"), entry.measure("assessment.width", "cm")
    if length is None or width is None:
        return
    written = entry.measure("assessment.area", "cm2")
    if written is not None and written > length * width:
        yield Problem(entry.path("assessment.area"), "area")
    if entry.word("assessment.measure_axis") == "longest axis" and width > length:
        yield Problem(entry.path("assessment.width"), "width")


@rule("SE27", "risk-total-outside-its-scale", severity="sense", scope="visit", group="sense")
def risk_total_outside_its_scale(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    limits, total = RISK_TOTALS.get(visit.word("client.risk_tool") or ""), visit.amount("client.risk_score")
    if limits is not None and total is not None and total.outside(*map(Decimal, limits)):
        yield Problem(visit.path("client.risk_score"), low=limits[0], high=limits[1])


@rule("SE28", "push-total-and-parts-differ", severity="sense", scope="entry", group="sense")
def push_total_and_parts_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    written, counted = entry.number("assessment.push_total"), push_from_parts(entry)
    if written is not None and counted is not None and written != counted:
        yield Problem(entry.path("assessment.push_total"))


def push_from_parts(entry: EntryView) -> int | None:
    """Return the PUSH 3.0 total of the parts that are written; None where one is missing or out of range."""
    sides = area_of_sides(entry)
    exudate, tissue = (entry.number(f"assessment.push_{part}") for part in ("exudate", "tissue"))
    if sides is None or exudate is None or tissue is None:
        return None
    try:
        return push_total(sides, int(exudate), int(tissue))
    except MeasureError:
        return None
