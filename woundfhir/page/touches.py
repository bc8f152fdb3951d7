"""What a button does to a draft: same, changed, everything as last time, one more item, one less."""

from __future__ import annotations

import re
from collections.abc import Callable

from woundfhir.errors import InputError
from woundfhir.newnote import asked_in
from woundfhir.page import bedside
from woundfhir.page.answers import MARKS, WHY, concept_of, flat_answer
from woundfhir.page.bedside import Group, concept_at, on_a_form, scope_of, seen_anew, stable_paths
from woundfhir.page.draft import VISIT
from woundfhir.page.last import called, takeable
from woundfhir.page.offers import offers
from woundfhir.page.sight import Sight
from woundfhir.page.visit import ALSO

Touch = Callable[[str, Sight, str, str], None]


def do(what: str, sight: Sight, by: str, at: str) -> None:
    """Do what a button says: ``same:cleansing``, ``item:care.packing``.

    Raises
    ------
    InputError
        For a button that the page does not have.
    """
    verb, _, about = what.partition(":")
    touch = TOUCHES.get(verb)
    if touch is None:
        raise InputError("the form", "a button of this page", "Load the page again")
    if verb in ("open", "item", "drop", "take", "empty") and not on_a_form(re.split(r"[|=]", about)[0].rstrip("+")):
        raise InputError("the form", "a field of this page", "Load the page again")
    touch(about, sight, by, at)


def _group(key: str) -> Group:
    found = bedside.group(key)
    if found is None:
        raise InputError("the form", "a group of this page", "Load the page again")
    return found


def same(key: str, sight: Sight, by: str, at: str) -> None:
    """Take over the last answers of a group, but what is to be seen anew."""
    group = _group(key)
    _take(group, sight, by, at)
    offered = offers(sight).get(ALSO.get(key, ""))
    if offered:
        sight.draft.put(sight.wound, {ALSO[key]: [offered[0][0]]}, by, at)
    for one in (key, *group.paths):
        sight.draft.open(scope_of(group.paths[0], sight.wound), one, False)


def _take(group: Group, sight: Sight, by: str, at: str) -> None:
    scope = scope_of(group.paths[0], sight.wound)
    for flat, visit in takeable(group, sight.last).values():
        sight.draft.carry(scope, flat, called(visit), by, at)


def all_care(key: str, sight: Sight, by: str, at: str) -> None:
    """Take over everything that was done and laid on last time, in the groups that nobody has answered yet."""
    for group in bedside.groups():
        flat = sight.draft.of(scope_of(group.paths[0], sight.wound))
        answered = {concept_of(name) for name in flat if not seen_anew(name)}
        if group.care and not answered & set(group.paths):
            same(group.key, sight, by, at)


def changed(key: str, sight: Sight, by: str, at: str) -> None:
    """Open a group: what was done last time to be edited, what was seen empty."""
    group = _group(key)
    scope = scope_of(group.paths[0], sight.wound)
    held = sight.draft.marks(scope).keys() & set(group.paths)
    if group.empties and held:
        names = [n for n in sight.draft.of(scope) if concept_of(n) in held and not seen_anew(n)]
        sight.draft.clear(scope, names, by, at)
    elif not group.empties and not held:
        _take(group, sight, by, at)
    sight.draft.open(scope, key)


def opened(path: str, sight: Sight, by: str, at: str) -> None:
    """Show one more concept, or (``PATH+``) all fields of a step."""
    sight.draft.open(scope_of(path, sight.wound), path)


def stable(sight: Sight, by: str, at: str) -> bool:
    """Take over the stable facts that the note asks for; one that somebody has emptied stays empty.

    Returns
    -------
    bool
        Whether anything was taken over.
    """
    before = sight.draft.number
    if sight.draft.head.get("replaces"):
        return False
    for path in [one.path for one in asked_in(sight.entry) if one.path in stable_paths()]:
        scope = scope_of(path, sight.wound)
        concept = concept_at(path)
        touched = any(concept_of(one.name) == path and one.scope == scope for one in sight.draft.changes)
        if not touched and concept is not None and path in sight.last.values:
            source = called(sight.last.notes[path])
            sight.draft.carry(scope, flat_answer(concept, path, sight.last.values[path]), source, by, at)
    return sight.draft.number > before


def item(path: str, sight: Sight, by: str, at: str) -> None:
    """Open one more item of a group: its number stands behind the path."""
    name, _, number = path.rpartition("|")
    sight.draft.open(scope_of(name, sight.wound), f"{name}[{int(number) if number.isdecimal() else 0}]")


def drop(start: str, sight: Sight, by: str, at: str) -> None:
    """Take out one item of a group."""
    scope = scope_of(start, sight.wound)
    sight.draft.clear(scope, [name for name in sight.draft.of(scope) if name.startswith(f"{start}.")], by, at)
    sight.draft.open(scope, start, False)


def take(given: str, sight: Sight, by: str, at: str) -> None:
    """Write one answer that was offered or chosen: ``plan.next_change=2026-04-07``; several are parted by line ends."""
    name, _, value = given.partition("=")
    scope = VISIT if name.startswith(("visit.", "client.")) else sight.wound
    sight.draft.put(scope, {name: [one for one in value.split("\n") if one]}, by, at)


def keep(about: str, sight: Sight, by: str, at: str) -> None:
    """Let stand what is in the note: of two answers, that of somebody else."""


def empty(name: str, sight: Sight, by: str, at: str) -> None:
    """Take back an answer with all that stands beside it."""
    scope = scope_of(name, sight.wound)
    there = [
        one for one in sight.draft.of(scope) if one.rstrip(MARKS) == name or one.startswith((f"{name}.", f"{name}["))
    ]
    sight.draft.clear(scope, there, by, at)


def refused(about: str, sight: Sight, by: str, at: str) -> None:
    """Open what is written where a client declines: what, why, what was explained, who was told."""
    sight.draft.open(sight.wound, "plan.refusal")


def by_phone(about: str, sight: Sight, by: str, at: str) -> None:
    """Write that the visit was by telephone, and open who looked at the wound and how."""
    sight.draft.put(VISIT, {"visit.purpose": ["phone call"], "visit.setting": ["telephone"]}, by, at)
    sight.draft.put(sight.wound, {"assessment.remote.way": ["telephone"]}, by, at)
    sight.draft.open(sight.wound, "assessment.remote")


def unseen(reason: str, sight: Sight, by: str, at: str) -> None:
    """Write one reason for everything that is to be seen and has no answer yet."""
    flat = sight.draft.of(sight.wound)
    answered = {concept_of(name) for name in flat}
    asked = [one.path for one in asked_in(sight.entry) if one.group == "assessment" and one.path not in answered]
    sight.draft.put(sight.wound, {f"{path}{WHY}": [reason] for path in asked}, by, at)


TOUCHES: dict[str, Touch] = {
    "same": same,
    "all": all_care,
    "change": changed,
    "open": opened,
    "item": item,
    "drop": drop,
    "take": take,
    "keep": keep,
    "empty": empty,
    "refused": refused,
    "phone": by_phone,
    "unseen": unseen,
}
