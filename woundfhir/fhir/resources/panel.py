"""Observation: the panels of an assessment and of a size, and how each Observation that came is read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import find_extension, read_note, values_in
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources.answers import read_value
from woundfhir.fhir.resources.observation import read_answer, read_field_alone, read_part_alone, write
from woundfhir.fhir.resources.worded_size import read_worded_size
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import code_keys
from woundfhir.fhir.write_context import VisitContext

Json = Any
Reference = dict[str, str]


#: Key of the place of the panel that holds the assessment of one wound at one visit.
PANEL = "assessment"


def write_panel(context: VisitContext, entry: Mapping[str, Json]) -> None:
    """Write the assessment of one wound at one visit: the panel and its members."""
    answers = entry.get("assessment")
    note = entry.get("note")
    terms = context.out.terms
    if answers is None and note is None:
        if len(entry) == 1:  # Named and nothing more: the empty panel says that the wound was not looked at.
            missing = terms.reasons.write({"absent": "not performed"})
            context.observation("assessment", terms.meta("assessment-panel"), terms.cc["panel"], missing)
        return
    slot = len(context.out.resources)
    members: list[Reference] = []
    panels: dict[str, list[Json]] = {}
    group = terms.groups["assessment"]
    for key, answer in (answers or {}).items():
        term = group[key]
        if term.concept.resource == "component":
            panels.setdefault(str(term.concept.parent), []).append(term.component(answer))
        else:
            write(context, term, answer, members, answers or {})
    inner: list[Reference] = []
    for panel, parts in panels.items():
        inner.append(context.observation(panel, terms.meta(f"observation-{panel}"), terms.cc[panel], components=parts))
    context.observation(
        "assessment", terms.meta("assessment-panel"), terms.cc["panel"], note=note, members=inner + members
    )
    resources = context.out.resources
    resources.insert(slot, resources.pop())


def read(source: ReadContext, resource: dict[str, Json], spot: RecordPlace) -> bool:
    """Put what one Observation says into the record; False when it says nothing that has a place."""
    terms = source.terms
    keys = source.keys(resource)
    if source.place(resource) is None and read_worded_size(source, resource, spot):
        return True
    for panel, code in ((PANEL, "panel"), *((one, one) for one in terms.panels)):
        if terms.code_key(code) in keys:
            return read_panel(source, resource, spot, panel)
    term = source.term(resource)
    if term is None and (of_parts := panel_of_parts(source, resource)) is not None:
        return _read_size(source, resource, spot, of_parts, terms.panels[of_parts])
    if term is None:
        return _read_container(source, resource)
    if term.parent is not None:
        return read_field_alone(source, resource, spot, term)
    if term.concept.resource == "component":
        return read_part_alone(source, resource, spot, term)
    answers = spot.answers(term.concept.group)
    return answers is not None and read_answer(source, resource, spot, term, answers)


#: Of another panel of a wound and visit whose note is in force.
_SECOND = "another note of this wound and visit is in force; this one is kept beside it"


def read_panel(source: ReadContext, resource: dict[str, Json], spot: RecordPlace, key: str) -> bool:
    """Put what a panel says into the record: its note, or the parts that are its components; ``key`` names it."""
    if key in source.terms.panels:
        return _read_size(source, resource, spot, key, source.terms.panels[key])
    note = read_note(resource)
    second = note is not None and spot.entry.get("note") not in (None, note) and source.place(resource) is None
    if second:  # of two panels of one wound and visit: neither note is lost, and none replaces the other
        source.refuse(resource, _SECOND, "conflict")
        if "component" not in resource:
            return False
    taken = _read_inside(source, resource, spot) if "component" in resource else []
    if note and not second:
        spot.entry["note"] = note
    if source.place(resource) is None and "component" in resource:
        if not (taken or note or "hasMember" in resource):
            return False
        if taken:
            source.show(resource, ("code", source.terms.cc["panel"]), ("component", taken), ("note", [{"text": note}]))
            source.placed(resource, None)
            return True
    source.placed(resource, f"{spot.place}/{PANEL}")
    return True


def _read_inside(source: ReadContext, panel: dict[str, Json], spot: RecordPlace) -> list[Json]:
    """Read answers that a panel holds as its components (of others, and of ours in a dialect); return them as ours."""
    answers = spot.answers("assessment")
    own = source.place(panel) is not None
    taken: list[Json] = []
    for index, part in enumerate(panel["component"]):
        term = source.terms.named(code_keys(part.get("code")))
        if answers is None or term is None or term.parent or term.concept.group != "assessment":
            continue
        answer = read_value(source, term, part, panel) if own or "modifierExtension" not in part else None
        if answer is None:
            continue
        key = term.concept.key
        if term.shape.spread == "each" and isinstance(answer, str) and "valueString" not in part:
            items = answers.setdefault(key, [])
            if not isinstance(items, list):
                continue
            if own or answer not in items:
                items.append(answer)
        elif own or term.spread == "one":
            if source.put(answers, key, answer, panel, f"component[{index}]"):
                answer = answers[key]
        else:
            continue
        if not own:
            source.stands(panel, spot, term.concept, answer)
            taken.append({"code": term.fhir, **dict([term.codec.write(answer)])})
    return taken


def _read_size(
    source: ReadContext, resource: dict[str, Json], spot: RecordPlace, panel: str, parts: list[Term]
) -> bool:
    answers = spot.answers("assessment")
    if answers is None:
        return False
    computed = source.terms.ext("method")
    for index, part in enumerate(resource.get("component", ())):
        keys = set() if find_extension(part, computed) else set(code_keys(part.get("code")))
        for term in parts:
            if not term.concept.keys.isdisjoint(keys) and "modifierExtension" not in part:
                answer = read_value(source, term, part, resource)
                if answer is not None:
                    source.put(answers, term.concept.key, answer, resource, f"component[{index}]")
    source.placed(resource, f"{spot.place}/{panel}")
    return True


def panel_of_parts(source: ReadContext, resource: dict[str, Json]) -> str | None:
    """Return the panel of which an Observation without a code of its own holds parts as its components.

    A code that is not known might say that it is something else: a goal, an estimate, another lesion.
    """
    if (resource.get("code") or {}).get("coding"):
        return None
    keys = {key for part in resource.get("component", ()) for key in code_keys(part.get("code"))}
    found = (
        name for name, parts in source.terms.panels.items() if any(not keys.isdisjoint(t.concept.keys) for t in parts)
    )
    return next(found, None) if keys and not values_in(resource) else None


def _read_container(source: ReadContext, resource: dict[str, Json]) -> bool:
    """A panel of another guide that only holds members says nothing of its own."""
    if "hasMember" in resource and not values_in(resource):
        source.placed(resource, None)
        return True
    return False
