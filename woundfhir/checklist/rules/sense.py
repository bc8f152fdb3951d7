"""Sense of a note: answers that contradict each other or leave out what gives them meaning."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.views import EntryView, VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import area_of_sides, exudate_level, gap_days, sized, tissues
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


@rule("SN01", "shares-add-up", severity="sense", scope="entry", group="sense")
def shares_add_up(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The shares of the tissues in the bed do not add up to 100 %.

    Why: What is missing to a hundred was not looked at; what is above was counted twice.
    Wrong: tissue: {granulation: 60 %, slough: 30 %}
    Right: tissue: {granulation: 60 %, slough: 40 %}
    Fix: Write shares that add up to 100 %.
    Source: RNAO, Assessment and Management of Pressure Injuries, 3rd edition, 2016 (quality and amount of tissue); that
        they add up is common practice (seen)
    """
    value = entry.answer("assessment.tissue")
    if type(value) is not dict or "absent" in value:
        return
    amounts = [entry_amount for entry_amount in value.values() if isinstance(entry_amount, str)]
    shares = [share for _, _, share in tissues(entry) if share is not None]
    # A share that is no number, or has no unit, is a finding of its own.
    if len(shares) < len(value) or any("%" not in amount for amount in amounts):
        return
    total = sum(shares, Decimal(0))
    if total != 100:
        yield Problem(entry.path("assessment.tissue"), "The tissues do not add up to 100 %", value=f"{total:f} %")


