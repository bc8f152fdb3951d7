"""Answers that can be worked out, offered to be touched: the day of the next change, how long a dressing was on."""

from __future__ import annotations

from datetime import date, timedelta

from woundfhir.page.answers import answers
from woundfhir.page.sight import Sight
from woundfhir.page.texts import day_words, say
from woundfhir.record import quantity

_RHYTHM = "plan.change_every"
_DAYS = {"d": 1, "wk": 7}


def offers(sight: Sight) -> dict[str, list[tuple[str, str]]]:
    """Return what is offered: name of a field -> value and words."""
    out: dict[str, list[tuple[str, str]]] = {}
    today = sight.entry.day
    if today is None:
        return out
    if (due := next_change(sight, today)) is not None:
        out["plan.next_change"] = [(due.isoformat(), day_words(due.isoformat()))]
    change = sight.entry.wound.last_change
    before = [one for one in sight.entry.wound.entries if one is not sight.entry]
    last = next((one for one in reversed(before) if one.data.get("care")), None) if change is sight.entry else change
    if last is not None and last is not sight.entry and last.day is not None and last.day < today:
        number = (today - last.day).days
        out["care.removed.days_worn"] = [
            (str(number), say("offer.worn", number=number, day=day_words(last.day.isoformat())))
        ]
    return out


def next_change(sight: Sight, today: date) -> date | None:
    """Return the day of the next change by the rhythm that is written, or was written last time; None for others."""
    group, _, key = _RHYTHM.partition(".")
    written = answers(group, sight.draft.of(sight.wound)).get(key)
    rhythm = written if written is not None else sight.last.values.get(_RHYTHM)
    found = quantity.parse(rhythm) if isinstance(rhythm, str) else None
    if found is None or found.comparator is not None or found.unit not in _DAYS or found.value % 1 or found.value <= 0:
        return None
    days = int(found.value) * _DAYS[found.unit]
    return None if days > 366 else today + timedelta(days=days)
