"""A reply to our form as what it is of the record: one wound at one visit."""

from __future__ import annotations

from itertools import count
from typing import Any

from woundfhir.fhir import form
from woundfhir.fhir.came import Resource
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources import people
from woundfhir.intake.belonging import Belonging

Json = Any


def read_form(source: ReadContext, to: Belonging, resource: Resource) -> None:
    """Take one wound at one visit from a QuestionnaireResponse of our form."""
    if not form.is_form(resource):
        return
    if not form.names_form(resource):
        to.inferred.append(f"{source.came[id(resource)].at}: read as our form: its questions are")
    visit_id, wound_id = form.place(resource)
    visit, seen, entry, read = form.read_response(resource, source.terms)
    known = {(v["id"], e["wound"]) for v in to.visits for e in v.get("wounds", ())}
    if visit_id is None or wound_id is None:
        taken = {v["id"] for v in to.visits}
        visit_id = next(f"form-{n}" for n in count(1) if f"form-{n}" not in taken)
        wound_id = str(to.wounds[0]["id"]) if len(to.wounds) == 1 else f"wound-{visit_id}"
        to.inferred.append(f"visit {visit_id}: made from a form that names no visit and no wound")
    source.placed(resource, None)
    if (visit_id, wound_id) in known:
        return
    source.mark(resource, *read)
    to.ours["visit"].add(visit_id)
    to.ours["wound"].add(wound_id)
    to.ours_at.add((visit_id, wound_id))
    if resource.get("author") and (by := people.read_author(source, resource["author"], resource)):
        visit.setdefault("by", by)
    _join(to.visits, visit_id, visit).setdefault("wounds", []).append({"wound": wound_id, **entry})
    _join(to.wounds, wound_id, seen)


def _join(items: list[dict[str, Json]], name: str, read: dict[str, Json]) -> dict[str, Json]:
    """Add what was read to the item of this id, made where it is not there; what stands is not written over."""
    known = next((item for item in items if item["id"] == name), None)
    if known is None:
        known = {"id": name}
        items.append(known)
    for key, value in read.items():
        known.setdefault(key, value)
    return known
