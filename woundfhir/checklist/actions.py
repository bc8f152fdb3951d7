"""Which action answers a safety prompt: one about the matter that it asks about, with who was told and when.

An answer belongs to its question. The matters are the tags ``answers:KEY`` of the list of what an action is about. An
action about another matter, without a role that the list knows, without a day, dated before the finding or after the
note, still to be done, or without success answers nothing; nor do free words. An action written under another wound of
the visit answers where it says so (``all_wounds``), and where the matter is one of the whole client (``hazards.toml``).
A referral and a report in the response answer where their words are a role and a day.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.chart.asking import Item, is_absent
from woundfhir.chart.views import EntryView, RecordView, VisitView
from woundfhir.chart.words import entry_of
from woundfhir.checklist.action_times import offset, out_of_time
from woundfhir.checklist.action_words import fault_of_recipient, no_outcome, not_done, unreached
from woundfhir.checklist.pages import common, joiners
from woundfhir.record import dates
from woundfhir.texts import AsWritten, fill

_ACTION, _TOLD = "plan.escalation", "plan.escalation.told"
_TAG = "answers:"
#: Free words that a nurse may take for an answer.
_IN_WORDS = (
    "plan.referral",
    "plan.reassessment",
    "plan.compression_plan",
    "care.response.action",
    "care.response.reported_to",
)
#: Why an action does not answer, what is nearest to an answer first: keys of the texts.
_FAULTS = (
    "late",
    "early",
    "no_day",
    "undone",
    "outcome",
    "nobody",
    "not_a_clinician",
    "who",
    "when",
    "other_wound",
    "matter",
    "other_matter",
    "words",
)


class Answer(NamedTuple):
    """What answers a prompt: who was told (roles of the catalogue's list) and when (as written, to the minute)."""

    who: tuple[str, ...]
    when: str


class _Action(NamedTuple):
    """One action: its matters, who was told and when, whether it is for all wounds, what it lacks ("" for nothing)."""

    matters: frozenset[str]
    who: tuple[str, ...]
    when: str
    everywhere: bool
    fault: str


@per_catalogue()
def matters() -> Mapping[str, str]:
    """Return every matter that an action can be about, with the word of the list that names it.

    Examples
    --------
    >>> matters()["deep_infection"], matters()["circulation"]
    ('infection', 'circulation')
    """
    about = catalogue().concept(f"{_ACTION}.about").answers
    found: dict[str, str] = {}
    for word in about.words if about is not None else ():
        for key in _matters(word.tags):
            if key not in found or word.word == key:
                found[key] = word.shown
    return found


def _matters(tags: frozenset[str]) -> frozenset[str]:
    return frozenset(tag.removeprefix(_TAG) for tag in tags if tag.startswith(_TAG))


def answered(
    record: RecordView,
    visit: VisitView,
    entry: EntryView | None,
    about: tuple[str, ...],
    since: VisitView | None,
    *,
    from_onset: bool = False,
) -> tuple[tuple[Answer, ...], str]:
    """Return what answers a prompt, else what to write.

    Parameters
    ----------
    record, visit, entry
        Where it was found; no entry: about the whole visit, so that each action of the visit may answer.
    about
        The matters that the prompt asks about; each must be answered.
    since
        The visit from which on an action answers it: the prompt's own where this is None.
    from_onset
        Whether one from the wound's onset on answers it too.

    Returns
    -------
    tuple of (answers, text)
        One of the two is empty. The text is written without a value of the client.
    """
    found: dict[Answer, None] = {}
    faults: dict[str, str] = {}
    onset = entry.answer("wound.onset") if from_onset and entry is not None else None
    for matter in about:
        whole, fault = _answer(record, visit, entry, matter, since or visit, onset)
        if whole is None:
            faults[matter] = fault
        else:
            found[whole] = None
    return ((), _advice(faults)) if faults else (tuple(found), "")


def _answer(
    record: RecordView, visit: VisitView, entry: EntryView | None, matter: str, since: VisitView, onset: Any
) -> tuple[Answer | None, str]:
    faults = set[str]()
    for of, action in _candidates(record, visit, since):
        ours = entry is None or of.wound is entry.wound or action.everywhere or _of_client(matter)
        if matter not in action.matters:
            fault = ("matter" if action.fault == "matter" else "other_matter") if ours else ""
        else:
            fault = action.fault or out_of_time(record, of, action.when, since, onset) if ours else "other_wound"
            if not fault:
                return Answer(action.who, action.when[:16].replace("T", " ")), ""
        if fault:
            faults.add(fault)
    own = visit.entries if entry is None else [entry]
    if any(one.has(path) for one in own for path in _IN_WORDS):
        faults.add("words")
    return None, min(faults, key=_FAULTS.index, default="")


def _of_client(matter: str) -> bool:
    hazard = catalogue().hazards.get(matter)
    return hazard is not None and hazard.client


def _candidates(record: RecordView, visit: VisitView, since: VisitView) -> Iterator[tuple[EntryView, _Action]]:
    acting = record.once(_acting, None)
    yield from acting.get(visit.rank, ())
    if since.rank < visit.rank:
        for rank, found in acting.items():
            if since.rank <= rank < visit.rank and record.judged[rank].counts:
                yield from found


_Acting = dict[int, list[tuple[EntryView, _Action]]]


def _acting(visits: list[VisitView], _: None, before: _Acting | None) -> _Acting:
    """The actions of each judged note that has one, by its place in time."""
    found = {
        visit.rank: [
            (entry, action) for entry in visit.entries if not entry.wound.in_error for action in _actions(entry)
        ]
        for visit in visits
    }
    return {**(before or {}), **{rank: actions for rank, actions in found.items() if actions}}


def _actions(entry: EntryView) -> Iterator[_Action]:
    yield from (_of_item(item) for item in entry.items(_ACTION))
    if (said := _role_and_time(entry, "plan.referral")) is not None:
        who, tags, when = said
        yield _Action(_matters(tags), (who,), when, False, fault_of_recipient([tags]))
    if (said := _role_and_time(entry, "care.response.reported_to")) is not None:
        who, tags, when = said
        fault = fault_of_recipient([tags]) or not_done(entry.answer("care.response.action"))
        yield _Action(_charted_in_response(entry), (who,), when, False, fault)


def _of_item(item: Item) -> _Action:
    about = _matters(item.tags("about"))
    concept, value = item.find("told")
    written = [] if value is None or is_absent(value) else value if type(value) is list else [value]
    known = [word for text in written if (word := entry_of(concept, text)) is not None]
    others = [text for text in written if entry_of(concept, text) is None]
    when = item.answer("when")
    nothing = not item.has("done") and not item.has("agreed")
    undone = "undone" if nothing or item.absent("done") or item.none("done") else not_done(item.answer("done"))
    undone = undone or unreached(item.answer("agreed"), item.note, *others) or no_outcome(item)
    fault = "" if about or item.has("about") else "matter"
    fault = fault or undone or fault_of_recipient([word.tags for word in known])
    fault = fault or ("" if dates.day(when) is not None else "when")
    who = tuple(word.shown for word in known)
    return _Action(about, who, when if type(when) is str else "", item.flag("all_wounds") is True, fault)


def _charted_in_response(entry: EntryView) -> frozenset[str]:
    """The one matter that a response charts: bleeding, or pain; none where bleeding and much pain stand together."""
    bleeding, pain = entry.has("care.response.bleeding_stopped"), entry.number("care.response.pain_after")
    if not bleeding:
        return frozenset(("pain",)) if pain is not None else frozenset()
    return frozenset() if pain is not None and pain >= entry.record.limit("pain.moderate") else frozenset(("bleeding",))


def _role_and_time(entry: EntryView, path: str) -> tuple[str, frozenset[str], str] | None:
    """Return role, its tags and time of a text that is just a role and a day, or a clock time of the visit's day."""
    value, told = entry.answer(path), catalogue().concept(_TOLD)
    found = re.fullmatch(common("action_words")["said"], value.strip(), re.I | re.X) if type(value) is str else None
    role = None if found is None else entry_of(told, found["who"])
    if found is None or role is None:
        return None
    when = found["when"].replace(" ", "T")
    if len(when) < 10:
        at = entry.at or ""
        when = f"{at[:10]}T{when.zfill(5)}{offset(at)}"
    if dates.day(when) is None:
        return None
    return role.shown, role.tags, when


# -- time --------------------------------------------------------------------------------------


# -- what to write -----------------------------------------------------------------------------


def answered_by(about: tuple[str, ...]) -> str:
    """Return in words what answers a prompt that asks about some matters.

    Examples
    --------
    >>> answered_by(("bleeding",))
    'an action about bleeding (plan.escalation) that names who was told, by role, and when'
    """
    return fill(common("actions")["answers"], {"about": _words(about)}, {}, joiners())


def _words(about: Iterable[str]) -> AsWritten:
    return AsWritten(dict.fromkeys(matters()[matter] for matter in about))


def _advice(faults: Mapping[str, str]) -> str:
    """Why what is written does not answer, and the form of what does."""
    texts = common("actions")
    words = _words(faults)
    # In a list of YAML the words stand between commas.
    form = fill(texts["form"], {"about": words, "list": AsWritten([", ".join(words)])}, {}, joiners())
    fault = min((one for one in faults.values() if one), key=_FAULTS.index, default="")
    return f"{texts[fault]} {form}" if fault else form
