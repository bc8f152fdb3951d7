"""Observation: one for each finding, or several; facts about the client; the panels stand in ``panel.py``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import read_note
from woundfhir.fhir.ids import NAMESPACE, uuid5
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources.answers import components, pointed, read_components, read_value
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import code_keys, has_code
from woundfhir.fhir.write_context import VisitContext
from woundfhir.record.answers import NONE
from woundfhir.record.shapes import shape_of

Json = Any
Reference = dict[str, str]


# -- writing ---------------------------------------------------------------------------------------


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
            if item.keys() == {"note"} and shape_of(term.concept).denied(term.concept, item):
                member = ("valueCodeableConcept", context.out.terms.none)
            parts = components(term, item, main)
            note = item.get("note") if "note" not in term.fields else None
            members.append(
                context.observation(place, term.meta, term.code, member, part_of, note=note, components=parts)
            )


# -- reading ---------------------------------------------------------------------------------------


def read_own(source: ReadContext, resource: dict[str, Json], spot: RecordPlace, term: Term) -> bool:
    """Do what ``read`` does with an Observation of ours, whose place names its term; False where that is no answer."""
    answers, key = spot.answers(term.concept.group), term.concept.key
    if answers is None:
        return False
    if not term.simple:
        return read_answer(source, resource, spot, term, answers)
    if key in answers or (answer := term.codec.read(resource)) is None:
        return False
    answers[key] = answer
    return True


def read_part_alone(source: ReadContext, resource: dict[str, Json], spot: RecordPlace, term: Term) -> bool:
    """Length, width or depth as an Observation of its own (another guide's shape)."""
    answers = spot.answers("assessment")
    answer = read_value(source, term, resource, resource)
    if answers is None or answer is None:
        return False
    if source.put(answers, term.concept.key, answer, resource):
        answer = answers[term.concept.key]  # "2.0 cm" where "2 cm" came as well
    source.placed(resource, None)
    source.stands(resource, spot, term.concept, answer)
    source.show(resource, ("code", term.fhir), term.codec.write(answer))
    return True


def read_field_alone(source: ReadContext, resource: dict[str, Json], spot: RecordPlace, term: Term) -> bool:
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


def read_answer(
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
    note = read_note(resource)
    none = value is not None and source.terms.is_none(value)
    in_words = none and note is not None and shape_of(term.concept).denied(term.concept, {"note": note})
    if none and not in_words and key not in answers:
        answers[key] = NONE
        source.placed(resource, place)
        return True
    item = read_components(source, term, resource)
    if term.main is not None and not in_words:
        found = term.main.codec.read(resource)
        if source.place(resource) is None and (said := pointed(term.main, found)) != found:
            source.mark(resource, ("valueString",))
            found = said
        alone = isinstance(found, dict) and not item and "note" not in resource and source.index(resource) is None
        if found is not None and not alone:
            item[term.main.concept.key] = found
            item = {k: item[k] for k in term.fields if k in item}
    if "note" not in term.fields and note:
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
