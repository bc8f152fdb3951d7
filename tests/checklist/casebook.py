"""Cases of the rules as data: small changes to a complete note, and exactly what the whole checklist must then say.

``cases/base.yaml`` holds complete notes, one built on another. Each other file holds, under the code of a rule, cases:

- ``fails: words`` - the changed note must be found by this rule, and by no other than those under ``also``;
- ``holds: words`` - the changed note must be found by no rule but those under ``also``.
- ``at`` - where a case that fails must be found, each place in the record.
- ``message``, ``fix`` - words that each of its messages, and of its advice, must hold.

What a case changes: ``base`` (``change`` when left out); ``patient``, ``wound``, ``visit``, ``client``,
``assessment``, ``care``, ``supplies``, ``photos``, ``plan``, ``note`` (of the entry); ``before``: earlier notes,
oldest first, built on the same base with their own changes; ``wounds`` and ``visits``: more of them, as they stand in a
record; ``extra``; ``policy``; ``checklist``; ``today``. A mapping is merged, everything else replaced, ``~`` taken out.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from woundfhir.checklist import Finding, check
from woundfhir.record.history import History

FOLDER = Path(__file__).parent / "cases"
_ENTRY = ("assessment", "care", "supplies", "plan", "photos", "note")
_OURS = {
    "fails",
    "holds",
    "also",
    "at",
    "message",
    "fix",
    "base",
    "before",
    "wounds",
    "visits",
    "extra",
    "policy",
    "checklist",
    "today",
    "top",
}
Json = Any


class Case(NamedTuple):
    """One case: the rule that it is about, whether that rule must speak, its words, and the change."""

    rule: str
    fails: bool
    says: str
    data: dict[str, Json]

    @property
    def expected(self) -> list[str]:
        """The codes that the whole checklist must report, each once, in order."""
        return sorted({*([self.rule] if self.fails else []), *self.data.get("also", [])})


@cache
def load(path: Path) -> Json:
    """Read YAML with every leaf as text, as the record does; once, so that nobody may change what comes back."""
    return yaml.load(path.read_text("utf-8"), Loader=yaml.BaseLoader)


def cases() -> Iterator[Case]:
    """Yield every case of every file."""
    for path in sorted(FOLDER.glob("*.yaml")):
        if path.name != "base.yaml":
            for code, items in load(path).items():
                for item in items:
                    fails = "fails" in item
                    yield Case(code, fails, item["fails" if fails else "holds"], item)


def merge(under: Json, over: Json) -> Json:
    """Return ``under`` with ``over`` laid on it."""
    if not isinstance(under, dict) or not isinstance(over, dict):
        return copy.deepcopy(over)
    out = copy.deepcopy(under)
    for key, value in over.items():
        if value == "~":
            out.pop(key, None)
        else:
            out[key] = merge(out.get(key), value)
    return out


def base(name: str) -> dict[str, Json]:
    """Return a complete note by its name, with what it is built on."""
    notes = load(FOLDER / "base.yaml")
    own = notes[name]
    return merge(base(own["on"]), {k: v for k, v in own.items() if k != "on"}) if "on" in own else copy.deepcopy(own)


def _visit(note: dict[str, Json], ident: str) -> dict[str, Json]:
    entry = {key: note[key] for key in _ENTRY if note.get(key) not in (None, {}, "")}
    client = {"client": note["client"]} if note.get("client") else {}
    return {"id": ident, **note["visit"], **client, "wounds": [{"wound": "W1", **entry}]}


def record(case: dict[str, Json]) -> dict[str, Json]:
    """Return the record that a case describes."""
    start = base(case.get("base", "change"))
    change = {key: value for key, value in case.items() if key not in _OURS}
    this = merge(start, change)
    # An earlier note is a complete one too: the client and the wound are told once, the rest is the base's own.
    earlier = [merge(start, one) for one in case.get("before", [])]
    for one, fragment in zip(earlier, case.get("before", []), strict=True):
        if "written" not in fragment.get("visit", {}):
            one["visit"]["written"] = one["visit"]["at"]
    notes = [*earlier, this]
    for number, (one, later, fragment) in enumerate(zip(notes, notes[1:], case.get("before", []), strict=False)):
        if "plan" in one:
            _planned(one, later, fragment.get("plan", {}))
        # No two notes of a good record are the same throughout.
        if "pain_at_rest" not in fragment.get("assessment", {}) and "pain_at_rest" in one.get("assessment", {}):
            one["assessment"]["pain_at_rest"] = str((len(notes) - number) % 2 * 2)
    visits = [_visit(one, f"V{number}") for number, one in enumerate(notes, 1)] + case.get("visits", [])
    wound = {"id": "W1", **this["wound"]}
    made = {"woundfhir": "1", "patient": this["patient"], "wounds": [wound, *case.get("wounds", [])], "visits": visits}
    if "extra" in case:
        made["extra"] = case["extra"]
    return merge(made, case.get("top", {}))


def _planned(note: dict[str, Json], later: dict[str, Json], own: dict[str, Json]) -> None:
    """Plan an earlier note's next change for the later note, at the interval between the two, where it says nothing."""
    day, due = (date.fromisoformat(one["visit"]["at"][:10]) for one in (note, later))
    if due == day:
        return
    if "next_change" not in own:
        note["plan"]["next_change"] = due.isoformat()
    if not own.keys() & {"next_change", "change_every"} and "change_every" in note["plan"]:
        note["plan"]["change_every"] = f"{(due - day).days} d"


def findings(case: dict[str, Json]) -> list[Finding]:
    """Return what the whole checklist says about a case."""
    return check(
        History.of(record(case)),
        policy=case.get("policy", "ontario"),
        checklist=case.get("checklist"),
        today=date.fromisoformat(case["today"]) if "today" in case else None,
    )
