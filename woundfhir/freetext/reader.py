"""A nurse's free text to readings: by rules, each beside its words, none of them counted until a person confirms."""

from __future__ import annotations

import re
from dataclasses import replace

from woundfhir.errors import InputError
from woundfhir.freetext.chained import read_chained, read_denied
from woundfhir.freetext.graded import read_graded
from woundfhir.freetext.hazards import hazards_in
from woundfhir.freetext.language import LANGUAGES, language
from woundfhir.freetext.languages import language_of
from woundfhir.freetext.measured import read_measured
from woundfhir.freetext.model import Alarm, Proposal, Reading
from woundfhir.freetext.named import read_care, read_wound
from woundfhir.freetext.note import Note
from woundfhir.freetext.spelling import plain_text

#: The longest text that is read, in characters.
LONGEST = 20_000
_TOKEN = re.compile(r"[\w'/%.°+&-]*\w[%]?")
#: Answers of which a note has one: two different ones are a conflict, and neither is certain.
#: Hazards that speak against "no signs of infection".
_INFECTION = frozenset(("infection", "sepsis"))
_MANY = frozenset(("visit.purpose", "care.packing", "care.primary_dressing", "care.secondary_dressing"))
_MANY |= {f"assessment.{key}" for key in ("periwound", "edge", "exposed", "tissue", "tunnels", "undermining")}
_MANY |= {"care.securement", "assessment.limb_pressure"}


def read_text(text: str, lang: str | None = None) -> Proposal:
    """Return what a free text seems to say.

    Parameters
    ----------
    text
        One wound at one visit, as a nurse writes it.
    lang
        The language in which sizes and answers are read: ``en`` or ``fr``; None for that of its small words. Hazards
        are heard in both.

    Returns
    -------
    Proposal
        Readings with their words and their certainty, hazards to ask about, and what was not read.

    Raises
    ------
    InputError
        For a text longer than ``LONGEST`` characters.

    Examples
    --------
    >>> found = read_text("4.1 x 3 x 0.4 cm, mod serous drng, no odour")
    >>> [(one.path, one.value, one.certainty) for one in found.readings][:2]
    [('assessment.length', '4.1 cm', 'certain'), ('assessment.width', '3 cm', 'certain')]
    """
    if len(text) > LONGEST:
        raise InputError("text", f"at most {LONGEST:,} characters", "Give one note at a time")
    note = Note(text, language(lang or language_of(plain_text(text)) or LANGUAGES[0]))
    read_denied(note)
    read_care(note)
    read_measured(note)
    read_graded(note)
    read_chained(note)
    read_wound(note)
    alarms = hazards_in(text)
    readings = _without_conflicts(sorted(note.readings, key=lambda one: (one.start, one.end)))
    readings = [_beside(one, alarms, text) for one in readings]
    return Proposal(text, tuple(readings), tuple(alarms), tuple(_unread(note)))


def _beside(one: Reading, alarms: list[Alarm], text: str) -> Reading:
    """No sign of infection is never certain where the text names one; nor is it the wound that improves beside one."""
    if one.path == "assessment.healing_trend" and one.certainty == "certain":
        before = (text[alarm.end : one.start] for alarm in alarms if alarm.end <= one.start)
        if any(not re.search(r"[.;\n]", gap) for gap in before):
            return replace(one, certainty="ask", why="is it said of the wound?")
    if one.path == "assessment.infection_signs" and one.value == "none" and _INFECTION & {a.hazard.key for a in alarms}:
        return replace(one, certainty="ask", why="the text names a sign of infection too")
    return one


def _without_conflicts(readings: list[Reading]) -> list[Reading]:
    """Two answers to one question are a conflict; where several wounds are meant, nothing is certain."""
    answers: dict[str, set[str]] = {}
    for one in readings:
        if one.certainty == "certain":
            answers.setdefault(one.path, set()).add(str(one.value))
    torn = {path for path, values in answers.items() if len(values) > 1 and path not in _MANY}
    torn |= {path for path, values in answers.items() if len(values) > 1 and "none" in values}
    wounds = any(
        one.path in ("wound.side", "wound.site") and one.certainty == "ask" and "named" in one.why for one in readings
    )
    out = []
    seen: set[tuple[str, str, str]] = set()
    for one in readings:
        if one.path in torn:
            one = replace(one, certainty="ask", why="the text gives another answer too")
        elif wounds and one.certainty == "certain":
            one = replace(one, certainty="likely", why="of which wound is it said?")
        key = (one.path, str(one.value), one.certainty)
        if key not in seen:
            seen.add(key)
            out.append(one)
    return out


def _unread(note: Note) -> list[tuple[int, int]]:
    """Spans of words that nothing was made of, neighbours together."""
    quiet = set(note.words.raw["ignored"]["words"])
    spans: list[tuple[int, int]] = []
    last_was_unread = False
    for found in _TOKEN.finditer(note.low):
        if not note.free(*found.span()):
            last_was_unread = False
            continue
        if found.group() in quiet:
            continue
        gap = note.low[spans[-1][1] : found.start()] if spans else "."
        if last_was_unread and not re.search(r"[.;\n]", gap):
            spans[-1] = (spans[-1][0], found.end())
        else:
            spans.append(found.span())
        last_was_unread = True
    return [note.origin(start, end) for start, end in spans]
