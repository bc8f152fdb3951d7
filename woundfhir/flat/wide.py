"""The wide tables of clients, wounds, dressing changes, supplies and plans: what ``data/tables.toml`` asks, filled."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart import WoundView
from woundfhir.chart.words import NONE
from woundfhir.flat.cells import GIVES, filled, reason, span, text
from woundfhir.flat.opened import Opened, Row
from woundfhir.flat.schema import tables
from woundfhir.record import dates

Json = Any


def clients(one: Opened) -> Iterator[Row]:
    """Yield the one row of a client."""
    patient = one.history.patient
    first: Mapping[str, Json] = next(iter(patient.get("identifiers", ())), {})
    born = patient.get("born")
    earliest, latest = span(born)
    yield {
        **one.of_client(),
        "identifier_system": first.get("system"),
        "identifier_value": first.get("value"),
        "born": text(born),
        "born_earliest": earliest,
        "born_latest": latest,
        "sex": text(patient.get("sex")),
        "zone": one.history.data.get("zone"),
    }


def wounds(one: Opened) -> Iterator[Row]:
    """Yield a row for each wound."""
    table, known = tables()["wounds"], catalogue().groups["wound"]
    for wound in one.wounds:
        cells = filled(table.below("wound"), known, wound.answers)
        yield {**one.of_wound(wound), **cells, "status": wound.status, **_course(wound)}


def _course(wound: WoundView) -> Row:
    """When a wound was seen first and last, how often it was open, and when its newest episode closed."""
    entries, episode = wound.entries, wound.episode
    return {
        "episodes": len(wound.episodes),
        "visits": len(entries),
        "first_day": entries[0].day if entries else None,
        "last_day": entries[-1].day if entries else None,
        "episode_day": episode[0].day if episode else None,
        "closed_day": _closed_day(wound),
    }


def _closed_day(wound: WoundView) -> date | None:
    """The day on which the newest episode closed: as written of the wound, else that of the note that says so."""
    if wound.closed and (day := dates.day(wound.data.get("closed"))) is not None:
        return day
    after = zip(wound.episode, wound.standings[len(wound.entries) - len(wound.episode) + 1 :], strict=True)
    return next((entry.day for entry, standing in after if standing.closed), None)


def changes(one: Opened) -> Iterator[Row]:
    """Yield a row for each step of a dressing change, and for each item of a step."""
    steps = {key: concept for key, concept in catalogue().groups["care"].items() if concept.shape == "step"}
    for entry, head in one.entries():
        for key, answer in entry.data.get("care", {}).items():
            if key in steps:
                for row in _step(steps[key], answer):
                    yield {**head, "step": key, **row}


def _step(step: Concept, answer: Json) -> Iterator[Row]:
    why = reason(answer)
    if answer == NONE or why is not None:
        yield {"done": False, "absent": why}
        return
    native = native_field(step)
    for item, fields in enumerate(answer if isinstance(answer, list) else [answer], 1):
        row: Row = {"item": item, "done": True, "absent": None if native is None else reason(fields.get(native.key))}
        for column, path in tables()["changes"].below("care"):
            field = field_of(step, path)
            if field is not None:
                row[column.name] = GIVES[column.gives](field, fields.get(field.key), column.unit)
        yield row


def native_field(step: Concept) -> Concept | None:
    """Return the field of a step that FHIR has an element for: what was used, or the kind of procedure."""
    return next((field for field in step.fields.values() if field.native), None)


def field_of(step: Concept, path: str) -> Concept | None:
    """Return the field of a step that a column is of (``packing.length``, ``*.size``, ``*.native``), or None."""
    name, _, key = path.partition(".")
    if name not in ("*", step.key):
        return None
    return native_field(step) if key == "native" else step.fields.get(key)


def supplies(one: Opened) -> Iterator[Row]:
    """Yield a row for each supply."""
    table, known = tables()["supplies"], catalogue().groups["supply"]
    for entry, head in one.entries():
        for place, used in enumerate(entry.data.get("supplies", ()), 1):
            yield {**head, "item_number": place, **filled(table.below("supply"), known, used)}


def plans(one: Opened) -> Iterator[Row]:
    """Yield a row for each wound at each visit for which something is planned."""
    table, known = tables()["plans"], catalogue().groups["plan"]
    for entry, head in one.entries():
        if plan := entry.data.get("plan"):
            yield {**head, **filled(table.below("plan"), known, plan), "note": text(plan.get("note"))}
