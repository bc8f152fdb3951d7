"""What is read of an input, in lines that a person can compare: the facts of each client, and what was left aside."""

from __future__ import annotations

from typing import Any

from woundfhir.intake.resources import from_fhir_many

Json = Any


def read(*came: Json) -> list[list[str]]:
    """Return a list for each client: ``2026-03-02 final w length 4 cm``, with ``(Ann RN)`` where an author is known."""
    return [facts(part.history.data) for part in from_fhir_many(list(came))]


def facts(record: Json) -> list[str]:
    """Return the facts of a record: a line for each answer of a wound, one for a visit without any."""
    lines = []
    for visit in record.get("visits", ()):
        by = f" ({visit['by'].get('name', visit['by'])})" if "by" in visit else ""
        when = f"{visit.get('at', 'no time')[:10]} {visit.get('status', 'no status')}{by}"
        for entry in visit.get("wounds", ()):
            for key, part in entry.items():
                answers = part if isinstance(part, dict) else {key: part}
                lines += [f"{when} {entry['wound']} {one} {said}" for one, said in answers.items() if one != "wound"]
        if "wounds" not in visit:
            lines.append(when)
    return sorted(lines)


def aside(*came: Json) -> set[str]:
    """Return the whole resources that were read as a fact of nobody: ``kept Observation/l: names no wound``."""
    losses = [one for part in from_fhir_many(list(came)) for one in part.losses.items]
    return {f"{one.kind} {one.source}: {one.why}" for one in losses if "." not in one.path}
