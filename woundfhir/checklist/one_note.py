"""One note out of a verdict: what its writer can still mend, without the gaps of the notes before it.

What was found about the client, and about a wound that the note looks at, belongs to it. What was found on other
notes is not forgotten: it stands in ``Verdict.elsewhere``, and reports count it.
"""

from __future__ import annotations

from dataclasses import replace

from woundfhir.chart.views import VisitView, open_record
from woundfhir.checklist.finding import Verdict
from woundfhir.errors import InputError
from woundfhir.record import History
from woundfhir.record.positions import positions

#: The name of the newest note.
LAST = "last"


def of_note(verdict: Verdict, history: History, note: str) -> Verdict:
    """Return the verdict on one note.

    Parameters
    ----------
    verdict
        The verdict on the record.
    history
        The record.
    note
        The id of a note that is judged (neither replaced nor in error), or ``last``: the newest, be it a draft.

    Raises
    ------
    InputError
        When the record has no such note.

    Examples
    --------
    >>> from woundfhir.checklist import judge
    >>> visits = [{"id": "V1", "at": "2026-03-01"}, {"id": "V2", "at": "2026-03-02"}]
    >>> history = History.of({"woundfhir": 1, "patient": {}, "visits": visits})
    >>> newest = of_note(judge(history), history, "last")
    >>> newest.notes, {one.visit for one in newest.findings} <= {None, "V2"}, len(newest.elsewhere) > 0
    (1, True, True)
    """
    return of_visit(verdict, _chosen(history, note))


def of_visit(verdict: Verdict, visit: VisitView) -> Verdict:
    """Return the verdict on one note of an opened record; see ``of_note``."""
    wounds = {entry.wound.index for entry in visit.entries}
    here = tuple(one for one in verdict.findings if _belongs(one.path, visit.index, wounds))
    kept = set(map(id, here))
    return replace(
        verdict,
        findings=here,
        answered=tuple(one for one in verdict.answered if _belongs(one.path, visit.index, wounds)),
        notes=1,
        drafts=int(visit.draft),
        elsewhere=tuple(one for one in verdict.findings if id(one) not in kept),
        left_out=tuple(
            one._replace(findings=tuple(f for f in one.findings if _belongs(f.path, visit.index, wounds)))
            for one in verdict.left_out
        ),
        unanswered=tuple(path for path in verdict.unanswered if _belongs(path, visit.index, wounds)),
        excused=tuple(path for path in verdict.excused if _belongs(path, visit.index, wounds)),
    )


def _chosen(history: History, note: str) -> VisitView:
    judged = open_record(history).judged
    if not judged:
        raise InputError("--visit", "a note that is neither replaced nor in error", "The record has none")
    if note == LAST:
        return judged[-1]
    for visit in judged:
        if visit.id == note:
            return visit
    fix = "Take the id from the list 'visits' of the record; a note that was replaced or is in error is not judged"
    raise InputError("--visit", "last, or the id of a note", fix)


def _belongs(path: str, visit: int, wounds: set[int]) -> bool:
    found = positions(path)
    if found.visit is not None:
        return found.visit == visit
    return found.wound is None or found.wound in wounds
