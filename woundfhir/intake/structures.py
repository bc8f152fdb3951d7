"""BodyStructure of others: the place of the one wound that names it, or a wound itself."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.elements import texts_of
from woundfhir.fhir.ids import shortened
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources import body_site
from woundfhir.intake.belonging import Belonging
from woundfhir.intake.founding import names_wound

Json = Any


def read_structures(source: ReadContext, to: Belonging, measured: Collection[int]) -> None:
    """Give each BodyStructure of others to the one wound that names it; one that is a wound itself is one here.

    It is one by its words, or where findings of wounds alone are about it (``measured``).
    """
    named: dict[int, set[str]] = {}
    for resource in source.open("Condition"):
        if (body := body_site.structure_of(source, resource)) is not None:
            named.setdefault(id(body), set()).update(filter(None, [to.links.wound_of.get(id(resource))]))
    for body in source.open("BodyStructure"):
        if id(body) in named:
            if len(named[id(body)]) == 1:
                to.links.wound_of[id(body)] = next(iter(named[id(body)]))
            continue
        words = (*texts_of(body.get("morphology")), str(body.get("description", "")))
        if source.place(body) is not None or not (id(body) in measured or any(map(names_wound, words))):
            continue
        found = body_site.read_structure(source, body)
        to.links.wound_of[id(body)] = name = _standing_for(source, to, body, found)
        if all(one["id"] != name for one in to.wounds):
            to.wounds.append({"id": name, **found})


def _standing_for(source: ReadContext, to: Belonging, body: Resource, found: dict[str, Json]) -> str:
    """Return the id of the wound that a BodyStructure is: its name here, or that before a server gave it another."""
    name = shortened(source.name_of(body))
    wounds = {one["id"]: one for one in to.wounds}
    there = {shortened(source.name_of(one)) for one in source.open("BodyStructure")}
    alike = [key for key in wounds if key.startswith("BodyStructure/") and key not in there]
    same = [key for key in alike if all(wounds[key].get(one) == value for one, value in found.items())]
    return name if name in wounds or len(same) != 1 else same[0]
