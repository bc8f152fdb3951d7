"""A text made ready to be read: in small letters, slips of the pen set right, and asked what a word is said of.

Whether something is denied, of an earlier day, planned or in doubt is asked here, by every reader in the same way.
"""

from __future__ import annotations

import re
from bisect import bisect_left

from woundfhir.catalogue import per_catalogue
from woundfhir.freetext.language import Language, alternatives
from woundfhir.freetext.model import Certainty, Reading, Value
from woundfhir.freetext.spelling import plain
from woundfhir.likeness import nearest

#: A word as hazards are looked up by.
WORD = re.compile(r"\w+")
#: A decimal comma; "1,250" may be a thousand, "2,3,4" is a list.
_COMMA = re.compile(r"(?<![\d,.])(\d+),(\d{1,2})(?![\d,]|\.\d)")
_SENTENCE = re.compile(r"[;\n!?]|\.(?=\s|$)|(?<=[a-z])\.(?=[a-z])")
_PART = re.compile(r"[;\n!?]|\.(?=\s|$)|,(?!\d)|\s-\s")


class Note:
    """One free text.

    Parameters
    ----------
    text
        As it was written.
    words
        The language.

    Attributes
    ----------
    low
        The text that is read: small letters, slips of the pen set right. Positions in it are not those of ``text``;
        ``origin`` brings them back.
    """

    def __init__(self, text: str, words: Language) -> None:
        self.text, self.words = text, words
        self.low, self._starts, self._slips = _spelt(text, words)
        self.tokens = frozenset(WORD.findall(self.low))
        self._claims: list[tuple[int, int]] = []
        self.readings: list[Reading] = []
        raw = words.raw
        self._earlier = re.compile(words.listed("context", "earlier"))
        self._planned = re.compile(words.listed("context", "planned"))
        self._unsure = re.compile(words.listed("context", "unsure"))
        self._others = re.compile(words.listed("context", "others"))
        self._today = re.compile(words.words("today"))
        self._no = re.compile(alternatives(raw["negation"]["before"]))
        self._filler = re.compile(rf"(?:[\s,]*{alternatives(raw['negation']['filler'])})*[\s]*")
        self._stop = re.compile(alternatives(raw["negation"]["stop"]))
        self._denies = re.compile(alternatives(raw["negation"]["denies"]))
        self._around = [re.compile(one) for one in words.around]
        self._lists = rf"(?:{words.words('lists')}|/)"
        firm = alternatives(word for word in raw["negation"]["after"] if word not in raw["negation"]["loose"])
        be, between = words.listed("negation", "be"), words.listed("negation", "between")
        loose = alternatives(raw["negation"]["after"])
        self._after = re.compile(
            rf"\s*(?:{between}\s*)?{be}?\s*(?:{firm}|[:=–-]\s*{loose}(?!\.\d)|{loose}(?=\s*(?:\.(?!\d)|[,;\n]|$)))"
        )

    # -- places -------------------------------------------------------------------------------------------------

    def origin(self, start: int, end: int) -> tuple[int, int]:
        """Return the place in ``text`` of a place in ``low``."""
        return self._starts[start], self._starts[end]

    def place(self, start: int, end: int) -> tuple[int, int]:
        """Return the place in ``low`` of a place in ``text``."""
        return bisect_left(self._starts, start), bisect_left(self._starts, end)

    def slipped(self, start: int, end: int) -> bool:
        """Whether a slip of the pen was set right there."""
        return any(one < end and other > start for one, other, _ in self._slips)

    def claim(self, start: int, end: int) -> None:
        """Say that these words are used up."""
        self._claims.append((start, end))

    def free(self, start: int, end: int) -> bool:
        """Whether nothing has used these words."""
        return all(end <= one or start >= other for one, other in self._claims)

    @property
    def claims(self) -> list[tuple[int, int]]:
        """Every place that is used up, in ``low``."""
        return self._claims

    def find(self, pattern: str | re.Pattern[str]) -> list[re.Match[str]]:
        """Return the matches that nothing has used."""
        return [found for found in re.finditer(pattern, self.low) if self.free(*found.span())]

    def sentence(self, place: int) -> tuple[int, int]:
        """Return the sentence around a place."""
        return self._between(_SENTENCE, place)

    def part(self, place: int) -> tuple[int, int]:
        """Return the part of the sentence, from comma to comma, around a place."""
        return self._between(_PART, place)

    def _between(self, pattern: re.Pattern[str], place: int) -> tuple[int, int]:
        start, end = 0, len(self.low)
        for found in pattern.finditer(self.low):
            if found.end() <= place:
                start = found.end()
            elif found.start() >= place:
                return start, found.start()
        return start, end

    # -- what a word is about -------------------------------------------------------------------------------------

    def denied(self, start: int, end: int) -> bool:
        """Whether what stands there is denied: "no odour", "odour: nil", "no odour, slough or pus"."""
        return (
            self.denied_after(end) is not None
            or self.denied_before(start, end)
            or self._denied_around(start, end)
            or self._in_denied_list(start, end)
        )

    def _denied_around(self, start: int, end: int) -> bool:
        """Whether a denial of two words stands around it: "ne saigne pas"."""
        return bool(
            self._around
            and self._around[0].search(self.low, max(0, start - 12), start)
            and self._around[1].match(self.low, end)
        )

    def _in_denied_list(self, start: int, end: int) -> bool:
        """Whether it is, alone, one of a list without "or": "denies chest pain, SOB, fever"; not "fever 39"."""
        begin, finish = self.sentence(start)
        found = next(self._denies.finditer(self.low, begin, start), None)
        part_start, part_end = self.part(start)
        if found is None or self.low[end : min(part_end, finish)].strip() or self.low[part_start:start].strip():
            return False
        between = self.low[found.end() : start]
        pieces = [one.split() for one in between.split(",")]
        plain_list = not re.search(r"[\d:;]", between) and not self._stop.search(between)
        return plain_list and all(len(one) <= 4 for one in pieces)

    def denied_after(self, end: int) -> re.Match[str] | None:
        """Return the words that follow and deny it: "odour: nil"."""
        return self._after.match(self.low, end)

    def denied_before(self, start: int, end: int) -> bool:
        """Whether a word before it denies it."""
        begin, finish = self.sentence(start)
        last = None
        for found in self._no.finditer(self.low, begin, start):
            last = found
        if last is None:
            return False
        between = self.low[last.end() : start]
        if self._filler.fullmatch(between):
            return True
        if re.search(r"[\d:;]", between) or self._stop.search(between):
            return False
        if re.search(rf"{self._lists}[\s]*(?:{alternatives(self.words.raw['negation']['filler'])}\s*)*$", between):
            return len(between.split()) <= 8
        ends_in_list = re.match(rf"(?:\s*,[^,.;\d]*)*,?\s*[\w\s]*{self._lists}", self.low[end:finish])
        ends_in_list = ends_in_list or re.search(self._lists, self.low[start:end])  # "tendon or hardware seen"
        return bool(ends_in_list) and between.rstrip().endswith(",") and len(between.split()) <= 8

    def near_no(self, start: int) -> bool:
        """Whether a denial stands within three words before it: whatever it denies, nothing here is certain."""
        begin, _ = self.part(start)
        words = list(re.finditer(r"\S+", self.low[begin:start]))[-2:]
        return any(
            self._no.fullmatch(one.group()) and self.free(begin + one.start(), begin + one.end()) for one in words
        )

    def refused(self, start: int) -> bool:
        """Whether it is what somebody refused."""
        begin, _ = self.part(start)
        return re.search(self.words.listed("context", "refused"), self.low[begin:start]) is not None

    def of_the_wound(self, start: int) -> tuple[Certainty, str]:
        """Return how certain a kind or place is; "3 weeks ago" beside it is about how it began."""
        begin, _ = self.part(start)
        before = " ".join(self.low[begin:start].split()[-3:])
        if re.search(self.words.listed("context", "history"), before):
            return "ask", "an earlier wound?"
        if self._others.search(before) or self.near_no(start):
            return "ask", "said of somebody else, or denied"
        return ("likely", "said with a doubt") if self._unsure.search(before) else ("certain", "")

    def doubt(self, start: int, end: int, *, plan: bool = False) -> tuple[Certainty, str]:
        """Return how certain it is that something is said of this client, of today, and as a fact."""
        begin, finish = self.part(start)
        sentence_start, sentence_end = self.sentence(start)
        before, after = self.low[begin:start], self.low[end:finish]
        said_now = self._today.search(self.low, sentence_start, sentence_end) is not None
        for found in self._earlier.finditer(before):
            past_tense = found.group() in ("was", "were", "had")
            if (said_now or not past_tense) and not self._today.search(before, found.end()):
                return "ask", "said of an earlier day"
        if any(found.group() not in ("was", "were", "had", "before") for found in self._earlier.finditer(after)):
            return "ask", "said of an earlier day"
        if re.search(self.words.listed("context", "gone"), self.low[end:sentence_end]):
            return "ask", "gone since?"
        if re.search(self.words.listed("context", "reported"), self.low[sentence_start:start]):
            return "ask", "reported by somebody else"
        if self._others.search(self.low, sentence_start, start):
            return "ask", "said of somebody else"
        if not plan and self._planned.search(self.low, sentence_start, start):
            return "ask", "planned or possible, not done or seen"
        near = " ".join(before.split()[-4:])
        asked = "?" in self.low[end : end + 3] or "?" in self.low[max(0, start - 2) : start]
        doubtful = (self._unsure.search(near), self._unsure.match(after.lstrip()), asked)
        return ("likely", "said with a doubt") if any(doubtful) else ("certain", "")

    def read(
        self, path: str, value: Value, start: int, end: int, certainty: Certainty = "certain", why: str = ""
    ) -> None:
        """Take a reading: as certain as it comes, and no more than its words allow; the words are used up."""
        if path.startswith("wound."):
            doubt, because = self.of_the_wound(start)
        else:
            doubt, because = self.doubt(start, end, plan=path.startswith("plan."))
        if certainty == "certain" or doubt == "ask":
            certainty, why = doubt, because
        slip = next((right for one, other, right in self._slips if one < end and other > start), None)
        if slip is not None and certainty == "certain":
            certainty, why = "likely", f"taken for a slip of the pen: {slip}"
        self.readings.append(Reading(path, value, *self.origin(start, end), certainty, why))
        self.claim(start, end)


def _spelt(text: str, words: Language) -> tuple[str, list[int], list[tuple[int, int, str]]]:
    """Return the text to be read, the place of each of its characters in the original, and the slips set right."""
    low, places = plain(text)
    if words.comma:
        low = _COMMA.sub(r"\1.\2", low)
    out: list[str] = []
    starts: list[int] = []
    slips: list[tuple[int, int, str]] = []
    place = length = 0
    for found in words.long_word.finditer(low):
        if found.group() in words.known:
            continue
        meant = _meant(words, found.group())
        if meant is None:
            continue
        kept = low[place : found.start()]
        out += [kept, meant]
        starts += [*places[place : found.start()], *([places[found.start()]] * len(meant))]
        length += len(kept)
        slips.append((length, length + len(meant), meant))
        length += len(meant)
        place = found.end()
    out.append(low[place:])
    return "".join(out), [*starts, *places[place:]], slips


@per_catalogue(10_000)
def _meant(words: Language, written: str) -> str | None:
    """Return the word that a slip of the pen stands for; the same words come in note after note."""
    best = nearest(written, words.by_letter.get(written[0], ()), words.near)
    return None if best is None else best[0]
