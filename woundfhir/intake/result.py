"""What reading gives: the record, and the report on what became of everything that came."""

from __future__ import annotations

from typing import NamedTuple

from woundfhir.fhir.losses import Losses
from woundfhir.record import History


class ReadResult(NamedTuple):
    """One client's record and the report on how it was read; it unpacks into the two.

    Attributes
    ----------
    history
        The record, with everything that has no place in it kept under ``extra``.
    report
        How many values came, how many of them the record says, and what became of the others: ``report.summary`` in
        one line, ``report.lines()`` to show, ``report.json()`` for machines. Never a value of the client.

    Examples
    --------
    >>> import woundfhir
    >>> history, report = woundfhir.read('{"woundfhir": 1, "patient": {"born": "1948-03"}}')
    >>> history.patient, report.summary
    ({'born': '1948-03'}, '1 of 1 values understood')
    """

    history: History
    report: Losses
