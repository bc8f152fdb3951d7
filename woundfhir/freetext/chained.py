"""Answers that hang on the word of the matter: "mod serosang drng", "exudate: small, serous", "no odour"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from woundfhir.freetext.language import Language, alternatives, one_blank
from woundfhir.freetext.note import Note


class _Word(NamedTuple):
    """A word beside the matter: the answer that it gives, and where."""

    path: str
    answer: str
    start: int
    end: int


class _Chain:
    """One matter of a language: its own words, those that may stand beside them, and what they answer."""

    def __init__(self, raw: Mapping[str, Any], words: Language) -> None:
        self.raw = raw
        # how far it reaches may stand between two words: "erythema 2 cm, warm"
        self.reach = rf"{words.number}\s*{words.unit}"
        self.between = rf"{words.number}\s*{words.unit}\s*,?\s*"
        self.answers = {
            word: (path, answer) for path, one in raw["fields"].items() for word, answer in one["words"].items()
        }
        cues = {*raw["cues"], *(word for one in raw["fields"].values() for word in one.get("cue_words", ()))}
        cues |= {word for one in raw["fields"].values() if one.get("cue") for word in one["words"]}
        self.cue = re.compile(alternatives(cues))
        self.named = re.compile(alternatives(raw["cues"]))
        self.beside = alternatives([*self.answers, *raw["glue"]]) if self.answers else alternatives(raw["glue"])

    def right(self, low: str, place: int) -> Iterator[re.Match[str]]:
        """Yield the words that follow; over a comma only where all up to the next one belongs here."""
        follow = re.compile(rf"[\s:=/&+–-]*(?:{self.between})?({self.beside})")
        comma = re.compile(rf"\s*,\s*((?:{self.beside}[\s/&]*)+)(?=\s*(?:{self.reach}\s*)?(?:[,.;\n]|$))")
        while True:
            found = follow.match(low, place)
            if found is None:
                over = comma.match(low, place)
                if over is None:
                    return
                place = over.start(1)
                continue
            place = found.end()
            yield found

    def left(self, low: str, place: int) -> Iterator[re.Match[str]]:
        """Yield the words before, nearest first; never over a comma."""
        before = re.compile(rf"({self.beside})[\s/&-]*$")
        while (found := before.search(low, max(0, place - 40), place)) is not None:
            place = found.start()
            yield found


def read_chained(note: Note) -> None:
    """Read exudate, odour, skin around the wound, edge and signs of infection, in the order of the text."""
    chains = [_Chain(raw, note.words) for raw in note.words.raw["chained"].values()]
    cues = [(cue.start(), number, cue) for number, chain in enumerate(chains) for cue in note.find(chain.cue)]
    for _, number, cue in sorted(cues, key=lambda one: one[:2]):
        if note.free(*cue.span()):
            _one(note, chains[number], cue)


def read_denied(note: Note) -> None:
    """Use up what is denied and has no answer of its own ("no slough"), so that the "no" denies nothing else."""
    raw = note.words.raw
    names = [word for spellings in raw["tissue"].values() for word in spellings]
    for found in note.find(alternatives([*names, *raw["words"]["pain"], *raw["denied_things"]["words"]])):
        start, end = found.span()
        if not note.denied_before(start, end):
            continue
        begin = _no_start(note, start)
        if found.group() in raw["denied_signs"]["words"]:
            note.read("assessment.infection_signs", "none", begin, end, "likely", "were all the signs looked for?")
        if found.group() in raw["words"]["pain"] and note.free(begin, end):
            note.read("assessment.pain_at_rest", "0", begin, end, "likely", "no pain: is that 0 of 10?")
        note.claim(begin, end)


def _one(note: Note, chain: _Chain, cue: re.Match[str]) -> None:
    low = note.low
    left, right = list(chain.left(low, cue.start())), list(chain.right(low, cue.end()))
    start = min([cue.start(), *(one.start() for one in left)])
    end = max([cue.end(), *(one.end(one.re.groups) for one in right)])
    words = [*_words(chain, [cue], 0), *_words(chain, left, 1), *_words(chain, right, 1)]
    none = chain.raw.get("none", {})
    if note.denied_before(start, end) or note.denied_after(end):
        begin, end = _no_start(note, start), _no_end(note, end)
        for path, answer in none.items() if not words else ():  # "no purulent drainage" says nothing of the amount
            note.read(path, answer, begin, end)
        note.claim(begin, end)
        return
    if note.near_no(start):
        return
    for word in _sure(words):
        note.read(
            word.path, word.answer, min(word.start, cue.start()), max(word.end, cue.end()), *_doubt(note, word, cue)
        )
        _extent(note, word)
    if words:
        note.claim(start, end)


def _words(chain: _Chain, found: list[re.Match[str]], group: int) -> Iterator[_Word]:
    for one in found:
        text = one_blank(one.group(group))
        if text in chain.answers:
            yield _Word(*chain.answers[text], one.start(group), one.end(group))


def _sure(words: list[_Word]) -> Iterator[_Word]:
    """Each answer once."""
    seen = set()
    for one in words:
        if (one.path, one.answer) not in seen:
            seen.add((one.path, one.answer))
            yield one


def _doubt(note: Note, word: _Word, cue: re.Match[str]) -> tuple[Any, str]:
    """A colour after the matter may begin the next one: "drainage red granulating bed"."""
    follows = note.low[word.end :].lstrip(" ")
    if word.path.endswith("colour") and word.start > cue.end() and follows[:1] not in ("", ".", ",", ";", "\n"):
        return "likely", "the colour may be that of what follows"
    return "certain", ""


def _extent(note: Note, word: _Word) -> None:
    """How far a change of the skin reaches: "erythema 2 cm"."""
    words: Language = note.words
    if word.path != "assessment.periwound":
        return
    found = re.compile(rf"\s*(?:{words.words('extent')}\s*)?({words.number})\s*({words.unit})").match(
        note.low, word.end
    )
    if found is not None:
        value = f"{words.figure(found[1])} {words.unit_of(found[2])}"
        note.read("assessment.periwound_extent", value, *found.span())


def _no_end(note: Note, end: int) -> int:
    """Where a denial that follows ends: "odour: nil"."""
    found = note.denied_after(end)
    return found.end() if found is not None else end


def _no_start(note: Note, start: int) -> int:
    """Where the word of denial begins, so that it is shown with what it denies."""
    found = re.search(rf"{alternatives(note.words.raw['negation']['before'])}[\s\w/']{{0,25}}$", note.low[:start])
    return found.start() if found is not None and note.denied_before(start, start) else start
