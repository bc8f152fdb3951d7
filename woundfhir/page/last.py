"""What the notes before say of a wound: the newest answer of each concept, with its note, and words used before."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS, catalogue
from woundfhir.chart.views import EntryView, RecordView, VisitView, WoundView
from woundfhir.page.answers import SUPPLIES, Flat, flat_answer, flat_entry
from woundfhir.page.bedside import Group, concept_at, seen_anew
from woundfhir.page.noted import RECENT
from woundfhir.record.labels import label

Json = Any


@dataclass
class Last:
    """The newest answers before a note.

    Attributes
    ----------
    values
        Path of a concept -> its answer.
    notes
        Path of a concept -> the note that it is from.
    used
        Path of a concept or a field -> the words that stood there, the newest first.
    """

    values: dict[str, Json] = field(default_factory=dict)
    notes: dict[str, VisitView] = field(default_factory=dict)
    used: dict[str, list[str]] = field(default_factory=dict)


def before(record: RecordView, wound: WoundView | None, leave_out: str = "") -> Last:
    """Return the newest answers of the notes that count, about a wound and about the client.

    Parameters
    ----------
    wound
        None: about the client and the visit alone.
    leave_out
        The id of a note that is not looked at: the one that is being amended.
    """
    out = Last()
    for visit in reversed(record.counted):
        if visit.id != leave_out:
            for group in ("visit", "client"):
                held = visit.data if group == "visit" else visit.data.get("client", {})
                _take(out, group, held, visit)
    if wound is not None:
        recent = [one for one in wound.entries if one.visit.id != leave_out]
        for place, one in enumerate(reversed(recent)):
            _entry(out, one)
            if place < RECENT:
                for path, word in _words(one):
                    if word not in out.used.setdefault(path, []):
                        out.used[path].append(word)
    return out


def _entry(out: Last, one: EntryView) -> None:
    for group in ENTRY_GROUPS:
        _take(out, group, one.data.get(group, {}), one.visit)
    if SUPPLIES in one.data and SUPPLIES not in out.values:
        out.values[SUPPLIES], out.notes[SUPPLIES] = one.data[SUPPLIES], one.visit


def _take(out: Last, group: str, held: Mapping[str, Json], visit: VisitView) -> None:
    for key in held:
        path = f"{group}.{key}"
        if key in catalogue().groups[group] and path not in out.values:
            out.values[path], out.notes[path] = held[key], visit


def _words(one: EntryView) -> Iterator[tuple[str, str]]:
    """Every word of an entry with the path of its concept or field."""
    for group in ENTRY_GROUPS:
        for key, value in one.data.get(group, {}).items():
            yield from _below(f"{group}.{key}", value)
    for item in one.data.get(SUPPLIES, ()):
        for key, value in item.items():
            yield from _below(f"supply.{key}", value)


def _below(path: str, value: Json) -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, list):
        for one in value:
            yield from _below(path, one)
    elif isinstance(value, dict):
        for key, one in value.items():
            yield from _below(f"{path}.{key}", one)


def takeable(group: Group, last: Last) -> dict[str, tuple[Flat, VisitView]]:
    """Return what of a group may be taken over: path of a concept -> its fields, and the note that they are from.

    A group comes from one note, the newest that says anything of it: what was laid on is one whole.
    """
    here = [path for path in group.paths if path in last.notes]
    if not group.again or not here:
        return {}
    newest = max((last.notes[path] for path in here), key=lambda visit: visit.order)
    out = {}
    for path in here:
        if last.notes[path] is newest:
            concept, value = concept_at(path), last.values[path]
            flat = flat_entry({SUPPLIES: value}) if concept is None else flat_answer(concept, path, value)
            if kept := {name: found for name, found in flat.items() if not seen_anew(name)}:
                out[path] = kept, newest
    return out


def called(visit: VisitView) -> str:
    """Return a note as the mark of what was taken over from it: its id, or its place where that is no plain label."""
    return label(visit.id, visit.index, "note")
