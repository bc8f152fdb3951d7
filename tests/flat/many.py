"""Invented records of many clients, odd ones among them, made from a seed; and what stands in them, counted by hand.

Nothing here asks the code under test, or the catalogue: what is expected is worked out from the plain record.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

Json = Any
#: By definition of the units (SI; the international inch of 1959).
CM = {"cm": Fraction(1), "mm": Fraction(1, 10), "in": Fraction(254, 100)}
DRESSINGS = ("foam dressing", "alginate", "honey gel", "gauze", "a towel of her own")
KINDS = ("venous leg ulcer", "pressure injury", "skin tear", "burn", "a scratch from the cat")


def records(number: int, seed: int = 1) -> Iterator[Json]:
    """Yield plain records, the same for the same seed."""
    chance = random.Random(seed)
    for client in range(number):
        yield record(client, chance)


def record(client: int, chance: random.Random) -> Json:
    wounds = [
        {"id": f"W{place}", "kind": chance.choice(KINDS), "site": "heel", "status": "open"}
        for place in range(1, chance.randint(1, 3) + 1)
    ]
    if chance.random() < 0.1:
        wounds[-1]["status"] = "entered in error"
    visits = _visits(client, wounds, chance)
    if chance.random() < 0.3:
        day = datetime(2026, 1, 5) + timedelta(days=chance.randint(60, 200))
        wounds[0].update(status="closed", closed=day.date().isoformat())
    return {
        "woundfhir": 1,
        "patient": {"identifiers": [{"system": "urn:example:many", "value": f"C-{client:05d}"}]},
        "wounds": wounds,
        "visits": visits,
    }


def _visits(client: int, wounds: list[Json], chance: random.Random) -> list[Json]:
    """Visits some days apart; a few are drafts, in error, or replace the one before them."""
    at = datetime(2026, 1, 5, 9, 30) + timedelta(days=client % 40)
    visits: list[Json] = []
    for place in range(1, chance.randint(0, 6) + 1):
        at += timedelta(days=chance.randint(1, 9))
        written = at.strftime("%Y-%m-%dT%H:%M:00-05:00") if chance.random() < 0.9 else at.strftime("%Y-%m")
        visit = {"id": f"V{place}", "at": written, "status": "final", "purpose": ["dressing change"]}
        visit["wounds"] = [_entry(wound["id"], chance) for wound in wounds if chance.random() < 0.9]
        odd = chance.random()
        if odd < 0.05:
            visit["status"] = "draft"
        elif odd < 0.1:
            visit["status"] = "entered in error"
        elif odd < 0.15 and visits and visits[-1]["status"] == "final":
            visit.update(status="amended", replaces=visits[-1]["id"])
        visits.append(visit)
    return visits


def _entry(wound: str, chance: random.Random) -> Json:
    assessment: Json = {}
    for key in ("length", "width", "depth"):
        kind = chance.random()
        if kind < 0.75:
            unit = chance.choice(("cm", "cm", "cm", "mm", "in"))
            number = chance.randint(1, 99) / 10 if unit != "mm" else chance.randint(2, 99)
            assessment[key] = f"{number} {unit}"
        elif kind < 0.8:
            assessment[key] = "<0.5 cm"
        elif kind < 0.85:
            assessment[key] = "about a thumb"
        elif kind < 0.9:
            assessment[key] = {"absent": "declined"}
    if chance.random() < 0.3:
        assessment["tunnels"] = chance.choice(("none", [{"clock": "3", "depth": "12 mm"}, {"clock": "9"}]))
    supplies = [
        {"item": chance.choice(DRESSINGS), "quantity": chance.choice(("1", "2", "3 boxes", ">5"))}
        for _ in range(chance.randint(0, 3))
    ]
    return {
        "wound": wound,
        "assessment": assessment,
        "care": {"packing": chance.choice(("none", [{"material": "alginate rope", "pieces_in": "2"}]))},
        **({"supplies": supplies} if supplies else {}),
        "plan": {"change_every": chance.choice(("2 d", "1 wk", "Mon, Wed and Fri")), "next_change": "2026-09"},
    }


# -- counted by hand -------------------------------------------------------------------------------


def counting(raw: Json) -> list[Json]:
    """Return the notes that count: finished, and not replaced by a finished one."""
    finished = [one for one in raw["visits"] if one["status"] not in ("draft", "entered in error")]
    gone = {one["replaces"] for one in finished if "replaces" in one}
    older = {one["id"]: one["replaces"] for one in raw["visits"] if "replaces" in one}
    for name in list(gone):
        while (name := older.get(name, "")) and name not in gone:
            gone.add(name)
    return [one for one in finished if one["id"] not in gone]


def entries(raw: Json) -> Iterator[tuple[Json, Json]]:
    """Yield visit and entry of each wound that is none in error, of the notes that count."""
    real = {wound["id"] for wound in raw["wounds"] if wound["status"] != "entered in error"}
    for visit in counting(raw):
        for entry in visit.get("wounds", ()):
            if entry["wound"] in real:
                yield visit, entry


def length_cm(written: object) -> Fraction | None:
    """Return a plain length in cm; None for a bound, for words, for a reason."""
    parts = written.split(" ") if isinstance(written, str) else []
    if len(parts) != 2 or parts[1] not in CM or parts[0].startswith("<"):
        return None
    return Fraction(parts[0]) * CM[parts[1]]
