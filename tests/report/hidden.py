"""Records in which a marker name stands in every place where words of a person can stand."""

from __future__ import annotations

import random
from copy import deepcopy
from typing import Any

from woundfhir.catalogue import Concept, catalogue

Json = Any
NAME = "Zyxmarker Quillfeather"
PARTS = ("zyxmarker", "quillfeather")


def held(text: str | bytes) -> bool:
    """Whether the marker, or a part of it, stands in a text."""
    said = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
    return any(part in said.casefold() for part in PARTS)


def answer(concept: Concept) -> Json:
    """An answer that is nothing but the marker, in the shape of its concept."""
    if concept.is_group:
        item = {key: answer(inner) for key, inner in concept.fields.items()}
        return [{**item, "note": NAME}] if concept.many else {**item, "note": NAME}
    if concept.shape == "choices":
        return [NAME, NAME + " again"]
    return {NAME: NAME} if concept.shape == "share" else NAME


def group(name: str) -> dict[str, Json]:
    """The answers of one group, all of them the marker."""
    return {key: answer(concept) for key, concept in catalogue().groups[name].items()}


def everywhere() -> dict[str, Json]:
    """A record that says the marker and nothing else, ids and unknown keys too."""
    return {
        "woundfhir": 1,
        "zone": NAME,
        "patient": {
            "identifiers": [{"system": NAME, "value": NAME}],
            "name": {"family": NAME, "given": [NAME]},
            "born": NAME,
            "sex": NAME,
            "allergies": [{"to": NAME, "reaction": NAME, "status": NAME, "note": NAME}],
            "conditions": [NAME],
            "contact": {"name": NAME, "role": NAME, "phone": NAME},
            "note": NAME,
        },
        "wounds": [{"id": NAME, "status": "open", **group("wound"), "note": NAME}],
        "visits": [
            {
                "id": NAME + number,
                "at": NAME,
                "written": NAME,
                "status": status,
                "by": {"id": NAME, "name": NAME, "designation": NAME, "organisation": NAME},
                **group("visit"),
                "client": group("client"),
                "note": NAME,
                "wounds": [
                    {
                        "wound": NAME,
                        "assessment": group("assessment"),
                        "care": group("care"),
                        "plan": group("plan"),
                        "supplies": [group("supply")],
                        "photos": [group("photo")],
                        "note": NAME,
                    }
                ],
            }
            for number, status in (("", "final"), (" 2", "draft"))
        ],
        NAME: NAME,
        "extra": [{"from": "record", "place": NAME, "why": NAME, "value": NAME}],
    }


def scattered(record: dict[str, Json], seed: int, share: float) -> dict[str, Json]:
    """A copy of a record with the marker put at the end, or in the place, of a share of its texts.

    What keeps the record together stays: the status words, the ids by which things name each other.
    """
    dice = random.Random(seed)

    def walk(value: Json, key: str = "") -> Json:
        if isinstance(value, dict):
            return {k: walk(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [walk(item, key) for item in value]
        if key in ("id", "wound", "status", "replaces", "woundfhir") or dice.random() > share:
            return value
        return dice.choice((NAME, f"{value} {NAME}", f"{NAME} {value}"))

    return walk(deepcopy(record))  # type: ignore[no-any-return]
