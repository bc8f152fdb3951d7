"""CarePlan and Goal: how often to change, when next, what for; the findings a plan rests on as Observations."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from woundfhir.fhir.elements import (
    extension,
    find_extension,
    first,
    read_date,
    read_note,
    target,
    write_date,
    write_note,
)
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources import observation
from woundfhir.fhir.resources.concepts import absent_concept, read_absent
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms, has_code
from woundfhir.fhir.write_context import Resource, VisitContext
from woundfhir.record.quantity import parse
from woundfhir.record.rhythm import Rhythm, rhythm

Json = Any
_STATUS = {"preliminary": "draft", "entered-in-error": "entered-in-error", "unknown": "unknown"}
#: UCUM time units -> FHIR's UnitsOfTime (R4): the codes are the same; these are the ones that Timing admits.
_PERIODS = frozenset(("s", "min", "h", "d", "wk", "mo", "a"))
_SPANS = {"d": "day", "wk": "week", "mo": "month"}


# -- writing ---------------------------------------------------------------------------------------


def write_plan(context: VisitContext, entry: Mapping[str, Json]) -> None:
    """Write the plan of one wound at one visit."""
    plan = entry.get("plan")
    if plan is None:
        return
    out, terms = context.out, context.out.terms
    place = f"{context.place}/plan"
    slot = len(out.resources)
    support: list[dict[str, str]] = []
    for key, term in terms.groups["plan"].items():
        if key in plan and term.concept.native is None:
            observation.write(context, term, plan[key], support, plan)
    made = out.head("CarePlan", place, terms.meta("plan"))
    made["identifier"] = out.identifier(place)
    made["status"] = _STATUS.get(context.status, "active")
    made["intent"] = "plan"
    made["category"] = [terms.cc["plan_category"], terms.cc["plan_category_assess_plan"]]
    made["subject"] = out.patient
    made["encounter"] = context.encounter
    made.update(context.date("created"))
    if context.author is not None:
        made["author"] = context.author
    if context.focus is not None:
        made["addresses"] = context.focus
    if support:
        made["supportingInfo"] = support
    if goals := _write_goals(context, terms, plan):
        made["goal"] = goals
    if activities := _write_activities(terms, plan):
        made["activity"] = activities
    made.update(write_note(plan.get("note")))
    out.resources.insert(slot, made)


def _write_goals(context: VisitContext, terms: Terms, plan: Mapping[str, Json]) -> list[dict[str, str]]:
    out = context.out
    goals = []
    for term in terms.natives["plan"].get("goal", ()):
        if term.concept.key not in plan:
            continue
        answer = plan[term.concept.key]
        place = f"{context.place}/{term.concept.key}"
        made = out.head("Goal", place, terms.meta("goal"))
        made["identifier"] = out.identifier(place)
        made["lifecycleStatus"] = {"preliminary": "proposed", "entered-in-error": "entered-in-error"}.get(
            context.status, "active"
        )
        made["category"] = [terms.cc["goal_nursing"]]
        if isinstance(answer, dict):
            made["description"] = absent_concept(terms, answer)
        else:
            key, value = term.member(answer)
            made["description"] = value if key == "valueCodeableConcept" else {"text": answer}
        made["subject"] = out.patient
        if context.focus is not None:
            made["addresses"] = context.focus
        goals.append(out.add(made))
    return goals


def _write_activities(terms: Terms, plan: Mapping[str, Json]) -> list[Json]:
    """One activity for each kind of work that is planned: its rhythm, its next time, who does it, why."""
    details: dict[str, Json] = {}
    for native, terms_of in terms.natives["plan"].items():
        for term in terms_of:
            if native == "goal" or term.concept.key not in plan:
                continue
            name = str(term.concept.activity)
            detail = details.setdefault(name, {})
            answer = plan[term.concept.key]
            if native in ("repeat", "event"):
                timing = detail.setdefault("scheduledTiming", {})
                write = _write_repeat if native == "repeat" else _write_event
                write(terms, timing, answer)
            elif native == "performer":
                missing = absent_concept(terms, answer) if isinstance(answer, dict) else {}
                detail["performer"] = [{**missing, "display": answer["absent"] if missing else answer}]
            else:
                missing = {"_description": absent_concept(terms, answer)} if isinstance(answer, dict) else {}
                detail.update(missing or {"description": answer})
    order = ("kind", "code", "status", "scheduledTiming", "performer", "description", "_description")
    activities = []
    for name, detail in details.items():
        whole = {"kind": "ServiceRequest", "code": terms.cc[name], "status": "scheduled", **detail}
        if timing := whole.get("scheduledTiming"):
            keys = ("extension", "event", "_event", "repeat", "code")
            whole["scheduledTiming"] = {key: timing[key] for key in keys if key in timing}
        activities.append({"detail": {key: whole[key] for key in order if key in whole}})
    return activities


def _write_repeat(terms: Terms, timing: dict[str, Json], answer: Json) -> None:
    """``2 d`` as a Timing that repeats once in two days; other words as the Timing's words."""
    if isinstance(answer, dict):
        timing["extension"] = absent_concept(terms, answer)["extension"]
        return
    found = parse(answer)
    code = terms.catalogue.units.get(found.unit) if found and found.unit else None
    if found is None or found.comparator or code not in _PERIODS or found.number.startswith(("-", "0")):
        if said := rhythm(answer):
            timing["repeat"] = _repeat(said)
        timing["code"] = {"text": answer}
        return
    value: Json = found.exact
    timing["repeat"] = {"frequency": 1, "period": value, "periodUnit": code}
    if found.unit != code:
        timing["code"] = {"text": answer}


