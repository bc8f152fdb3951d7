"""One more note put at the end of an opened record for a while, and taken out again.

Whoever writes a note asks after every touch what it lacks, in the light of all notes before it. Those do not change:
their views, and what was worked out of them, are kept, and only what the new note can change is worked out anew.

What a view of an earlier note keeps says nothing of later notes, but for wounds that are charted as closed (whether an
earlier note found one open depends on the later ones): ``fits`` says where a record has to be opened whole instead.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from woundfhir.chart.notes import KEPT, VisitView, WoundView
from woundfhir.chart.views import RecordView


def fits(record: RecordView, data: Mapping[str, Any]) -> bool:
    """Whether a note can be put at the end of a record, so that everything is as if the record had it.

    Parameters
    ----------
    record
        Opened with the note that this one replaces, where it replaces one.
    data
        The note, in canonical form.
    """
    wounds = [record.find_wound(entry["wound"]) for entry in data.get("wounds", ())]
    known = all(wound is not None and not _may_be_closed(wound) for wound in wounds)
    new = data["id"] not in record.visit_by_id and not record.transfer
    if not known or not new or not all(record.clock.knows(data.get(key)) for key in ("at", "written")):
        return False
    note = VisitView(record, len(record.visits), dict(data))
    return note.judged and (not record.judged or note.order > record.judged[-1].order)


def _may_be_closed(wound: WoundView) -> bool:
    return wound.status == "closed" or wound.data.get("closed") is not None


@contextmanager
def one_more(record: RecordView, data: Mapping[str, Any]) -> Iterator[VisitView]:
    """Put one more note at the end of a record that it fits, and take it out when the block ends.

    Examples
    --------
    >>> from woundfhir.chart import open_record
    >>> from woundfhir.record import History
    >>> record = open_record(History.of({"woundfhir": 1, "patient": {}, "visits": [{"id": "V1", "at": "2026-03-02"}]}))
    >>> with one_more(record, {"id": "V2", "at": "2026-03-05", "status": "final"}) as visit:
    ...     record.newest is visit, visit.previous.id
    (True, 'V1')
    >>> record.newest.id
    'V1'
    """
    whole, visit = record.data, VisitView(record, len(record.visits), dict(data))
    touched = list({entry.wound.id: entry.wound for entry in visit.entries}.values())
    kept = [_set_aside(wound) for wound in touched]
    series: list[Any] = [record, record.series, *(wound.series for wound in touched)]
    lists: list[list[Any]] = [held for wound in touched for held in (wound.judged, wound.entries)]
    lengths = [(held, len(held)) for held in (*lists, record.visits, record.judged, record.counted)]
    for one in series:
        one.settle()
    record.data = {**whole, "visits": [*whole["visits"], visit.data]}
    try:
        _put(record, visit)
        yield visit
    finally:
        record.data = whole
        del record.visit_by_id[visit.id]
        for held, length in lengths:
            del held[length:]
        for one in series:
            one.unsettle()
        for wound, before in zip(touched, kept, strict=True):
            wound.stood = []
            for key in KEPT:
                wound.__dict__.pop(key, None)
            wound.__dict__.update(before)
        _forget(record)


def _put(record: RecordView, visit: VisitView) -> None:
    _forget(record)
    visit.rank, visit.nth = len(record.judged), len(record.counted)
    visit.previous = record.counted[-1] if record.counted else None
    record.visits.append(visit)
    record.visit_by_id[visit.id] = visit
    record.judged.append(visit)
    if visit.counts:
        record.counted.append(visit)
    for entry in visit.entries:
        entry.wound.take(entry)


def _set_aside(wound: WoundView) -> dict[str, Any]:
    """Let a wound work out anew what a later note can change; what stands of it stays."""
    wound.stood = wound.standings
    return {key: wound.__dict__.pop(key) for key in KEPT if key in wound.__dict__}


def _forget(record: RecordView) -> None:
    """Forget what is kept about the whole record: conditions of the newest note, the day, what was asked for."""
    for view in (record, record.patient, *record.wounds):
        view._held.clear()
    record.__dict__.pop("today", None)
    record.alone, record.leaning = None, {}
    if record.heard is not None:
        record.listen(None)
