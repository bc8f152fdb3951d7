"""The long table: one row for each answer, each word of several, each field of an item."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS, ENTRY_LISTS, Concept, catalogue
from woundfhir.chart.words import NONE
from woundfhir.flat.cells import NUMBERS, coding, named, number, reason, span
from woundfhir.flat.opened import Opened, Row

Json = Any
#: The bytes of a picture are no fact to count.
_NO_FACT = frozenset(("photo.data",))


def facts(one: Opened) -> Iterator[Row]:
    """Yield the facts of one client: of the wounds, then of the visits in the order of time."""
    for wound in one.wounds:
        yield from _group("wound", wound.data, one.of_wound(wound))
    for visit in one.record.counted:
        head = one.of_visit(visit)
        yield from _group("visit", visit.data, head)
        yield from _group("client", visit.data.get("client", {}), head)
        for entry in visit.entries:
            if not entry.wound.in_error:
                yield from _entry(entry.data, {**head, **one.of_wound(entry.wound)})


def _entry(data: Mapping[str, Json], head: Row) -> Iterator[Row]:
    for group in ENTRY_GROUPS:
        yield from _group(group, data.get(group, {}), head)
    for key, group in ENTRY_LISTS.items():
        for item, answers in enumerate(data.get(key, ()), 1):
            yield from _group(group, answers, {**head, "item": item})
    if "note" in data:
        yield _note("entry", data["note"], head)


def _group(group: str, answers: Mapping[str, Json], head: Row) -> Iterator[Row]:
    concepts = catalogue().groups[group]
    for key, answer in answers.items():
        concept = concepts.get(key)
        if concept is not None:
            yield from _answer(concept, answer, answers, head)
        elif key == "note":
            yield _note(group, answer, head)


def _note(path: str, words: str, head: Row) -> Row:
    return {**head, "concept": f"{path}.note", "written": words}


def _answer(concept: Concept, answer: Json, among: Mapping[str, Json], head: Row) -> Iterator[Row]:
    if concept.path in _NO_FACT:
        return
    if concept.fields and (isinstance(answer, list) or (isinstance(answer, dict) and reason(answer) is None)):
        for item, fields in enumerate(answer if isinstance(answer, list) else [answer], 1):
            yield from _fields(concept, fields, {**head, "item": item} if concept.many else head)
        return
    code = coding(concept, among)
    row = {**head, "concept": concept.path}
    if code is not None:
        row["concept_system"], row["concept_code"] = code.system, code.code
    if isinstance(answer, list):
        for place, word in enumerate(answer, 1):
            yield {**row, "number": place, **_words(concept, word)}
    elif isinstance(answer, dict) and reason(answer) is None:
        for place, (word, share) in enumerate(answer.items(), 1):
            yield {**row, "number": place, **_words(concept, word), **_share(concept, word, share)}
    elif isinstance(answer, dict):
        yield {**row, "absent": reason(answer)}
    else:
        yield {**row, **_text(concept, answer)}


def _fields(concept: Concept, fields: Json, head: Row) -> Iterator[Row]:
    """Yield the fields of one item; an item that is a text alone stands as it is."""
    for key, answer in fields.items():
        field = concept.fields.get(key)
        if field is not None:
            row = _answer(field, answer, fields, head)
            yield from _as_whole(row, concept, fields) if key == concept.main and concept.shape == "group" else row
        else:
            yield _note(concept.path, answer, head)


def _as_whole(rows: Iterator[Row], group: Concept, fields: Mapping[str, Json]) -> Iterator[Row]:
    """Give the main field of a group the code of the group, under which our FHIR writes it."""
    code = coding(group, fields)
    for row in rows:
        yield row if code is None else {**row, "concept_system": code.system, "concept_code": code.code}


def _text(concept: Concept, written: str) -> Row:
    """Return the cells of an answer that is one text."""
    if concept.shape in NUMBERS and (found := number(concept, written)) is not None:
        return {"written": written, **found._asdict()}
    if concept.shape == "date" and (days := span(written)) != (None, None):
        return {"written": written, "earliest": days[0], "latest": days[1]}
    return _words(concept, written)


def _words(concept: Concept, written: str) -> Row:
    """Return the cells of words; free text is no word of a list, but "none" is."""
    word, system, code = named(concept, written)
    if word == NONE and concept.fields:
        none = catalogue().codes[NONE]
        system, code = none.system, none.code
    if concept.shape in ("text", "date", *NUMBERS) and code is None and word != NONE:
        return {"written": written}
    return {"written": written, "word": word, "system": system, "code": code}


def _share(concept: Concept, word: str, share: Json) -> Row:
    """Return the cells of the share of one word."""
    why = reason(share)
    if why is not None:
        return {"absent": why}
    found = number(concept, share)
    row: Row = {"written": f"{word}: {share}"}
    return row if found is None else {**row, **found._asdict()}
