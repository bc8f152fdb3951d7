"""Observation: the assessment panel, one Observation for each finding, facts about the client."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import find_extension, read_note
from woundfhir.fhir.ids import NAMESPACE, uuid5
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.terms import Term, code_keys, has_code
from woundfhir.fhir.write_context import VisitContext
from woundfhir.record.answers import NONE

Json = Any
Reference = dict[str, str]
#: Key of the place of the panel that holds the assessment of one wound at one visit.
PANEL = "assessment"


# -- writing ---------------------------------------------------------------------------------------


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
    for panel, components in panels.items():
        inner.append(
            context.observation(panel, terms.meta(f"observation-{panel}"), terms.cc[panel], components=components)
        )
    context.observation(
        "assessment", terms.meta("assessment-panel"), terms.cc["panel"], note=note, members=inner + members
    )
    resources = context.out.resources
    resources.insert(slot, resources.pop())


def write(
    context: VisitContext,
    term: Term,
    answer: Json,
    members: list[Reference],
    answers: Mapping[str, Json],
    part_of: Reference | None = None,
) -> None:
    """Write one of the answers of a group as one Observation or several, and add the references to ``members``.

    What stands within another answer of the group is one of that one's components.
    """
    if term.simple:
        members.append(context.observation(term.concept.key, term.meta, term.code, term.member(answer), part_of))
        return
    key, spread = term.concept.key, term.spread
    if term.concept.within in answers:
        return
    if spread == "group":
        _write_group(context, term, answer, members, part_of)
    elif spread == "each" and isinstance(answer, list):
        for index, word in enumerate(answer, 1):
            member = term.member(word)
            members.append(context.observation(f"{key}/{index}", term.meta, term.code, member, part_of))
    elif spread == "shares" and isinstance(answer, dict) and "absent" not in answer:
        percent = context.out.terms.share_part
        for word, amount in answer.items():
            member = term.member(word)
            parts = [percent.component(amount)]
            place = _share_place(term, word)
            members.append(context.observation(place, term.meta, term.code, member, part_of, components=parts))
    else:
        member = term.member(answer)
        inner = [one.component(answers[name]) for name, one in term.inner.items() if name in answers]
        code = term.coded(answers) if term.varies else term.code
        made = context.observation(key, term.meta, code, member, part_of, components=inner)
        members.append(made)


def _share_place(term: Term, word: str) -> str:
    """The place of one share: by the code of its word, so that another share beside it changes nothing."""
    found = term.concept.answers.find(word) if term.concept.answers else None
    name = found.codings[0].code if found and found.word == word and found.codings else uuid5(NAMESPACE.bytes, word)
    return f"{term.concept.key}/{name}"


def _write_group(
    context: VisitContext, term: Term, answer: Json, members: list[Reference], part_of: Reference | None
) -> None:
    key = term.concept.key
    if answer == NONE:
        none = ("valueCodeableConcept", context.out.terms.none)
        members.append(context.observation(key, term.meta, term.code, none, part_of))
    elif isinstance(answer, dict) and "absent" in answer:
        members.append(context.observation(key, term.meta, term.code, term.member(answer), part_of))
    else:
        for index, item in enumerate(answer if isinstance(answer, list) else [answer], 1):
            place = f"{key}/{index}" if term.concept.many else key
            main = term.main
            member = main.member(item[main.concept.key]) if main and main.concept.key in item else None
            parts = components(term, item, main)
            note = item.get("note") if "note" not in term.fields else None
            members.append(
                context.observation(place, term.meta, term.code, member, part_of, note=note, components=parts)
            )


def components(term: Term, item: Mapping[str, Json], without: Term | None = None) -> list[Json]:
    """Return the fields of one item as components; ``without`` is said elsewhere."""
    parts: list[Json] = []
    for key, value in item.items():
        field = term.fields.get(key)
        if field is None or field is without:
            continue
        if field.shape.spread == "each" and isinstance(value, list):
            parts.extend(map(field.component, value))
        else:
            parts.append(field.component(value))
    return parts


# -- reading ---------------------------------------------------------------------------------------


def read_components(term: Term, resource: dict[str, Json]) -> dict[str, Json]:
    """Return the fields that the components of an Observation say, in catalogue order."""
    found: dict[str, Json] = {}
    for part in resource.get("component", ()):
        field = _field(term, part.get("code"))
        if field is None or "modifierExtension" in part:
            continue
        answer = field.codec.read(part)
        if answer is None:
            continue
        key = field.concept.key
        if field.shape.spread == "each" and isinstance(answer, str):
            if isinstance(found.setdefault(key, []), list):
                found[key].append(answer)
        else:
            found.setdefault(key, answer)
    return {key: found[key] for key in term.fields if key in found}


def _field(term: Term, code: Json) -> Term | None:
    """Return the field that a component's code names; the code that a field alone has comes first."""
    known = [(key, term.by_code[key]) for key in code_keys(code) if key in term.by_code]
    own = (field for key, field in known if field.concept.codings and field.concept.codings[0].key == key)
    return next(own, known[0][1] if known else None)


