"""One wound at one visit as the screen shows it: steps in the order of work, groups with what stood there last time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from woundfhir.catalogue import Concept
from woundfhir.chart.views import VisitView
from woundfhir.newnote import asked_in, needed_fields
from woundfhir.page import answers, bedside
from woundfhir.page.bedside import Group, concept_at, scope_of, seen_anew, stable_paths
from woundfhir.page.draft import REASON
from woundfhir.page.fields import Around, Field, made, supplies
from woundfhir.page.last import takeable
from woundfhir.page.offers import offers
from woundfhir.page.sight import Sight
from woundfhir.page.texts import say
from woundfhir.record.shapes import words

Json = Any
PACKING = "care.packing"
#: What "same" writes besides, worked out and shown beside the button: group -> field.
ALSO = {"next": "plan.next_change", "removed": "care.removed.days_worn"}


@dataclass
class Part:
    """One group on the screen.

    Attributes
    ----------
    key, state
        ``ask``: same or changed; ``done``: taken over; ``settled``: answered, in a line; ``open``: its fields.
    fields
        Those that are shown.
    more
        Concepts that are not shown: path -> name.
    said
        What is taken over, or stood there last time: name and words.
    note
        The note that it is from.
    offer
        What "same" writes besides, worked out: words.
    marks
        Concepts whose answer was taken over and stands in an open field: path -> note that it is from.
    """

    key: str
    state: str
    fields: list[Field] = field(default_factory=list)
    more: list[tuple[str, str]] = field(default_factory=list)
    said: list[tuple[str, str]] = field(default_factory=list)
    note: VisitView | None = None
    offer: str = ""
    marks: dict[str, str] = field(default_factory=dict)
    scope: str = ""
    care: bool = False

    @property
    def shown(self) -> bool:
        """Whether it has anything to show."""
        return bool(self.fields or self.said)

    @property
    def names(self) -> list[str]:
        """The names of every field that is shown: what a form that is sent without a script holds."""
        return [one.name for one in walk(self.fields)]


@dataclass
class Shown:
    """One step on the screen."""

    key: str
    parts: list[Part]

    @property
    def empty(self) -> bool:
        """Whether nothing of it is asked, answered or opened."""
        return not any(part.shown for part in self.parts)

    @property
    def more(self) -> list[tuple[str, str]]:
        """What may be added to it."""
        return [one for part in self.parts for one in part.more]


def walk(fields: Sequence[Field]) -> Iterator[Field]:
    """Yield fields and those inside them."""
    for one in fields:
        yield one
        yield from walk(one.fields)
        for item in one.items:
            yield from walk(item)


def steps(sight: Sight) -> list[Shown]:
    """Return the steps of a visit."""
    asked = {concept.path for concept in asked_in(sight.entry)}
    offered = offers(sight)
    return [Shown(step.key, [_part(group, sight, asked, offered) for group in step.groups]) for step in bedside.steps()]


def _part(group: Group, sight: Sight, asked: set[str], offered: dict[str, list[tuple[str, str]]]) -> Part:
    scope = scope_of(group.paths[0], sight.wound)
    flat = sight.draft.of(scope)
    there = {answers.concept_of(name) for name in flat}
    opened = sight.opened(scope)
    taken = takeable(group, sight.last)
    part = Part(group.key, _state(group, sight, scope, there, bool(taken)), scope=scope, care=group.care)
    if group.when == "packed":
        return _count_out(part, sight, flat, offered)
    shown = [path for path in group.paths if path in asked or path in there or path in opened or group.always]
    if part.state != "open":
        shown = [path for path in group.paths if path in asked or path in there or path in taken or group.always]
        _say(part, group, flat, taken, offered)
    part.more = [(path, _name(path)) for path in group.paths if path not in shown and path not in taken]
    around = Around(flat, sight.last.used, sight.last.values, _shown_fields(shown, sight, opened), offered, opened)
    part.fields = [supplies(around) if path == answers.SUPPLIES else made(_concept(path), around) for path in shown]
    if group.key == "packing" and _inside(sight):
        _without(part.fields, "pieces_out")
    if part.state != "open":
        part.fields = _only_anew(part.fields, part.state, asked)
    part.marks = {path: source for path, source in sight.draft.marks(scope).items() if path in group.paths}
    return part


def _concept(path: str) -> Concept:
    concept = concept_at(path)
    assert concept is not None
    return concept


def _state(group: Group, sight: Sight, scope: str, there: set[str], last: bool) -> str:
    if group.settles and group.key not in sight.draft.opened.get(scope, []) and set(group.paths) <= there:
        return "settled"
    if not group.again or {group.key, *group.paths} & {one.rstrip("+") for one in sight.opened(scope)}:
        return "open"
    if sight.draft.marks(scope).keys() & (set(group.paths) - stable_paths()):
        return "done"
    mine = {
        answers.concept_of(name)
        for name in sight.draft.of(scope)
        if not seen_anew(name) and answers.concept_of(name) in set(group.paths) - stable_paths()
    }
    return "ask" if last and not mine else "open"


def _say(part: Part, group: Group, flat: answers.Flat, taken: Any, offered: dict[str, list[tuple[str, str]]]) -> None:
    """Write what stands there now, or what stood there last time."""
    held = (
        flat
        if part.state in ("done", "settled")
        else {name: v for found, _ in taken.values() for name, v in found.items()}
    )
    if taken:
        part.note = next(visit for _, visit in taken.values())
    nested = answers.entry(held)
    for name in {path.partition(".")[0] for path in group.paths} & {"visit", "client"}:
        nested[name] = answers.answers(name, held)
    for path in group.paths:
        if path == answers.SUPPLIES:
            if items := nested.get(path):
                part.said.append(("", "; ".join(_item(item) for item in items)))
            continue
        name, key = path.split(".")[:2]
        value = nested.get(name, {}).get(key)
        if value is not None:
            part.said.append((_name(path), words(_concept(path), value)))
    if part.state == "ask":
        part.offer = next((said for _, said in offered.get(ALSO.get(group.key, ""), ())), "")


def _item(item: dict[str, Json]) -> str:
    return ", ".join(words(one, item[key]) for key, one in answers.fields_of("supply").items() if key in item)


def _name(path: str) -> str:
    concept = concept_at(path)
    return "" if concept is None else concept.label


def name_of(name: str) -> str:
    """Return what a field of a form is called: its concept, and its own label where it is one of a group.

    Examples
    --------
    >>> name_of("assessment.pain_at_rest"), name_of("care.packing[0].length~"), name_of("note")
    ('Pain at rest', 'Packing: Length', 'Anything else about this wound')
    """
    if name in (answers.NOTE, "visit.note"):
        return say("visit.note")
    if name == REASON:
        return say("sign.reason")
    path = answers.concept_of(name)
    own = name.rpartition(".")[2].rstrip(answers.MARKS)
    fields = answers.fields_of("supply") if path == answers.SUPPLIES else _concept(path).fields
    whole = say("group.supplies") if path == answers.SUPPLIES else _name(path)
    return f"{whole}: {fields[own].label}" if own in fields else whole


def _shown_fields(paths: Sequence[str], sight: Sight, opened: Sequence[str]) -> dict[str, Sequence[str]]:
    """Which fields of each step are shown: those that rules ask for; all of them where the step was opened whole."""
    out: dict[str, Sequence[str]] = {}
    for path in paths:
        concept = concept_at(path)
        if concept is not None and concept.fields and f"{path}+" not in opened:
            needed = needed_fields(concept, sight.entry) or tuple(concept.fields)[:2]
            needed = (*needed, *_used_before(concept, sight))
            out[path] = needed if path != PACKING or _begun(sight) else ("pieces_in",)
    return out


def _used_before(concept: Concept, sight: Sight) -> list[str]:
    """The fields that the last note answers and this one does not yet: what was charted once is asked again."""
    value = sight.last.values.get(concept.path)
    held = value if isinstance(value, dict) else {}
    return [key for key, one in concept.fields.items() if key in held and one.shape in ("choice", "flag")]


def _begun(sight: Sight) -> bool:
    """Whether anything was packed at this visit: before that only the count is asked."""
    flat = sight.draft.of(sight.wound)
    names = [name for name in flat if name.startswith(f"{PACKING}[") and not name.endswith(".pieces_out")]
    return any(flat[name] != ["0"] for name in names)


def _anew(one: Field, state: str, asked: set[str]) -> Field | None:
    """Return a field, or the part of it, that is to be seen anew and is asked for."""
    if one.name in ALSO.values() and (state == "ask" or one.answered):
        return None  # it stands among what was taken over
    if seen_anew(one.name):
        return one if one.answered or answers.concept_of(one.name) in asked else None
    one.fields = _only_anew(one.fields, state, asked)
    one.items = [kept for item in one.items if (kept := _only_anew(item, state, asked))]
    one.part = True
    return one if one.fields or one.items else None


def _only_anew(fields: Sequence[Field], state: str, asked: set[str]) -> list[Field]:
    return [kept for one in fields if (kept := _anew(one, state, asked)) is not None]


def _without(fields: Sequence[Field], key: str) -> None:
    for one in fields:
        one.items = [[inner for inner in item if not inner.name.endswith(f".{key}")] for item in one.items]


def _inside(sight: Sight) -> list[str]:
    """What may still be inside, in words: each item that went in last time, else what the count over the notes says."""
    value = sight.last.values.get(PACKING)
    items = [one for one in value if one.get("pieces_in") != "0"] if isinstance(value, list) else []
    if items:
        concept = _concept(PACKING)
        shown = [{k: v for k, v in item.items() if k not in ("pieces_out", "note")} for item in items]
        return [words(concept, [one]) for one in shown]
    counted = sight.packing
    return [] if counted.least is None or counted.most == 0 else [counted.text]


def _count_out(part: Part, sight: Sight, flat: answers.Flat, offered: dict[str, list[tuple[str, str]]]) -> Part:
    """The pieces that come out: a counter for each item that went in last time."""
    around = Around(flat, sight.last.used, {}, {}, offered)
    for number, said in enumerate(_inside(sight)):
        one = made(_concept(PACKING).fields["pieces_out"], around, f"{PACKING}[{number}].pieces_out")
        one.hint = say("count.inside", words=said)
        part.fields.append(one)
    part.note = sight.last.notes.get(PACKING)
    return part
