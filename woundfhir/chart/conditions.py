"""The named conditions of the catalogue's ``when`` and of the rules; their words stand in ``texts/``."""

from __future__ import annotations

from typing import Any

from woundfhir.chart.conditional import CONDITIONS, Condition, all_hold, condition, holds
from woundfhir.chart.notes import EntryView, VisitView, WoundView

__all__ = ["CONDITIONS", "SIZES", "Condition", "all_hold", "holds"]

#: Visits at which nobody looks at the wound; an entry of theirs need not hold an assessment.
_AWAY = frozenset(("phone call", "advice", "transfer", "discharge", "supply delivery", "not due today", "none"))
#: Steps that show that a dressing was changed.
_CHANGE_STEPS = (
    "removed",
    "cleansing",
    "debridement",
    "packing",
    "primary_dressing",
    "secondary_dressing",
    "securement",
)
#: Sites in the middle of the body: no side is asked for.
_MIDLINE = frozenset(
    (
        "sacrum",
        "coccyx",
        "abdomen",
        "umbilicus",
        "back",
        "lower back",
        "chest",
        "face",
        "forehead",
        "nose",
        "lip",
        "chin",
        "scalp",
        "back of head",
        "neck",
        "perineum",
        "perianal skin",
        "gluteal fold",
        "natal cleft",
        "scrotum",
        "penis",
        "mucous membrane",
        "nail",
        "head",
        "top of head",
        "around the mouth",
        "pelvis",
        "lower abdomen",
        "anus",
        "gum",
        "tongue",
        "vagina",
    )
)
#: Answers that say how large a wound is; depth alone does not.
SIZES = ("assessment.length", "assessment.width", "assessment.area")
#: Findings of the skin around the wound that reach some way from the edge.
_SPREAD = frozenset(("erythema", "maceration", "warm"))
_SPREAD_WORDS = frozenset(("indurated", "oedema", "excoriated", "rash", "bruised", "hardened tissue", "fungal rash"))


# -- the visit ---------------------------------------------------------------------------------


@condition("always", "any")
def _always(view: Any) -> bool:
    return True


@condition("visit", "visit")
def _visit(visit: VisitView) -> bool:
    return True


@condition("transfer", "visit")
def _transfer(visit: VisitView) -> bool:
    if "transfer" in visit.purposes or (visit.record.transfer and visit is visit.record.judged[-1]):
        return True
    return "discharge" in visit.purposes and any(holds(entry, "open wound") for entry in visit.entries)


@condition("photo", "visit")
def _photo(visit: VisitView) -> bool:
    return any(entry.wrote("photos") or entry.has("care.photography") for entry in visit.entries)


# -- the wound ---------------------------------------------------------------------------------


def _kind(name: str, *tags: str) -> None:
    wanted = frozenset(tags)
    condition(name, "wound")(lambda wound: bool(wanted & wound.tags("wound.kind")))


_kind("pressure injury", "pressure")
_kind("lower limb ulcer", "lower limb")
_kind("venous ulcer", "venous")
_kind("arterial ulcer", "arterial")
_kind("diabetic foot", "diabetic foot")
_kind("skin tear", "skin tear")
_kind("burn", "burn")
_kind("surgical wound", "surgical")
_kind("malignant wound", "malignant")
_kind("needs offloading", "pressure", "diabetic foot")


@condition("closed wound", "wound")
def _closed(wound: WoundView) -> bool:
    return wound.status == "closed" and wound.closed


@condition("sided", "wound")
def _sided(wound: WoundView) -> bool:
    site = wound.word("wound.site")
    return site is not None and site not in _MIDLINE


# -- the wound at the visit --------------------------------------------------------------------


@condition("refused", "entry")
def _refused(entry: EntryView) -> bool:
    said = entry.has("plan.refusal") or "refused" in entry.tags("care.response.tolerated")
    return said and not _dressed(entry)


@condition("left covered", "entry")
def _left_covered(entry: EntryView) -> bool:
    """Whether the visit was for another wound's change: this one was not dressed, and by its own plan not due."""
    if "dressing change" not in entry.purposes or entry.has("plan.purpose_here") or _dressed(entry):
        return False
    if entry.wrote("assessment") and "full assessment" in entry.purposes:
        return False
    last = entry.latest(_dressed)
    due = None if last is None else last.day_of("plan.next_change")
    if due is not None and (entry.day is None or due <= entry.day):
        return False
    return any(other is not entry and _dressed(other) for other in entry.visit.entries)


def _dressed(entry: EntryView) -> bool:
    """Whether something was taken off the wound, done to it or laid on it."""
    return any(entry.has(f"care.{step}") for step in _CHANGE_STEPS)


