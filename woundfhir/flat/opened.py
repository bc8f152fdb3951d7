"""One client's record, opened for its rows: what counts, the ids that tell rows apart, and cells from answers."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from woundfhir.chart import EntryView, RecordView, VisitView, WoundView, open_record
from woundfhir.fhir.ids import escape, uuid5
from woundfhir.fhir.write_context import namespace
from woundfhir.record import History

Json = Any
Row = dict[str, Any]
_DAY = 24 * 3600 * 1_000_000
_START = datetime(1, 1, 1, tzinfo=UTC)
_LAST = (datetime.max.replace(tzinfo=UTC) - _START) // timedelta(microseconds=1)


class Opened:
    """One client's record with the keys of its rows.

    Only notes that count have rows: no draft, none that a finished note replaces, none entered in error; and no wound
    that was entered in error. A sum over a table is right without a filter that somebody may forget.
    """

    def __init__(self, history: History) -> None:
        self.history = history
        self.record: RecordView = open_record(history)
        self._space = namespace(history)
        self.client = uuid5(self._space, "Patient/patient")
        self.wounds = [wound for wound in self.record.wounds if not wound.in_error]
        self._wounds = {wound.id: uuid5(self._space, f"Condition/{escape(wound.id)}") for wound in self.wounds}

    def of_client(self) -> Row:
        """Return the columns of the client."""
        return {"client": self.client}

    def of_wound(self, wound: WoundView) -> Row:
        """Return the columns of the client and the wound."""
        return {"client": self.client, "wound": self._wounds[wound.id], "wound_id": wound.id}

    def of_visit(self, visit: VisitView) -> Row:
        """Return the columns of the client, the visit and its time."""
        return {
            "client": self.client,
            "visit": uuid5(self._space, f"Encounter/{escape(visit.id)}"),
            "visit_id": visit.id,
            "at": visit.at,
            "day": visit.day,
            "at_earliest": _instant(visit.when.first),
            "at_latest": _instant(visit.when.last),
        }

    def of_entry(self, entry: EntryView) -> Row:
        """Return the columns of one wound at one visit."""
        return {**self.of_visit(entry.visit), **self.of_wound(entry.wound)}

    def entries(self) -> Iterator[tuple[EntryView, Row]]:
        """Yield each wound at each visit that counts, in the order of time, with its columns."""
        for visit in self.record.counted:
            for entry in visit.entries:
                if not entry.wound.in_error:
                    yield entry, self.of_entry(entry)


def _instant(micro: int) -> datetime | None:
    """Return a point on the line of ``chart.time`` as an instant; None beyond what a calendar has."""
    since = micro - _DAY
    return _START + timedelta(microseconds=since) if 0 <= since <= _LAST else None