@rule("SN02", "depth-without-size", severity="sense", scope="entry", group="sense")
def depth_without_size(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Depth, undermining or a tunnel is measured, and length and width are not.

    Why: A depth belongs to a size; alone it tells nobody whether the wound fills or closes.
    Wrong: assessment: {depth: 2 cm}
    Right: assessment: {length: 4.1 cm, width: 3.0 cm, depth: 2 cm}
    Fix: Write length and width, or a reason: length: {absent: not performed}.
    Source: RNAO, Assessment and Management of Pressure Injuries, 3rd edition, 2016, wound assessment (seen)
    """
    if sized(entry) or entry.absent("assessment.length") or entry.absent("assessment.width"):
        return
    depth = entry.measure("assessment.depth", "cm")
    deep = depth is not None and depth > 0
    # Between two full assessments undermining and tunnels may be looked at alone.
    last = entry.latest(sized)
    lately = last is not None and (gap_days(last, entry) or 0) <= policy.days("full_assessment.days")
    hollow = (entry.has("assessment.undermining") or entry.has("assessment.tunnels")) and not lately
    # At a full assessment of an open wound the catalogue's own rules ask for length and width.
    blank = not entry.written("assessment.length") and not entry.written("assessment.width")
    if (deep or hollow) and not (blank and entry.holds("full assessment", "open wound")):
        half = entry.has("assessment.length") != entry.has("assessment.width")
        if half and entry.holds("full assessment", "open wound"):
            return
        what = "Depth" if deep else "Undermining or tunnel"
        yield Problem(entry.path("assessment.depth" if deep else "assessment"), f"{what} without length and width")


@rule("SN03", "stage-on-another-wound", severity="sense", scope="entry", group="sense")
def stage_on_another_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A pressure injury stage, skin tear type or burn depth stands on a wound of another kind.

    Why: Stages are made for one kind of wound; on another they tell something that is not there.
    Wrong: kind: venous leg ulcer, pressure_injury_stage: stage 2
    Right: kind: pressure injury, pressure_injury_stage: stage 2
    Fix: Correct the kind of wound, or take the stage out.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M: only pressure injuries are staged (seen, secondary source)
    """
    if not entry.has("wound.kind") or not entry.wound.tags("wound.kind"):
        return
    for path, condition, what in (
        ("assessment.pressure_injury_stage", "pressure injury", "Pressure injury stage"),
        ("assessment.skin_tear_type", "skin tear", "Skin tear type"),
        ("assessment.burn_depth", "burn", "Burn depth"),
    ):
        if entry.has(path) and not entry.holds(condition):
            yield Problem(entry.path(path), f"{what} on a wound that is called something else")


@rule("SN04", "exudate-type-without-exudate", severity="sense", scope="entry", group="sense")
def exudate_type_without_exudate(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """No exudate is charted, and beside it a type or colour, or a soaked dressing, of exudate.

    Why: The two contradict each other; the next nurse cannot tell which one holds.
    Wrong: exudate_amount: none, exudate_type: serous
    Right: exudate_amount: scant, exudate_type: serous
    Fix: Correct the amount, or take the other one out.
    Source: arithmetic of the note itself (arithmetic)
    """
    if not entry.none("assessment.exudate_amount"):
        return
    for path, what in (("assessment.exudate_type", "type"), ("assessment.exudate_colour", "colour")):
        if entry.has(path):
            yield Problem(entry.path(path), f"No exudate, and yet a {what} of exudate")
            return
    if any("wet" in item.tags("condition") for item in entry.items("care.removed")):
        yield Problem(
            entry.path("assessment.exudate_amount"), "No exudate, and yet a soaked or leaking dressing came off"
        )


@rule("SN21", "none-beside-others", severity="sense", scope="entry", group="sense")
def none_beside_others(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The words "none" or "intact" stand in one answer with something that is there.

    Why: One of the two is a slip, and the reader cannot tell which.
    Wrong: infection_signs: [none, smell]
    Right: infection_signs: [smell]
    Fix: Take out the one that is not true.
    Source: arithmetic of the note itself (arithmetic)
    """
    for path in _CHOICES:
        words = set(entry.words(path))
        clean = "intact" if path.endswith("periwound") and "intact" in words else "none"
        # Whole skin may be dry, scarred, stained or thin.
        others = words - {"none", "intact", "dry", "scar", "haemosiderin staining", "fragile"}
        if clean in words and others:
            yield Problem(entry.path(path), f"{entry.find(path)[0].label}: '{clean}' beside something that is there")


@rule("SN22", "moisture-and-exudate-differ", severity="sense", scope="entry", group="sense")
def moisture_and_exudate_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A dry bed is charted with much exudate, or a wet one with none.

    Why: The two contradict each other, and the dressing is chosen by them.
    Wrong: bed_moisture: dry, exudate_amount: large
    Right: bed_moisture: wet, exudate_amount: large
    Fix: Correct moisture or amount.
    Source: arithmetic of the note itself (arithmetic)
    """
    level, bed = exudate_level(entry), entry.tags("assessment.bed_moisture")
    if level is not None and (("dry" in bed and level >= 3) or ("wet" in bed and level == 0)):
        yield Problem(
            entry.path("assessment.bed_moisture"), "Moisture of the bed and amount of exudate contradict each other"
        )


@rule("SN23", "edge-and-undermining-differ", severity="sense", scope="entry", group="sense")
def edge_and_undermining_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The edge is called undermined, and undermining "none".

    Why: The two contradict each other; a hollow that is denied is not filled.
    Wrong: edge: [undermined], undermining: none
    Right: edge: [undermined], undermining: [{from: 2, to: 6, depth: 3 cm}]
    Fix: Probe again and correct edge or undermining.
    Source: arithmetic of the note itself (arithmetic)
    """
    if "undermined" in entry.words("assessment.edge") and entry.none("assessment.undermining"):
        yield Problem(entry.path("assessment.edge"), "The edge is called undermined, and undermining 'none'")


@rule("SN24", "signs-not-looked-for", severity="sense", scope="entry", group="sense")
def signs_not_looked_for(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Signs of infection are answered, and the note says that they were not looked for.

    Why: "None" after no look is a negative that nobody found.
    Wrong: infection_checked: no, infection_signs: [none]
    Right: infection_checked: yes, infection_signs: [none]
    Fix: Look, and write infection_checked: yes; or infection_signs: {absent: not assessed}.
    Source: RNAO, Assessment and Management of Pressure Injuries, 3rd edition, 2016, recommendation 1.4 (seen)
    """
    if entry.flag("assessment.infection_checked") is False and entry.words("assessment.infection_signs"):
        yield Problem(entry.path("assessment.infection_checked"), "Signs of infection answered, but not looked for")


@rule("SN25", "two-scores-for-one-pain", severity="sense", scope="entry", group="sense")
def two_scores_for_one_pain(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Pain at the change is written twice with two scores.

    Why: The trend takes one of them, and it may be the wrong one.
    Wrong: pain_at_change: 3, response: {pain_during: 6}
    Right: pain_at_change: 6, response: {pain_during: 6}
    Fix: Correct the one that is wrong, or leave one out.
    Source: arithmetic of the note itself (arithmetic)
    """
    one, other = entry.number("assessment.pain_at_change"), entry.number("care.response.pain_during")
    if one is not None and other is not None and one != other:
        yield Problem(entry.path("assessment.pain_at_change"), "Two different scores for the pain at the change")


@rule("SN26", "size-contradicts-itself", severity="sense", scope="entry", group="sense")
def size_contradicts_itself(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """An area is larger than length times width, or the width larger than the longest axis.

    Why: No wound is larger than the rectangle around it; one digit is wrong.
    Wrong: length: 4 cm, width: 3 cm, area: 120 cm2
    Right: length: 4 cm, width: 3 cm, area: 9.4 cm2
    Fix: Correct length, width, area, or the axes.
    Source: Rogers LC et al., J Diabetes Sci Technol 2010;4:799: length by width is above the true area (seen)
    """
    length, width = entry.measure("assessment.length", "cm"), entry.measure("assessment.width", "cm")
    sides = area_of_sides(entry)
    if length is None or width is None or sides is None:
        return
    written = entry.measure("assessment.area", "cm2")
    if written is not None and written > sides:
        yield Problem(entry.path("assessment.area"), "The area is larger than length times width")
    if entry.word("assessment.measure_axis") == "longest axis" and width > length:
        yield Problem(entry.path("assessment.width"), "The width is larger than the longest axis")


@rule("SN27", "risk-total-outside-its-scale", severity="sense", scope="visit", group="sense")
def risk_total_outside_its_scale(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A risk total cannot be reached on the scale that is named.

    Why: The total or the name of the scale is wrong, and both decide how the client is turned.
    Wrong: risk_tool: Braden scale, risk_score: 25
    Right: risk_tool: Braden scale, risk_score: 15
    Fix: Add up again, or correct the name of the scale.
    Source: Braden and Bergstrom 1988: five parts of 1 to 4, one of 1 to 3, so 6 to 23 (seen)
    """
    limits, total = RISK_TOTALS.get(visit.word("client.risk_tool") or ""), visit.number("client.risk_score")
    if limits is not None and total is not None and not limits[0] <= total <= limits[1]:
        yield Problem(
            visit.path("client.risk_score"), f"The total cannot be reached on this scale ({limits[0]} to {limits[1]})"
        )


@rule("SN28", "push-total-and-parts-differ", severity="sense", scope="entry", group="sense")
def push_total_and_parts_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The PUSH total written is not the sum of its parts.

    Why: The total is what is compared from week to week; one wrong part looks like healing, or like its opposite.
    Wrong: length: 4.1 cm, width: 2.8 cm, push_exudate: 1, push_tissue: 3, push_total: 10
    Right: length: 4.1 cm, width: 2.8 cm, push_exudate: 1, push_tissue: 3, push_total: 12
    Fix: Add up again: the sub-score of length times width, that of exudate and that of tissue.
    Source: NPUAP, PUSH Tool 3.0, instructions (seen)
    """
    written, counted = entry.number("assessment.push_total"), push_from_parts(entry)
    if written is not None and counted is not None and written != counted:
        yield Problem(entry.path("assessment.push_total"), "The PUSH total is not the sum of its parts")


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
