"""A draft as a note: of what stands in the fields, the visit that the record would hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.chart.conditions import SIZES
from woundfhir.chart.views import EntryView, RecordView
from woundfhir.checklist.policy import load
from woundfhir.errors import InputError
from woundfhir.handover.select import without_lost_links
from woundfhir.newnote.carried import note_id
from woundfhir.page.answers import MARKS, answers, concept_of, entry, flat_answers, flat_entry
from woundfhir.page.bedside import CARRIED, seen_anew
from woundfhir.page.draft import REASON, VISIT, Draft
from woundfhir.record import History

Json = Any
#: So many notes of each wound decide what its form asks; the checklist looks at all of them.
RECENT = 12


def wounds_of(draft: Draft) -> list[str]:
    """Return the ids of the wounds that a note is about: those with an answer, and the one that it was begun for."""
    first = draft.head.get("wound")
    return [wound for wound, flat in draft.values.items() if wound != VISIT and (flat or wound == first)]


def note(
    draft: Draft, history: History, by: Mapping[str, str], written: str, looking: str | None = None
) -> dict[str, Json]:
    """Return the visit that a draft is, signed by somebody at a time, in canonical form.

    Parameters
    ----------
    looking
        A wound that is on the screen: it stands in the visit although nothing is charted of it yet.

    Raises
    ------
    InputError
        When the draft is about a wound that the record does not have.
    """
    replaces = {"replaces": draft.head["replaces"]} if draft.head.get("replaces") else {}
    if replaces and (reason := reason_of(draft)):
        replaces["replaces_reason"] = reason
    visit: dict[str, Json] = {
        "id": note_id(history),
        "at": draft.head.get("at"),
        "written": written,
        "by": dict(by),
        "status": "amended" if replaces else "final",
        **replaces,
        **answers("visit", draft.of(VISIT)),
    }
    if client := answers("client", draft.of(VISIT)):
        visit["client"] = client
    if words := draft.of(VISIT).get("visit.note"):
        visit["note"] = words[0]
    shown = [] if looking is None or looking in wounds_of(draft) else [looking]
    visit["wounds"] = [_entry(draft, wound) for wound in (*wounds_of(draft), *shown)]
    alone: dict[str, Json] = {"woundfhir": 1, "zone": history.data.get("zone"), "patient": {}, "wounds": history.wounds}
    replaced = [one for one in history.visits if one["id"] == draft.head.get("replaces")]
    return History.of({**alone, "visits": [*replaced, visit]}, "the note").visits[-1]


def _entry(draft: Draft, wound: str) -> dict[str, Json]:
    out: dict[str, Json] = {"wound": wound, **entry(draft.of(wound))}
    if marks := carried(draft, wound):
        group, _, key = CARRIED.partition(".")
        held = out.setdefault(group, {})
        held[key] = [*held.get(key, []), *marks]
    return out


def reason_of(draft: Draft) -> str:
    """Return why a note is amended; empty where no reason is given."""
    return draft.of(VISIT).get(REASON, [""])[0].strip()


def as_draft(visit: Mapping[str, Json]) -> dict[str, dict[str, list[str]]]:
    """Return all that a note says as the fields of a draft."""
    out = {VISIT: {**flat_answers("visit", visit), **flat_answers("client", visit.get("client", {}))}}
    if "note" in visit:
        out[VISIT]["visit.note"] = [visit["note"]]
    for one in visit.get("wounds", ()):
        out[one["wound"]] = flat_entry(one)
    return out


def carried(draft: Draft, wound: str) -> list[dict[str, str]]:
    """Return what was taken over from earlier notes, by note: the mark that the record keeps.

    A concept is named alone where nothing of it was changed, else the fields that were not.
    """
    taken = draft.carried.get(wound, {})
    own = {name.rstrip(MARKS) for name in draft.of(wound) if name not in taken and not seen_anew(name)}
    changed = {concept_of(name) for name in own}
    by_note: dict[str, set[str]] = {}
    for name, source in taken.items():
        path, plain = concept_of(name), name.rstrip(MARKS)
        if plain not in own:
            by_note.setdefault(source, set()).add(plain if path in changed else path)
    return [{"note_of": source, "answers": ", ".join(sorted(paths))} for source, paths in sorted(by_note.items())]


def with_note(history: History, visit: Mapping[str, Json]) -> History:
    """Return a record with one more note; both are in canonical form.

    Raises
    ------
    InputError
        For a second amendment of one note.
    """
    if visit.get("replaces"):
        refuse_amended(history, visit["replaces"])
    return History({**history.data, "visits": [*history.visits, dict(visit)]}, history.source)


def refuse_amended(history: History, name: str) -> None:
    """Refuse to amend a note that was amended: two amendments beside each other contradict, and both would hold."""
    if any(one.get("replaces") == name and one.get("status") != "entered in error" for one in history.visits):
        wrong = "it was amended already"
        raise InputError("the note", "one that nobody has amended", "Amend the note that took its place", found=wrong)


def as_it_stands(view: RecordView, history: History, visit: Mapping[str, Json], wound: str) -> EntryView:
    """Return one wound of a note that is not signed, to be asked what its form needs."""
    kept = {one.visit.index for each in view.wounds for one in each.judged[-RECENT:]}
    looked = view.find_wound(wound)
    for path in SIZES if looked is not None else ():  # the size before, however long ago
        if looked is not None and (last := looked.now.newest_with(path)) is not None:
            kept.add(last.visit.index)
    notes = [history.visits[number] for number in sorted(kept)]
    data = {**history.data, "visits": [*without_lost_links(notes), dict(visit)]}
    record = RecordView(History(data, history.source), load(None))
    return next(one for one in record.visits[-1].entries if one.wound.id == wound)