def read(source: ReadContext, resource: dict[str, Json], spot: RecordPlace) -> bool:
    """Put what one Observation says into the record; False when it says nothing that has a place."""
    terms = source.terms
    keys = source.keys(resource)
    for panel, code in ((PANEL, "panel"), *((one, one) for one in terms.panels)):
        if terms.code_key(code) in keys:
            return read_panel(source, resource, spot, panel)
    term = source.term(resource)
    if term is None and (of_parts := panel_of_parts(source, resource)) is not None:
        return _read_size(source, resource, spot, of_parts, terms.panels[of_parts])
    if term is None:
        return _read_container(source, resource)
    if term.parent is not None:
        return _read_lone_field(source, resource, spot, term)
    if term.concept.resource == "component":
        return _read_lone_part(source, resource, spot, term)
    answers = spot.answers(term.concept.group)
    return answers is not None and _read_answer(source, resource, spot, term, answers)


def read_own(source: ReadContext, resource: dict[str, Json], spot: RecordPlace, term: Term) -> bool:
    """Do what ``read`` does with an Observation of ours, whose place names its term; False where that is no answer."""
    answers, key = spot.answers(term.concept.group), term.concept.key
    if answers is None:
        return False
    if not term.simple:
        return _read_answer(source, resource, spot, term, answers)
    if key in answers or (answer := term.codec.read(resource)) is None:
        return False
    answers[key] = answer
    return True


def read_panel(source: ReadContext, resource: dict[str, Json], spot: RecordPlace, key: str) -> bool:
    """Put what a panel says into the record: its note, or the parts that are its components; ``key`` names it."""
    if key in source.terms.panels:
        return _read_size(source, resource, spot, key, source.terms.panels[key])
    if note := read_note(resource):
        spot.entry["note"] = note
    if "component" in resource and source.place(resource) is not None:
        _read_inside(source, resource, spot)
    source.placed(resource, f"{spot.place}/{PANEL}")
    return True


def _read_inside(source: ReadContext, panel: dict[str, Json], spot: RecordPlace) -> None:
    """Answers that a panel of ours holds as its components (a dialect)."""
    answers = spot.answers("assessment")
    for index, part in enumerate(panel["component"]):
        term = source.terms.named(code_keys(part.get("code")))
        answer = read_value(source, term, part, panel) if term is not None else None
        if answers is None or term is None or answer is None or term.parent or term.concept.group != "assessment":
            continue
        if term.shape.spread == "each" and isinstance(answer, str) and "valueString" not in part:
            items = answers.setdefault(term.concept.key, [])
            if isinstance(items, list):
                items.append(answer)
        else:
            source.put(answers, term.concept.key, answer, panel, f"component[{index}]")


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
    return next(found, None) if keys and not any(key.startswith("value") for key in resource) else None


def _read_container(source: ReadContext, resource: dict[str, Json]) -> bool:
    """A panel of another guide that only holds members says nothing of its own."""
    if "hasMember" in resource and not any(key.startswith("value") for key in resource):
        source.placed(resource, None)
        return True
    return False


def _read_lone_part(source: ReadContext, resource: dict[str, Json], spot: RecordPlace, term: Term) -> bool:
    """Length, width or depth as an Observation of its own (another guide's shape)."""
    answers = spot.answers("assessment")
    answer = read_value(source, term, resource, resource)
    if answers is None or answer is None:
        return False
    source.put(answers, term.concept.key, answer, resource)
    source.placed(resource, None)
    source.stands(resource, spot, term.concept, answer)
    source.show(resource, ("code", term.fhir), term.codec.write(answer))
    return True


def _read_lone_field(source: ReadContext, resource: dict[str, Json], spot: RecordPlace, term: Term) -> bool:
    """One field of a group as an Observation of its own: where each stands once, they are one item.

    Where one stands several times, nothing says which of the others belongs to which.
    """
    parent = source.terms.groups[term.concept.group][str(term.concept.of)]
    answers = spot.answers(term.concept.group)
    answer = read_value(source, term, resource, resource)
    if answers is None or answer is None:
        return False
    items = answers.setdefault(parent.concept.key, [] if parent.concept.many else {})
    if not isinstance(items, (list, dict)) or (isinstance(items, dict) and "absent" in items):
        return False
    if isinstance(items, list):
        if source.same_of_ours(items, term.concept, answer):
            source.placed(resource, None)
            source.stands(resource, spot, term.concept, answer)
            source.show(resource, ("code", term.fhir), term.codec.write(answer))
            return True
        if not source.joins(spot, parent, term):
            source.refuse(resource, "belongs to one of several, and does not say to which")
            return False
        item = next((one for one in items if term.concept.key not in one), None)
        if item is None:
            item = {}
            source.add(items, item)
    else:
        item = items
    source.put(item, term.concept.key, answer, resource)
    source.placed(resource, None)
    source.stands(resource, spot, term.concept, answer)
    source.show(resource, ("code", term.fhir), term.codec.write(answer))
    return True


