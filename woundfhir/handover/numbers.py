"""Numbers about one wound beside its size: days open, signs of infection counted, the PUSH total of its parts."""

from __future__ import annotations

from dataclasses import dataclass

from woundfhir.chart import EntryView, RecordView, WoundView
from woundfhir.checklist.policy import load
from woundfhir.checklist.rules.sense import push_from_parts
from woundfhir.checklist.rules.signs import sign_count
from woundfhir.handover.texts import say
from woundfhir.measures.infection import SignCount
from woundfhir.measures.timing import Days, days_open
from woundfhir.record.spoken import is_one
from woundfhir.record.units import MeasureError


@dataclass(frozen=True, slots=True)
class Numbers:
    """What the newest notes give; None where the record does not say enough.

    Attributes
    ----------
    open
        Days from onset to the newest note, or to the closing; bounds where a date is partial. Of a wound that had
        closed: from the note that found it open again.
    closed
        Whether the wound has closed by then.
    again
        Whether it had closed before, and opened again.
    signs, signs_at
        Different signs of infection in the newest note that answers the question, and its time as written.
    push, push_at
        PUSH 3.0 total of the newest note that holds its parts, and its time as written.
    """

    open: Days | None = None
    closed: bool = False
    again: bool = False
    signs: SignCount | None = None
    signs_at: str | None = None
    push: int | None = None
    push_at: str | None = None


def numbers_of(record: RecordView, wound_id: str, policy: str | None = None) -> Numbers:
    """Return the numbers of one wound.

    Parameters
    ----------
    record
        From ``woundfhir.chart.open_record``.
    wound_id
        Id of a wound of the record.
    policy
        Policy whose cut-offs say what counts as a sign.

    Raises
    ------
    InputError
        For an unknown policy.
    """
    wound = record.find_wound(wound_id)
    if wound is None or wound.newest is None:
        return Numbers()
    closed = _text(wound, "wound.closed") if wound.closed else None
    asked = wound.now.newest_with("assessment.infection_signs")
    scored = wound.now.newest_that(_scored)
    return Numbers(
        open=_open(wound, wound.newest, closed),
        closed=closed is not None,
        again=len(wound.episodes) > 1,
        signs=None if asked is None else sign_count(asked, load(policy)),
        signs_at=None if asked is None else asked.visit.at,
        push=None if scored is None else push_from_parts(scored),
        push_at=None if scored is None else scored.visit.at,
    )


def _scored(entry: EntryView) -> bool:
    return push_from_parts(entry) is not None


def _open(wound: WoundView, newest: EntryView, closed: str | None) -> Days | None:
    again = len(wound.episodes) > 1
    onset, now = wound.episode[0].at if again else _text(wound, "wound.onset"), newest.at
    if onset is None or now is None:
        return None
    try:
        return days_open(onset, now, closed)
    except MeasureError:
        return None


def _text(wound: WoundView, path: str) -> str | None:
    found = wound.answer(path)
    return found if isinstance(found, str) else None


def days_text(days: Days) -> str:
    """Return a number of days for a reader.

    Examples
    --------
    >>> days_text(Days(35, 35)), days_text(Days(64, 94)), days_text(Days(1, 1))
    ('35 days', '64 to 94 days', '1 day')
    """
    if days.least != days.most:
        return say("numbers.days_between", least=days.least, most=days.most)
    return say("numbers.one_day" if is_one(days.least) else "numbers.days", number=days.least)


def numbers_rows(found: Numbers) -> list[tuple[str, str]]:
    """Return the numbers as labels and words, for a reader.

    Examples
    --------
    >>> numbers_rows(Numbers(open=Days(35, 35), push=12, push_at="2026-03-02T10:00:00-05:00"))
    [('open', '35 days'), ('PUSH total', '12, of its parts (2026-03-02)')]
    """
    rows = []
    if found.open is not None:
        label = "was_open" if found.closed else "open_again" if found.again else "open"
        rows.append((say(f"numbers.{label}"), days_text(found.open)))
    if found.signs is not None:
        counts = {"local": found.signs.local, "deep": found.signs.deep, "day": _day(found.signs_at)}
        rows.append((say("numbers.infection"), say("numbers.signs", **counts)))
    if found.push is not None:
        rows.append((say("numbers.push"), say("numbers.push_total", number=found.push, day=_day(found.push_at))))
    return rows


def _day(at: str | None) -> str:
    return (at or "")[:10]
