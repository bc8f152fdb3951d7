"""Which of the resources that came count: each is judged once, and readers see only a view of what counts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from woundfhir.fhir.came import Came, Resource
from woundfhir.fhir.elements import objects
from woundfhir.fhir.reasons import Reason
from woundfhir.intake import absence, counting
from woundfhir.intake.counting import Verdict
from woundfhir.intake.displays import contradicted
from woundfhir.intake.replaced import mark_replaced
from woundfhir.intake.versions import mark_superseded
from woundfhir.maps import Table, in_force
from woundfhir.maps.apply import applied, codes_in
from woundfhir.record.canonical import to_json

_MODIFIED = Reason("not understood", "has a modifierExtension that is not known here; not interpreted")


def reason_of(said: Verdict) -> Reason:
    """Return why a resource does not count, of a verdict that it does not."""
    return Reason(said.outcome, said.why)  # type: ignore[arg-type]  # a fact has no reason


def _twice(one: Came, other: Came, why: Reason | None) -> bool:
    """Whether one resource came twice, word for word: pages overlap, and people send a thing again."""
    return one.base == other.base and one.reason == why and one.original == other.original


class _Hints(NamedTuple):
    """What may stand in an input at all, so that it is looked for."""

    modified: bool
    codes: tuple[bytes, ...]
    table: Table


def judge(came: list[Came], deleted: set[str], text: bytes) -> tuple[list[Came], list[tuple[Came, Came]]]:
    """Judge everything that came, once: readers see only views that count.

    Parameters
    ----------
    came
        The resources, in the order in which they are read.
    deleted
        Type and id of those that an entry of a Bundle deletes.
    text
        All of the input as JSON: what does not stand in it need not be looked for.

    Returns
    -------
    judged, twice
        The resources with what they contain; and those that came before, word for word, each with the first of them.
    """
    table = in_force()
    hints = _Hints(b'"modifierExtension"' in text, codes_in(text, table), table)
    judged: list[Came] = []
    twice: list[tuple[Came, Came]] = []
    whole: list[Came] = []
    seen: dict[tuple[str, str], list[tuple[Came, Reason | None]]] = {}
    for one in came:
        resource = one.original
        # Copies are found by what came, before the first of them is judged: judging gives it a reason of its own.
        same = seen.setdefault((str(resource.get("resourceType")), str(resource.get("id"))), [])
        copied = [other for other, why in same if _twice(one, other, why)] if "id" in resource else []
        if copied:
            twice.append((one, copied[0]))
            continue
        same.append((one, one.reason))
        whole.append(one)
    mark_superseded(whole)
    mark_replaced(whole, text)
    for one in whole:
        resource = one.original
        judged.append(one)
        if one.reason is None and f"{resource.get('resourceType')}/{resource.get('id')}" in deleted:
            one.reason = reason_of(counting.method("DELETE"))
        _judge_one(one, hints)
        judged.extend(_contained(one, hints))
    return judged, twice


def _judge_one(one: Came, hints: _Hints) -> None:
    said = counting.verdict(one.view)
    one.states = said.states
    if one.reason is None and hints.modified and counting.modified(one.original):
        one.reason = _MODIFIED
    if one.reason is None and not said.counts:
        one.reason = reason_of(said)
    if one.reason is not None:
        return
    if away := [(where, reason_of(why)) for where, why in counting.parts(one.view)]:
        one.view = _without(one.view, {where for where, _ in away})
        one.left += [(f"{name}[{index}]", reason) for (name, index), reason in away]
    one.view = absence.with_reason(one.view)
    if hints.codes and _holds(one.view, hints.codes):
        one.view, decided = applied(one.view, hints.table)
        one.mapped = {found.path: found.mapping.loss or "" for found in decided}
    one.view, left = absence.parts(one.view)
    one.left += left
    one.reason = absence.reason(one.view)
    if one.reason is None:
        one.view, one.reason, left = contradicted(one.view, one.original, hints.table)
        one.left += left


def _holds(resource: Resource, codes: tuple[bytes, ...]) -> bool:
    text = to_json(resource)
    return any(code in text for code in codes)


def _without(resource: Resource, away: set[tuple[str, int]]) -> Resource:
    made = dict(resource)
    for name in {name for name, _ in away}:
        made[name] = [item for index, item in enumerate(resource[name]) if (name, index) not in away]
        if not made[name]:
            del made[name]
    return made


def _contained(one: Came, hints: _Hints) -> Iterator[Came]:
    """Judge what a resource contains; the view of it shows the readers only what counts there."""
    items = objects(one.original, "contained")
    if not items:
        return
    one.view = dict(one.view)
    views = []
    for item in items:
        # A view of its own: one and the same object may be contained in several resources.
        made = Came(item, dict(item), None, one.bundle, one.reason, holder=one.view, at=one.at)
        _judge_one(made, hints)
        if made.reason is None:
            views.append(made.view)
        yield made
    one.view["contained"] = views
