"""One wound, as the next nurse finds it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.handover.summary.care import Recipe, is_change, recipe
from woundfhir.handover.summary.course import Change, Size, deep, measured
from woundfhir.handover.summary.packing import Packing, packing
from woundfhir.handover.summary.words import Fact, facts, group_words, known, part, said
from woundfhir.measures.course import course
from woundfhir.record import History

Json = Any
Items = list[tuple[dict[str, Json], Mapping[str, Json]]]

_STATE = (
    "tissue",
    "edge",
    "exposed",
    "exudate_amount",
    "exudate_type",
    "odour",
    "periwound",
    "pain_at_rest",
    "pain_at_change",
    "infection_signs",
)
_PLAN = (
    "change_every",
    "change_reason",
    "goal",
    "healability",
    "next_full_assessment",
    "offloading",
    "pain_plan",
    "compression_plan",
    "escalation",
    "referral",
    "reassessment",
)


@dataclass(frozen=True, slots=True)
class WoundSummary:
    """One wound, as the next nurse finds it.

    Attributes
    ----------
    id, status, kind, site, side, place, onset, stage, closed
        As written; None where not written. ``stage`` is the newest, of the assessments or of the wound.
    size, first
        Newest and first measurement.
    since_first, since_last
        Change of area, None with fewer than two measurements.
    deep, state
        Newest undermining and tunnels; newest tissue, edge, exudate, odour, skin around, pain, signs of infection.
    recipe, packing, last_change
        The newest dressing change, the pieces of packing inside, the time of that change.
    seen
        The newest note about it.
    next_change, change_by
        As planned at the newest dressing change or after it: an older plan is no longer due.
    plan
        The newest facts of the plan.
    pressures, compression
        Newest limb pressures of each side; the newest compression.
    indices, compression_brief
        The same in short: the indices and toe pressure; system, layers and pressure.
    learnt
        Previous treatments, what worked and what did not.
    supplies
        What is left in the home.
    """

    id: str
    status: str
    kind: str | None
    site: str | None
    side: str | None
    place: str | None
    onset: str | None
    stage: Fact | None
    closed: str | None
    size: Size | None
    first: Size | None
    since_first: Change | None
    since_last: Change | None
    deep: tuple[Fact, ...]
    state: tuple[Fact, ...]
    recipe: Recipe | None
    packing: Packing
    last_change: str | None
    next_change: Fact | None
    change_by: Fact | None
    plan: tuple[Fact, ...]
    pressures: tuple[Fact, ...]
    indices: tuple[Fact, ...]
    compression: Fact | None
    compression_brief: Fact | None
    learnt: tuple[Fact, ...]
    supplies: tuple[Fact, ...]
    seen: str | None

    @property
    def name(self) -> str:
        """Kind, side, site and place in one line."""
        found = [
            self.kind or "wound, kind not written",
            " ".join(part for part in (self.side, self.site) if part),
            self.place,
        ]
        return ", ".join(part for part in found if part)

    def planned(self, key: str) -> Fact | None:
        """Return one fact of the plan."""
        label = catalogue().groups["plan"][key].label
        return next((fact for fact in self.plan if fact.label == label), None)

    def found(self, key: str) -> Fact | None:
        """Return the newest finding of one concept of the assessment."""
        label = catalogue().groups["assessment"][key].label
        return next((fact for fact in (*self.deep, *self.state) if fact.label == label), None)

    @property
    def closed_now(self) -> bool:
        """Whether the wound is said to be closed."""
        return self.status == "closed" or self.closed is not None


def wound_summary(history: History, raw: dict[str, Json]) -> WoundSummary:
    """Return the facts of one wound.

    Parameters
    ----------
    history
        The record with the notes that count alone, oldest first.
    raw
        The wound.
    """
    seen = list(history.entries(raw["id"]))
    assessments, cares, plans = part(seen, "assessment"), part(seen, "care"), part(seen, "plan")
    concepts = catalogue().groups["wound"]
    words = {
        key: said(concepts[key], raw[key]) if known(raw.get(key)) else None
        for key in ("kind", "site", "side", "place", "onset", "closed")
    }
    sized = measured(assessments, course(history, raw["id"]))
    last = next((index for index in reversed(range(len(seen))) if is_change(seen[index][1].get("care", {}))), None)
    since = part(seen[last:] if last is not None else seen, "plan")
    planned, by = facts(since, "plan", "next_change"), facts(since, "plan", "change_by")
    return WoundSummary(
        id=raw["id"],
        status=raw.get("status", "open"),
        **words,
        stage=_stage(raw, assessments),
        size=sized.size,
        first=sized.first,
        since_first=sized.since_first,
        since_last=sized.since_last,
        deep=deep(assessments),
        state=facts(assessments, "assessment", *_STATE),
        recipe=recipe(cares),
        packing=packing(cares),
        last_change=None if last is None else seen[last][0].get("at"),
        next_change=planned[0] if planned else None,
        change_by=by[0] if by else None,
        plan=facts(plans, "plan", *_PLAN),
        pressures=_pressures(assessments),
        indices=_pressures(assessments, _INDICES),
        compression=_compression(cares),
        compression_brief=_compression(cares, _COMPRESSION),
        learnt=_learnt(raw),
        supplies=_supplies(seen),
        seen=seen[-1][0].get("at") if seen else None,
    )


def _stage(raw: dict[str, Json], assessments: Items) -> Fact | None:
    found = facts(assessments, "assessment", "pressure_injury_stage") or facts(
        assessments, "assessment", "skin_tear_type", "burn_depth"
    )
    if found:
        return found[0]
    return Fact("Stage", said(catalogue().groups["wound"]["stage"], raw["stage"])) if known(raw.get("stage")) else None


def _learnt(raw: dict[str, Json]) -> tuple[Fact, ...]:
    concepts = catalogue().groups["wound"]
    return tuple(
        Fact(concepts[key].label, said(concepts[key], raw[key]))
        for key in ("previous_treatments", "effective", "not_effective")
        if known(raw.get(key))
    )


#: What a glance needs of a limb pressure and of a compression.
_INDICES = ("index", "toe_pressure", "toe_index")
_COMPRESSION = ("system", "layers", "target_pressure", "ended")


def _pressures(assessments: Items, keys: tuple[str, ...] = ()) -> tuple[Fact, ...]:
    """The newest limb pressures of each side; their own date where one is written."""
    concept = catalogue().groups["assessment"]["limb_pressure"]
    found: dict[str, Fact] = {}
    for visit, assessment in assessments:
        value = assessment.get("limb_pressure")
        for item in value if isinstance(value, list) else []:
            side = item.get("side") if isinstance(item.get("side"), str) else "side not written"
            own = item["date"] if isinstance(item.get("date"), str) else visit.get("at")
            found[side] = Fact(str(side), _brief(concept, item, keys) or "no index written", own)
    return tuple(found.values())


def _brief(concept: Concept, item: Mapping[str, Json], keys: tuple[str, ...]) -> str:
    kept = {key: value for key, value in item.items() if not keys or key in keys}
    return group_words(concept, kept, ("side", "date"))


def _compression(cares: Items, keys: tuple[str, ...] = ()) -> Fact | None:
    concept = catalogue().groups["care"]["compression"]
    for visit, care in reversed(cares):
        value = care.get("compression")
        if known(value):
            words = _brief(concept, value, keys) if isinstance(value, dict) else said(concept, value)
            return Fact(concept.label, words or "system not written", visit.get("at"))
    return None


def _supplies(seen: list[tuple[dict[str, Json], dict[str, Json]]]) -> tuple[Fact, ...]:
    """What is left of each item, newest count."""
    left: dict[tuple[str, str], Fact] = {}
    for visit, entry in seen:
        for item in entry.get("supplies", ()):
            if isinstance(item.get("left"), str):
                name = item["item"] if isinstance(item.get("item"), str) else "item not written"
                size = item["size"] if isinstance(item.get("size"), str) else ""
                left[name, size] = Fact(f"{name}, {size}" if size else name, item["left"], visit.get("at"))
    return tuple(left.values())
