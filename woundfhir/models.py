"""The record as typed models (pydantic): an editor completes ``record.wounds[0].kind``, mypy refuses a misspelt key.

The classes are generated from the catalogue into ``woundfhir.record.models``; what their texts can be asked stands in
``woundfhir.record.typed``.

Examples
--------
>>> from woundfhir import History
>>> history = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1", "onset": "2026-01-05"}]})
>>> history.record.wounds[0].onset
'2026-01-05'
>>> visit = Visit(id="V1", at=DateText("2026-03-02T10:05:00-05:00"))
>>> more = history.record.model_copy(update={"visits": [visit]})
>>> History.of(more).visits
[{'id': 'V1', 'at': '2026-03-02T10:05:00-05:00'}]
"""

from woundfhir.record.models import *  # noqa: F403 (the generated module names what it passes on)
from woundfhir.record.models import __all__ as __all__