@condition("first assessment", "entry")
def _first(entry: EntryView) -> bool:
    if holds(entry, "refused") or holds(entry, "left covered"):
        return False
    return "first assessment" in entry.purposes or (not entry.purposes and entry.nth == 0)


@condition("full assessment", "entry")
def _full(entry: EntryView) -> bool:
    if holds(entry, "refused") or holds(entry, "left covered"):
        return False
    return "full assessment" in entry.purposes or holds(entry, "first assessment")


@condition("dressing change", "entry")
def _change(entry: EntryView) -> bool:
    if holds(entry, "refused") or holds(entry, "left covered") or _by_telephone(entry):
        return False
    return "dressing change" in entry.purposes or _dressed(entry)


def _by_telephone(entry: EntryView) -> bool:
    """Whether nobody of the team was there: what is charted all the same is asked about by SE45."""
    purposes = entry.purposes
    return entry.word("visit.setting") == "telephone" and bool(purposes) and purposes <= _AWAY


@condition("assessed", "entry")
def _assessed(entry: EntryView) -> bool:
    if holds(entry, "refused") or holds(entry, "left covered") or _by_telephone(entry):
        return False
    purposes = entry.purposes
    return not purposes or not purposes <= _AWAY or entry.wrote("assessment") or entry.wrote("care")


@condition("not closed", "entry")
def _not_closed(entry: EntryView) -> bool:
    wound = entry.wound
    if wound.in_error or (entry.word("assessment.healing_trend") == "resolved" and not _has_a_size(entry)):
        return False
    if wound.status == "closed" and (wound.closed or entry.episode_start < wound.episode[0].nth):
        closed, day = wound.day_of("wound.closed"), entry.day
        if closed is not None and day is not None:
            return day < closed
        return entry is not wound.newest
    return True


def _has_a_size(entry: EntryView) -> bool:
    """Whether a wound that is called resolved has a size: which one holds is asked by SE46, and nothing is left out."""
    return any((entry.number(path) or 0) > 0 for path in (*SIZES, "assessment.depth"))


@condition("fresh injury", "entry")
def _fresh_injury(entry: EntryView) -> bool:
    burnt = holds(entry, "burn") and holds(entry, "first assessment")
    return entry.nth == 0 and (burnt or "injury" in entry.wound.tags("wound.kind"))


@condition("dressing laid on", "entry")
def _laid_on(entry: EntryView) -> bool:
    return not entry.none("care.primary_dressing") or entry.has("care.secondary_dressing")


@condition("open wound", "entry")
def _open(entry: EntryView) -> bool:
    if not holds(entry, "not closed"):
        return False
    wound = entry.wound
    stage = entry.tags("assessment.pressure_injury_stage") or wound.tags("wound.stage")
    return not ("stage:1" in stage or "deep tissue" in stage)


@condition("exudate present", "entry")
def _exudate(entry: EntryView) -> bool:
    return entry.has("assessment.exudate_amount")


@condition("size written", "entry")
def _size(entry: EntryView) -> bool:
    return any(entry.has(path) and entry.number(path) != 0 for path in SIZES)


@condition("skin changed", "entry")
def _skin(entry: EntryView) -> bool:
    if _SPREAD & entry.tags("assessment.periwound"):
        return True
    return not _SPREAD_WORDS.isdisjoint(entry.words("assessment.periwound"))


@condition("undermined or tunnelling", "entry")
def _undermined(entry: EntryView) -> bool:
    return entry.has("assessment.undermining") or entry.has("assessment.tunnels")


@condition("deep wound", "entry")
def _deep(entry: EntryView) -> bool:
    lost = entry.tags("assessment.pressure_injury_stage") | entry.tags("assessment.burn_depth")
    lost |= entry.tags("wound.stage")
    return "full thickness" in lost or holds(entry, "undermined or tunnelling") or _below(entry)


@condition("infected or deep", "entry")
def _infected_or_deep(entry: EntryView) -> bool:
    return entry.has("assessment.infection_signs") or holds(entry, "deep wound")


@condition("deep space", "entry")
def _space(entry: EntryView) -> bool:
    least = entry.record.limit("packing.depth")
    for path in ("assessment.undermining", "assessment.tunnels"):
        for item in entry.items(path):
            depth = item.amount("depth", "cm")
            if depth is None or not depth.at_most(least):
                return True
    return _below(entry)


def _below(entry: EntryView) -> bool:
    depth = entry.amount("assessment.depth", "cm")
    return depth is not None and depth.above(entry.record.limit("packing.depth"))
