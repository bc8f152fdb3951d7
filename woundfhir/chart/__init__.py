"""The only way to ask a record: order in time, which notes count, what is newest, episodes, named conditions.

``open_record`` gives a ``RecordView`` with its wounds, visits and entries (one wound at one visit):

- ``record.counted`` and ``wound.entries`` are the notes that count, oldest first; ``record.judged`` and
  ``wound.judged`` hold the drafts too; ``newest`` is the newest note (``views`` says which notes count);
- ``wound.series.newest_with("assessment.length")`` and ``record.series.newest_that(test)`` give the newest that says
  something, ``wound.planned("next_change")`` the plan that is still due, ``wound.last_change`` the last change;
- ``wound.episodes``: what was charted before a closure and after it (``episodes``); ``wound.episode`` is the newest;
- ``one.before(other)``: whether a note was certainly earlier (``time``); nothing is computed from an order that is not;
- ``view.holds("open wound")``: the named conditions (``conditions``);
- every view answers the same questions by the catalogue's paths (``asking``).
"""

from woundfhir.chart.conditions import CONDITIONS
from woundfhir.chart.views import EntryView, PatientView, RecordView, VisitView, WoundView, counting, open_record

__all__ = ["CONDITIONS", "EntryView", "PatientView", "RecordView", "VisitView", "WoundView", "counting", "open_record"]
