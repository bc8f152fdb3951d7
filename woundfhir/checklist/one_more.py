"""A note that is being written, judged after every touch: the notes before it are opened and asked once."""

from __future__ import annotations

from collections.abc import Mapping
from threading import Lock
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.chart.header import finished
from woundfhir.chart.one_more import fits, one_more
from woundfhir.chart.views import RecordView
from woundfhir.checklist.finding import Verdict
from woundfhir.checklist.judge import judge, verdict_on
from woundfhir.checklist.one_note import of_note, of_visit
from woundfhir.checklist.policy import load
from woundfhir.checklist.rules.form import odd
from woundfhir.checklist.site import compose
from woundfhir.collector import resting
from woundfhir.record import History


class OneMore:
    """A record, to which one more note is held again and again.

    Parameters
    ----------
    history
        The record without the note.
    replaced
        The id of the note of the record that the new one replaces; None: none.

    Examples
    --------
    >>> record = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": [{"id": "V1", "at": "2026-03-01"}]}
    >>> before = OneMore(History.of(record))
    >>> note = {"id": "V2", "at": "2026-03-02T10:00:00-05:00", "status": "final", "wounds": [{"wound": "W1"}]}
    >>> {one.visit for one in before.verdict(note).findings} <= {None, "V2"}
    True
    """

    def __init__(self, history: History, replaced: str | None = None) -> None:
        self._history, self._replaced = history, replaced
        self._chosen, self._policy = compose(None), load(None)
        known = any(visit["id"] == replaced for visit in history.visits)
        self._record = RecordView(
            history, self._policy, transfer=self._chosen.transfer, replaced=replaced if known else None
        )
        self._lock = Lock()

    @resting()
    def verdict(self, visit: Mapping[str, Any]) -> Verdict:
        """Return what the checklist says of a note, in canonical form: what ``woundfhir check --visit`` says of it.

        Where it cannot stand at the end of the notes as they are (it is dated earlier, a wound was closed, a word of
        the wound itself is not known), the whole record is asked as for the command line.
        """
        with self._lock:
            found = self._at_the_end(visit)
        if found is not None:
            return found
        whole = History({**self._history.data, "visits": [*self._history.visits, dict(visit)]}, self._history.source)
        return of_note(judge(whole, note=str(visit["id"])), whole, str(visit["id"]))

    def _at_the_end(self, visit: Mapping[str, Any]) -> Verdict | None:
        site = catalogue().site
        filled = site is not None and site.defaults is not None
        replaces = visit.get("replaces") if finished(visit.get("status")) else None
        if filled or replaces != self._replaced or not fits(self._record, visit):
            return None
        with one_more(self._record, visit) as note:
            self._record.alone = note
            if any(one.path.startswith("wounds[") for one in odd(self._record, "word")):
                return None
            return of_visit(verdict_on(self._record, self._chosen, self._policy, self._chosen.ignore), note)