def _read_answer(
    source: ReadContext, resource: dict[str, Json], spot: RecordPlace, term: Term, answers: dict[str, Json]
) -> bool:
    key, spread = term.concept.key, term.shape.spread
    place = f"{spot.place}/{key}"
    if spread == "group":
        return _read_group(source, resource, spot, term, answers)
    answer = read_value(source, term, resource, resource)
    if answer is None:
        return False
    if spread == "each" and isinstance(answer, str) and "valueString" not in resource:
        return source.append(answers, key, answer, resource, place)
    if spread == "shares" and isinstance(answer, str):
        if any(has_code(c.get("code"), _share_code(source)) for c in resource.get("component", ())):
            return _read_share(source, resource, answers, term, answer, spot.place)
        if key in answers and answers[key] != answer and source.place(resource) is None:
            return _add_share(source, resource, answers, key, answer)
    _read_inner(source, resource, term, answers)
    if term.concept.within:  # of its own where the other is not answered, and in what earlier versions wrote
        source.stands(resource, spot, term.concept, answer)
        source.show(resource, ("code", term.fhir), term.codec.write(answer))
    return _put(source, answers, key, answer, resource, place)


def _read_inner(source: ReadContext, resource: dict[str, Json], term: Term, answers: dict[str, Json]) -> None:
    """Put what stands within an answer to its own place."""
    for index, part in enumerate(resource.get("component", ()) if term.inner else ()):
        keys = set(code_keys(part.get("code")))
        for key, inner in term.inner.items():
            if not inner.concept.keys.isdisjoint(keys) and "modifierExtension" not in part:
                answer = read_value(source, inner, part, resource)
                if answer is not None:
                    source.put(answers, key, answer, resource, f"component[{index}]")


def _put(source: ReadContext, answers: dict[str, Json], key: str, answer: Json, resource: Json, place: str) -> bool:
    """Put the one answer that a resource says to its place; a resource that agrees with another stands beside it."""
    fresh = key not in answers
    source.put(answers, key, answer, resource)
    source.placed(resource, place if fresh else None)
    return True


def read_value(source: ReadContext, term: Term, holder: dict[str, Json], resource: dict[str, Json]) -> Json:
    """Return the answer that a resource or a component of it says.

    A coded value of others whose words only say why there is none ("unknown", "not asked") is such a reason.
    """
    answer = term.codec.read(holder)
    if isinstance(answer, str) and "valueCodeableConcept" in holder and source.place(resource) is None:
        listed = term.concept.answers
        if (listed is None or listed.find(answer) is None) and source.terms.reasons.answers.find(answer) is not None:
            return {"absent": answer}
    return answer


#: How much of a tissue there is, where it is only named.
_NO_SHARE = {"absent": "unknown"}


def _share_code(source: ReadContext) -> tuple[str, str]:
    """The code of the component that says how much of a tissue there is."""
    return source.terms.share_part.concept.codings[0].key


def _add_share(source: ReadContext, resource: dict[str, Json], answers: dict[str, Json], key: str, word: str) -> bool:
    """One more tissue that is only named, beside those that are there."""
    known = answers[key]
    if isinstance(known, str):
        known = answers[key] = {known: dict(_NO_SHARE)}
    if "absent" in known:
        return False
    known.setdefault(word, dict(_NO_SHARE))
    source.placed(resource, None)
    return True


def _read_share(
    source: ReadContext, resource: dict[str, Json], answers: dict[str, Json], term: Term, word: str, spot_place: str
) -> bool:
    part = source.terms.share_part
    held = next((c for c in resource["component"] if has_code(c.get("code"), _share_code(source))), None)
    amount = part.codec.read(held) if held else None
    shares = answers.setdefault(term.concept.key, {})
    if isinstance(shares, str) and source.place(resource) is None:
        shares = answers[term.concept.key] = {shares: dict(_NO_SHARE)}
    if amount is None or not isinstance(shares, dict):
        return False
    return _put(source, shares, word, amount, resource, f"{spot_place}/{_share_place(term, word)}")


def _read_group(
    source: ReadContext, resource: dict[str, Json], spot: RecordPlace, term: Term, answers: dict[str, Json]
) -> bool:
    key = term.concept.key
    place = f"{spot.place}/{key}"
    value = resource.get("valueCodeableConcept")
    if value is not None and source.terms.is_none(value) and key not in answers:
        answers[key] = NONE
        source.placed(resource, place)
        return True
    item = read_components(term, resource)
    if term.main is not None:
        found = term.main.codec.read(resource)
        alone = isinstance(found, dict) and not item and "note" not in resource and source.index(resource) is None
        if found is not None and not alone:
            item[term.main.concept.key] = found
            item = {k: item[k] for k in term.fields if k in item}
    if "note" not in term.fields and (note := read_note(resource)):
        item["note"] = note
    if not item:
        missing = source.terms.reasons.read(resource.get("dataAbsentReason"))
        if missing is None or key in answers:
            return False
        answers[key] = missing
        source.placed(resource, place)
        return True
    if term.concept.many:
        return source.append(answers, key, item, resource, place)
    return _put(source, answers, key, item, resource, place)
