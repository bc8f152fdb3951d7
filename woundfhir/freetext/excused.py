"""Why the words of a hazard ask nothing: denied, of long ago, over, as ever, advice, or said of somebody else.

Each looks at the words around the hazard alone, and gives way to words that say it is so now. In doubt it is asked.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from woundfhir.catalogue import per_catalogue
from woundfhir.freetext.language import Language, alternatives
from woundfhir.freetext.note import Note

#: Hazards of an earlier week that are over when the note says so; a pain in the chest is asked about even then.
_PASSING = frozenset(("infection", "sepsis", "allergy", "worse"))


class _Excuses:
    """The table ``excused`` of a language, compiled once."""

    def __init__(self, words: Language) -> None:
        raw: Mapping[str, list[str]] = words.raw["excused"]

        def one(name: str) -> re.Pattern[str]:
            return re.compile(alternatives(raw[name]))

        self.now, self.event, self.worse = one("now"), one("event"), one("worse")
        self.cue, self.loose, self.bridge = one("cue"), one("loose_cue"), one("bridge")
        self.clinicians = one("clinicians")
        self.condition = re.compile(rf"(?<!\w)(?:{alternatives(raw['if'])})(?!\w)")
        self.open_if = re.compile(rf"{alternatives(raw['open_before_if'])}\W*$")
        self.history, self.histories = one("history"), one("histories")
        self.long_ago = re.compile("|".join((alternatives(raw["long_ago"]), *raw["long_ago_patterns"])))
        ahead = rf"(?:^|{alternatives(raw['others_after'])})\s*"
        do = alternatives(raw["others_do"])
        self.others = re.compile(rf"{ahead}{alternatives(raw['others'])}(?:'s)?\s+(?:{do}\W*)*$")
        self.own, self.own_only = frozenset(raw["never_others"]), frozenset(raw["never_history"])
        self.others_had = re.compile(rf"{ahead}{alternatives(raw['others'])}\s+{alternatives(raw['others_had'])}(?!\w)")
        self.others_not = one("others_not")
        self.earlier, self.since_then = one("earlier"), one("since_then")
        self.usual_but = re.compile(rf"(?:{words.listed('negation', 'stop')}\s+)?{alternatives(raw['usual'])}")
        self.beside = [_Beside.of(one) for one in words.raw["excused"]["beside"]]
        self.over, self.over_of, self.not_over = one("over"), one("over_of"), one("not_over")
        self.usual, self.usual_of = one("usual"), one("usual_of")
        self.small, self.stopped, self.much = one("small"), one("stopped"), one("much")
        # "of yesterday has stopped"
        self.has_stopped = re.compile(rf"(?:[^\s,]+\s+){{0,3}}?{alternatives(raw['stopped'])}")
        self.paused, self.long_pause = one("paused"), one("long_pause")
        no, end = alternatives(raw["answers_no"]), r"(?=\s*(?:[.,;\n]|$))"
        seen = alternatives(raw["none_seen"])
        self.answered_no = re.compile(rf"\s*\?\s*[-:]?\s*{no}{end}|\s*\(?-\)?{end}|[^.,;?\n]{{0,20}}[;,:-]?\s*{seen}")
        self.just_before = re.compile(rf"(?<!\w)(?:{alternatives(raw['denied_just_before'])})\s*$")
        be = words.listed("negation", "be")
        self.loose_after = re.compile(rf"\s*{be}?\s*{alternatives(raw['loose_cue'])}")


class _Beside(NamedTuple):
    """What stands beside the words of a hazard and makes them something else (the tables ``excused.beside``)."""

    key: str
    holds: re.Pattern[str] | None
    ends: re.Pattern[str] | None
    behind: re.Pattern[str] | None
    near: re.Pattern[str] | None
    never: re.Pattern[str] | None

    @classmethod
    def of(cls, raw: Mapping[str, Any]) -> _Beside:
        def one(name: str) -> re.Pattern[str] | None:
            return re.compile(alternatives(raw[name])) if name in raw else None

        ends = re.compile(rf"{alternatives(raw['ends'])}$") if "ends" in raw else None
        return cls(raw["key"], one("holds"), ends, one("behind"), one("near"), one("never"))

    def fits(self, note: Note, key: str, start: int, end: int) -> bool:
        begin, finish = note.part(start)
        hazard, rest = note.low[start:end], note.low[end:].lstrip(" -")
        if key != self.key or any(one is not None and not one.search(hazard) for one in (self.holds, self.ends)):
            return False
        if self.never is not None and self.never.search(note.low[begin : max(end, finish)]):
            return False
        if self.behind is None and self.near is None:
            return True
        behind = self.behind is not None and self.behind.match(rest) is not None
        return behind or (self.near is not None and self.near.search(note.low[begin : max(end, finish)]) is not None)


@per_catalogue()
def _excuses(words: Language) -> _Excuses:
    return _Excuses(words)


def excused(note: Note, key: str, start: int, end: int) -> bool:
    """Whether the words of a hazard at a place of ``note.low`` ask nothing.

    Parameters
    ----------
    note
        The text.
    key
        The hazard (``hazards.toml``).
    start, end
        Where its words stand.
    """
    words = _excuses(note.words)
    return (
        _denied(note, words, start, end)
        or _advice(note, words, start, end)
        or _of_somebody_else(note, words, key, start)
        or _long_ago(note, words, key, start, end)
        or _over(note, words, key, start, end)
        or _as_ever(note, words, start, end)
        or any(one.fits(note, key, start, end) for one in words.beside)
    )


def denied_beside(note: Note, start: int, end: int) -> bool:
    """Whether the words right before or behind deny it: "no fever", "fever? No", "pus: nil"."""
    words = _excuses(note.words)
    answered = words.answered_no.match(note.low, end) or words.just_before.search(note.low[:start])
    return answered is not None and not excepted(note, end)


def excepted(note: Note, end: int) -> bool:
    """Whether the sentence goes on with an exception: "no bleeding except when the packing comes out"."""
    return re.search(note.words.listed("negation", "except"), note.low[end : note.sentence(end)[1]]) is not None


def _denied(note: Note, words: _Excuses, start: int, end: int) -> bool:
    """ "no fever", "bleeding: none", "chest pain? No", and not "no fever?"."""
    if excepted(note, end):
        return False
    if denied_beside(note, start, end):
        return True
    return note.denied(start, end) and "?" not in note.low[end : end + 3]


def _advice(note: Note, words: _Excuses, start: int, end: int) -> bool:
    """ "to call if fever, chills or chest pain", "ER if bleeding", "reviewed signs of infection with client"."""
    begin, finish = note.sentence(start)
    before, hazard = note.low[begin:start], note.low[start:end]
    part_begin, part_end = note.part(start)
    if words.now.search(note.low[max(part_begin, begin) : min(part_end, finish)]):
        return False
    for found in words.cue.finditer(before):
        if _one_list(words, before[found.end() :]):
            return True
    for found in words.condition.finditer(before):
        if not words.open_if.search(before[: found.start()]) and _one_list(words, before[found.end() :]):
            return True
    if words.bridge.match(hazard) and words.loose_after.match(note.low, end):
        return not words.clinicians.search(note.low[end:finish])
    for found in words.loose.finditer(before):
        after = before[found.end() :]
        if words.clinicians.search(after):
            continue  # "told MD about chest pain"
        first = after.split(",")[0]
        listed = after.lstrip().startswith(":")  # "teaching: fever, redness, pus"
        named = listed or words.bridge.search(first) is not None or words.bridge.match(hazard) is not None
        if named and _one_list(words, after) and not words.clinicians.search(note.low[end:finish]):
            return True
    return False


def _one_list(words: _Excuses, between: str) -> bool:
    """Whether what stands between a cue and the hazard is one list: short pieces, in none of which anything happens."""
    first, *others = re.split(r",(?!\d)", between)
    if len(first.split()) > 12 or any(len(one.split()) > 4 for one in others):
        return False
    return not any(words.event.search(one) or words.now.search(one) for one in others)


def _of_somebody_else(note: Note, words: _Excuses, key: str, start: int) -> bool:
    """ "father had chest pain"; never "hit by her husband", nor what somebody reports of the client."""
    begin, _ = note.part(start)
    if key in words.own:
        return False
    if words.others.search(note.low[begin:start]):
        return True
    found = words.others_had.search(note.low[begin:start])
    between = note.low[begin + found.end() : start] if found is not None else ""
    return found is not None and len(between.split()) <= 6 and not words.others_not.search(between)


def _long_ago(note: Note, words: _Excuses, key: str, start: int, end: int) -> bool:
    """ "hx of chest pain 2019", "PMH: MI, SCC", "treated in 2015"; not "fever yesterday"."""
    begin, finish = note.part(start)
    if key in words.own_only or words.now.search(note.low[begin:finish]):
        return False
    sentence, _ = note.sentence(start)
    if words.history.search(note.low[begin:start]) or words.long_ago.search(note.low[begin:finish]):
        return True
    found = words.histories.search(note.low[sentence:start])
    return found is not None and _one_list(words, note.low[sentence + found.end() : start])


def _over(note: Note, words: _Excuses, key: str, start: int, end: int) -> bool:
    """ "cellulitis resolved", "slight bleeding, stopped", "pump off for the dressing change, back on"."""
    begin, finish = note.part(start)
    sentence, last = note.sentence(start)
    around, rest = note.low[begin:finish], note.low[end:last]
    if key == "bleeding":
        beside, before = rest.lstrip(), note.low[begin:start]
        small = words.small.search(before) or words.small.match(beside) or words.has_stopped.match(beside)
        stopped = words.stopped.search(rest)
        return bool(small and stopped) and not (
            words.much.search(note.low[sentence:last]) or words.not_over.search(rest)
        )
    if key == "pump":
        paused = words.paused.search(note.low[start:last])
        return paused is not None and not (words.long_pause.search(rest) or words.not_over.search(rest))
    if key in _PASSING and words.earlier.search(note.low[sentence:last]) and words.since_then.search(rest):
        return True
    if not words.over_of.fullmatch(note.low[start:end]) or words.not_over.search(note.low[sentence:last]):
        return False
    following = re.match(r"\s*,\s*", note.low[finish:last])
    return words.over.search(around) is not None or (
        following is not None and words.over.match(note.low, finish + following.end()) is not None
    )


def _as_ever(note: Note, words: _Excuses, start: int, end: int) -> bool:
    """ "confused at baseline", "SOB on exertion, unchanged"; not "more confused than usual"."""
    begin, finish = note.sentence(start)
    sentence = note.low[begin:finish]
    if not words.usual_of.fullmatch(note.low[start:end]) or words.worse.search(words.usual_but.sub(" ", sentence)):
        return False
    return words.usual.search(sentence) is not None