def _repeat(said: Rhythm) -> dict[str, Json]:
    """``3 times a week``, ``Mon Wed Fri`` and ``2-3 d`` as a Timing's repeat; the words stand beside it."""
    repeat: dict[str, Json] = {"frequency": said.times, "period": said.period}
    if said.longest is not None:
        repeat["periodMax"] = said.longest
    repeat["periodUnit"] = said.unit
    if said.days:
        repeat["dayOfWeek"] = list(said.days)
    return repeat


def _read_repeat(terms: Terms, timing: Mapping[str, Json]) -> Json:
    if "extension" in timing and (missing := read_absent(terms, timing)) is not None:
        return missing
    words = (timing.get("code") or {}).get("text")
    repeat = timing.get("repeat") or {}
    if words or "period" not in repeat:
        return words
    if (times := repeat.get("frequency", 1)) != 1:
        span = _SPANS.get(repeat.get("periodUnit", "")) if repeat["period"] == 1 else None
        return f"{times} times a {span}" if span else None
    return f"{repeat['period']} {repeat.get('periodUnit', '')}".strip()


def _write_event(terms: Terms, timing: dict[str, Json], answer: Json) -> None:
    if isinstance(answer, dict):
        timing["_event"] = [absent_concept(terms, answer)]
        return
    made = write_date("event", answer, terms.written_as)
    timing.update({key: [value] for key, value in made.items()})


def _read_event(terms: Terms, timing: Mapping[str, Json]) -> Json:
    beside = first(timing.get("_event"))
    missing = read_absent(terms, beside)
    if missing:
        return missing
    holder: dict[str, Json] = {"_event": beside} if beside else {}
    if timing.get("event"):
        holder["event"] = timing["event"][0]
    return read_date(holder, "event", terms.written_as)


# -- reading ---------------------------------------------------------------------------------------


def read(source: ReadContext, resource: Resource, spot: RecordPlace) -> bool:
    """Put one CarePlan and its goals into the plan of its spot."""
    terms = source.terms
    plan = spot.answers("plan")
    if plan is None:
        return False
    own = source.place(resource) is not None or terms.is_ours(resource)
    holds = own or resource.get("status") in _HOLDS
    for number, activity in enumerate(resource.get("activity", ())):
        detail = activity.get("detail") or {}
        name = next((name for name, key in terms.activities.items() if has_code(detail.get("code"), key)), None)
        if name is not None and (own or (holds and detail.get("status") in _STANDS)):
            _read_detail(terms, plan, name, detail, own=own)
            source.mark(resource, ("activity", number, "detail", "scheduledString"))
    goals = list(terms.natives["plan"].get("goal", ()))
    for ref, term in zip(resource.get("goal", ()), goals, strict=False):
        goal = source.follow(ref, resource)
        if goal is not None and goal.get("resourceType") == "Goal" and source.counts(goal):
            description = goal.get("description", {})
            answer = read_absent(terms, description) or _read_goal(term, description)
            if answer is not None:
                plan.setdefault(term.concept.key, answer)
                _place_goal(source, goal, f"{spot.place}/{term.concept.key}")
    note = read_note(resource) if own or not holds else _around(source, resource)
    if note:
        plan["note"] = note
    if not plan and source.place(resource) is None:
        return False  # nothing of it has a place
    source.placed(resource, f"{spot.place}/plan")
    return True


def _place_goal(source: ReadContext, goal: Resource, place: str) -> None:
    """Note where a goal stands; what we made of one that is contained came as well, and says the same."""
    source.placed(goal, place)
    if source.came[id(goal)].holder is not None:
        for ours in source.open("Goal"):
            if source.place(ours) == place:
                source.placed(ours, place)


#: States in which a plan of others, and an activity in it, holds: a draft, and what was called off, plan nothing.
_HOLDS = ("active", "completed", "unknown")
_STANDS = ("not-started", "scheduled", "in-progress", "completed", None)


def _around(source: ReadContext, resource: Resource) -> str | None:
    """What others say of a plan in words: of the whole, and of each of its activities."""
    lines = []
    if isinstance(resource.get("description"), str):
        lines.append(resource["description"])
        source.mark(resource, ("description",))
    for number, activity in enumerate(resource.get("activity", ())):
        detail = activity.get("detail") or {}
        if isinstance(detail.get("description"), str) and detail.get("status") in _STANDS:
            lines.append(detail["description"])
            source.mark(resource, ("activity", number, "detail", "description"))
    note = read_note(resource)
    return "\n".join([*lines, *([note] if note else [])]) or None


def _read_goal(term: Term, description: Json) -> Json:
    return term.codec.read({"valueCodeableConcept": description})


def _read_detail(terms: Terms, plan: dict[str, Json], name: str, detail: Mapping[str, Json], *, own: bool) -> None:
    timing = detail.get("scheduledTiming") or {}
    performer = first(detail.get("performer"))
    answers: dict[str, Callable[[], Json]] = {
        "repeat": lambda: _read_repeat(terms, timing) or (None if own else detail.get("scheduledString")),
        "event": lambda: _read_event(terms, timing),
        "performer": lambda: read_absent(terms, performer) or performer.get("display"),
        # Ours says why this rhythm; that of others says the work, and stands in the note.
        "description": lambda: own and (read_absent(terms, detail.get("_description")) or detail.get("description")),
    }
    for native, found in terms.natives["plan"].items():
        for term in found:
            if native in answers and term.concept.activity == name:
                answer = answers[native]()
                if answer:
                    plan[term.concept.key] = answer


__all__ = ["extension", "find_extension", "read", "target", "write_plan"]
