"""The form of every answer, looked at once: what cannot be read as what it should be. No rule stands here.

Each answer gets at most one verdict, so that "n/a" under a quantity is one finding and not three.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any, NamedTuple
from weakref import WeakKeyDictionary

from woundfhir.catalogue import Concept, catalogue, frame, nothing
from woundfhir.chart.asking import is_absent
from woundfhir.chart.leaves import Leaf
from woundfhir.chart.views import RecordView, VisitView
from woundfhir.chart.words import entry_of, names_nothing
from woundfhir.checklist.pages import common
from woundfhir.record import dates, quantity, spoken
from woundfhir.record.shapes import shape_of

#: Words that give a reason in the place of the answer.
REASONS = frozenset(
    (
        "unknown",
        "not known",
        "not assessed",
        "not done",
        "not measured",
        "not asked",
        "not performed",
        "not applicable",
        "refused",
        "declined",
        "unable to assess",
        "unable",
    )
)
#: Sizes of an open wound that cannot be zero.
_NEVER_ZERO = frozenset(("assessment.length", "assessment.width", "assessment.area"))
#: Shapes whose answer is words of a list.
_LISTED = frozenset(("choice", "choices", "share"))
_COMMA = re.compile(r"\d,\d")


class ImpossibleValue(NamedTuple):
    """One answer that cannot be read: what is wrong, where, and the concept it belongs to (None for the header)."""

    kind: str
    concept: Concept | None
    label: str
    path: str
    value: str


#: By record: the note that alone is looked at, and what was found.
_SEEN: WeakKeyDictionary[RecordView, tuple[VisitView | None, dict[str, list[ImpossibleValue]]]] = WeakKeyDictionary()


def odd(record: RecordView, kind: str) -> list[ImpossibleValue]:
    """Return the answers of one record that have one fault: ``placeholder``, ``bare``, ``unit``, ``number`` ...

    The walk over all answers is made once for a record and kept as long as its view lives and looks at the same notes.
    """
    alone, found = _SEEN.get(record, (None, None))
    if found is None or alone is not record.alone:
        found = {}
        for one in _walk(record):
            found.setdefault(one.kind, []).append(one)
        _SEEN[record] = record.alone, found
    return found.get(kind, [])


def _walk(record: RecordView) -> Iterator[ImpossibleValue]:
    for wound in record.wounds:
        if not wound.in_error:
            yield from _leaves(wound.leaves())
    for visit in record.looked_at:
        yield from _header(visit.data, visit.path())
        yield from _leaves(visit.leaves())
        for entry in visit.entries:
            if not entry.wound.in_error:
                closed = entry.word("assessment.healing_trend") == "resolved" or entry.wound.status == "closed"
                yield from _leaves(entry.leaves(), open_wound=not closed)
    for key in ("allergies", "conditions"):
        if is_absent(value := record.patient.given(key)):
            kind = _absence(f"patient.{key}", value["absent"])
            yield ImpossibleValue(kind, None, frame().parts["patient"].keys[key].label, f"patient.{key}", "")
    born = record.patient.given("born")
    if born is not None and dates.moment(born) is None:
        yield ImpossibleValue("date", None, "Date of birth", "patient.born", born)


def _absence(path: str, reason: str) -> str:
    """Return what a reason in the place of an answer is.

    ``excused``: a reason of the list; ``unexcused``: none where one is needed; ``inapplicable``; ``unanswered``.
    """
    known = catalogue().answers["absent_reason"].find(reason)
    tags = known.tags if known is not None else frozenset()
    if "reason" in tags:
        return "excused"
    if path in catalogue().reasoned:
        step = not path.startswith("patient.") and catalogue().concept(path).shape == "step"
        if not (step and "undone" in tags):  # a step that was not done is an answer
            return "unexcused"
    return "inapplicable" if "no question" in tags else "unanswered"


def _header(data: Mapping[str, Any], place: str) -> Iterator[ImpossibleValue]:
    for key in ("at", "written"):
        text = data.get(key)
        if isinstance(text, str) and (kind := dates.fault(text)):
            yield ImpossibleValue(kind, None, frame().parts["visit"].keys[key].label, f"{place}.{key}", text)


def _leaves(leaves: list[Leaf], open_wound: bool = True) -> Iterator[ImpossibleValue]:
    for concept, value, path in leaves:
        if is_absent(value):
            yield ImpossibleValue(_absence(concept.path, value["absent"]), concept, _label(concept), path, "")
        elif type(value) is str:
            kind = _judge(concept, value)
            if kind and (open_wound or kind != "zero"):
                yield ImpossibleValue(kind, concept, _label(concept), path, value)
        elif type(value) is list:
            for index, word in enumerate(value):
                if type(word) is str and (kind := _judge(concept, word)):
                    yield ImpossibleValue(kind, concept, _label(concept), f"{path}[{index}]", word)
        elif type(value) is dict:
            yield from _amounts(concept, value, path)
            for word in value:
                if _judge(concept, word) == "word":
                    yield ImpossibleValue("word", concept, _label(concept), path, word)


@lru_cache(maxsize=1024)
def _label(concept: Concept) -> str:
    """The concept in words; a field with what it is a field of."""
    if concept.of is None:
        return concept.label
    return (
        f"{catalogue().concept(f'{concept.group}.{concept.of}').label}, {concept.label[0].lower()}{concept.label[1:]}"
    )


def _amounts(concept: Concept, value: dict[str, object], path: str) -> Iterator[ImpossibleValue]:
    for word, amount, kind in shape_of(concept).amounts(concept, value):
        if kind:
            known = entry_of(concept, word)
            part = common("rule_words")["one_of_them"] if known is None else spoken.word(concept, word)
            yield ImpossibleValue(kind, concept, f"{concept.label}, {part}", path, amount)


@lru_cache(maxsize=65536)
def _judge(concept: Concept, text: str) -> str | None:
    """Return what is wrong with one text under one concept, or None."""
    folded = text.casefold().strip()
    if entry_of(concept, text) is not None:
        return None
    if nothing.fills(text):
        return "placeholder"
    shape = shape_of(concept)
    if folded in REASONS and not shape.free:
        return "reason"
    kind = shape.judge(concept, text)
    if kind is None and concept.answers is not None and shape.name in _LISTED and not names_nothing(concept, text):
        return "word"
    return "zero" if kind is None and concept.path in _NEVER_ZERO and _is_zero(text) else kind


def _is_zero(text: str) -> bool:
    found = quantity.parse(text)
    return found is not None and found.value == 0 and found.comparator is None


def filler(concept: Concept, text: str) -> bool:
    """Whether a text is a filler, or a reason in place of the answer."""
    return _judge(concept, text) in ("placeholder", "reason")


def decimal_comma(text: str) -> bool:
    """Whether the number could be read if its comma were a point.

    Examples
    --------
    >>> decimal_comma("4,1 cm"), decimal_comma("about four")
    (True, False)
    """
    return bool(_COMMA.search(text))
