"""The named conditions of the catalogue's ``when`` and of the rules: "dressing change", "open wound" ...

A condition is said once, for the view that it is about. Asked of another view it is carried over: an entry asks
its visit and its wound; a visit asks whether one of its entries holds it; a wound asks its newest entry, and for a
condition of a visit the newest note of the record; the record and the client ask whether any wound holds it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from woundfhir.chart.notes import EntryView, VisitView
    from woundfhir.chart.views import WoundView

#: Visits at which nobody looks at the wound; an entry of theirs need not hold an assessment.
_AWAY = frozenset(("phone call", "advice", "transfer", "discharge"))
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
#: Findings of the skin around the wound that reach some way from the edge.
_SPREAD = frozenset(("erythema", "maceration", "warm"))
_SPREAD_WORDS = frozenset(("indurated", "oedema", "excoriated", "rash", "bruised", "hardened tissue", "fungal rash"))


#: What a condition is about; ``any`` says the same of every view.
About = Literal["any", "wound", "visit", "entry"]


@dataclass(frozen=True, slots=True)
class Condition:
    """A named condition: what it says in words, which view it is about, and its test."""

    name: str
    says: str
    scope: About
    test: Callable[[Any], bool]


CONDITIONS: dict[str, Condition] = {}


Test = Callable[[Any], bool]


def _condition(name: str, says: str, scope: About) -> Callable[[Test], Test]:
    def register(test: Test) -> Test:
        CONDITIONS[name] = Condition(name, says, scope, test)
        return test

    return register


def holds(view: Any, name: str) -> bool:
    """Whether a condition holds for a view of any scope; each is worked out once for a view.

    Raises
    ------
    KeyError
        For a name that is no condition.
    """
    known = view._held.get(name)
    if known is None:
        known = view._held[name] = _holds(view, CONDITIONS[name])
    return known  # type: ignore[no-any-return]


def all_hold(view: Any, names: Sequence[str]) -> bool:
    """Whether all conditions hold together; for a visit: for one and the same wound."""
    if view.scope == "visit" and view.entries and len(names) > 1:
        return any(all(holds(entry, name) for name in names) for entry in view.entries if not entry.wound.in_error)
    held = view._held
    for name in names:
        known = held.get(name)
        if known is None:
            known = holds(view, name)
        if not known:
            return False
    return True


def _holds(view: Any, condition: Condition) -> bool:
    if condition.scope in (view.scope, "any"):
        return condition.test(view)
    if view.scope == "entry":
        return holds(view.wound if condition.scope == "wound" else view.visit, condition.name)
    if view.scope == "visit":
        return any(holds(entry, condition.name) for entry in view.entries if not entry.wound.in_error)
    if view.scope == "wound":
        nearest = view.newest if condition.scope == "entry" else view.record.newest
        return nearest is not None and holds(nearest, condition.name)
    record = view if view.scope == "record" else view.record
    if condition.scope == "visit":
        return record.newest is not None and holds(record.newest, condition.name)
    return any(holds(wound, condition.name) for wound in record.wounds if not wound.in_error)


# -- the visit ---------------------------------------------------------------------------------


@_condition("always", "always", "any")
def _always(view: Any) -> bool:
    return True


@_condition("visit", "at every visit", "visit")
def _visit(visit: VisitView) -> bool:
    return True


@_condition("transfer", "the client goes on to another team: transfer, or discharge with an open wound", "visit")
def _transfer(visit: VisitView) -> bool:
    if "transfer" in visit.purposes or (visit.record.transfer and visit is visit.record.newest):
        return True
    return "discharge" in visit.purposes and any(holds(entry, "open wound") for entry in visit.entries)


@_condition("photo", "a photo was taken", "visit")
def _photo(visit: VisitView) -> bool:
    return any(entry.wrote("photos") or entry.has("care.photography") for entry in visit.entries)


# -- the wound ---------------------------------------------------------------------------------


def _kind(name: str, says: str, *tags: str) -> None:
    wanted = frozenset(tags)
    _condition(name, says, "wound")(lambda wound: bool(wanted & wound.tags("wound.kind")))


_kind("pressure injury", "the wound is a pressure injury", "pressure")
_kind("lower limb ulcer", "the wound is an ulcer of the lower limb", "lower limb")
_kind("venous ulcer", "the wound is a venous or mixed leg ulcer", "venous")
_kind("arterial ulcer", "the wound is an arterial or mixed leg ulcer", "arterial")
_kind("diabetic foot", "the wound is a diabetic foot ulcer", "diabetic foot")
_kind("skin tear", "the wound is a skin tear", "skin tear")
_kind("burn", "the wound is a burn", "burn")
_kind("surgical wound", "the wound is a surgical wound", "surgical")
_kind("malignant wound", "the wound is malignant", "malignant")
_kind("needs offloading", "the wound is a pressure injury or a diabetic foot ulcer", "pressure", "diabetic foot")


@_condition("closed wound", "the wound is closed", "wound")
def _closed(wound: WoundView) -> bool:
    return wound.status == "closed"


@_condition("sided", "the site is one that has a left and a right", "wound")
def _sided(wound: WoundView) -> bool:
    site = wound.word("wound.site")
    return site is not None and site not in _MIDLINE


# -- the wound at the visit --------------------------------------------------------------------


@_condition("first assessment", "the first assessment by its purpose; without one the first note on the wound", "entry")
def _first(entry: EntryView) -> bool:
    return "first assessment" in entry.visit.purposes or (not entry.visit.purposes and entry.nth == 0)


@_condition("full assessment", "a full or first assessment", "entry")
def _full(entry: EntryView) -> bool:
    return "full assessment" in entry.visit.purposes or holds(entry, "first assessment")


@_condition("dressing change", "the dressing was changed: the visit's purpose says so, or care is written", "entry")
def _change(entry: EntryView) -> bool:
    return "dressing change" in entry.visit.purposes or any(entry.has(f"care.{step}") for step in _CHANGE_STEPS)


@_condition("assessed", "somebody looked at the wound", "entry")
def _assessed(entry: EntryView) -> bool:
    purposes = entry.visit.purposes
    return not purposes or not purposes <= _AWAY or entry.wrote("assessment") or entry.wrote("care")


@_condition("open wound", "the wound is not closed, and the skin is broken (not stage 1, deep tissue injury)", "entry")
def _open(entry: EntryView) -> bool:
    wound = entry.wound
    if wound.in_error or entry.word("assessment.healing_trend") == "resolved":
        return False
    if wound.status == "closed":
        closed, day = wound.day_of("wound.closed"), entry.day
        if closed is not None and day is not None:
            return day < closed
        return entry is not wound.newest
    stage = entry.tags("assessment.pressure_injury_stage") or wound.tags("wound.stage")
    return not ("stage:1" in stage or "deep tissue" in stage)


@_condition("exudate written", "an amount of exudate is written", "entry")
def _exudate_written(entry: EntryView) -> bool:
    return entry.word("assessment.exudate_amount") is not None


@_condition("exudate present", "there is exudate", "entry")
def _exudate(entry: EntryView) -> bool:
    return entry.has("assessment.exudate_amount")


@_condition("size written", "a size is written", "entry")
def _size(entry: EntryView) -> bool:
    return any(entry.has(f"assessment.{key}") for key in ("length", "width", "area"))


@_condition("skin changed", "the skin around the wound is changed in a way that reaches some distance", "entry")
def _skin(entry: EntryView) -> bool:
    if _SPREAD & entry.tags("assessment.periwound"):
        return True
    return not _SPREAD_WORDS.isdisjoint(entry.words("assessment.periwound"))


@_condition("undermined or tunnelling", "undermining or a tunnel is written", "entry")
def _undermined(entry: EntryView) -> bool:
    return entry.has("assessment.undermining") or entry.has("assessment.tunnels")


@_condition("deep wound", "full thickness is lost: stage, burn, undermining, tunnel, depth above the policy's", "entry")
def _deep(entry: EntryView) -> bool:
    lost = entry.tags("assessment.pressure_injury_stage") | entry.tags("assessment.burn_depth")
    lost |= entry.tags("wound.stage")
    return "full thickness" in lost or holds(entry, "undermined or tunnelling") or _below(entry)


@_condition("deep space", "a cavity, undermining or tunnel deeper than the policy's depth for packing", "entry")
def _space(entry: EntryView) -> bool:
    least = entry.record.policy.number("packing.depth")
    for path in ("assessment.undermining", "assessment.tunnels"):
        for item in entry.items(path):
            depth = item.measure("depth", "cm")
            if depth is None or depth > least:
                return True
    return _below(entry)


def _below(entry: EntryView) -> bool:
    depth = entry.measure("assessment.depth", "cm")
    return depth is not None and depth > entry.record.policy.number("packing.depth")
