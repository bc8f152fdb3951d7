"""The form read: what a QuestionnaireResponse of our form says, whoever filled it in.

A question is found by its linkId, wherever it stands. An answer may have any type, a code without its system or a
display alone. What two items say of one question is not joined: the question's own item holds, then its words, then
why there is no answer. Of what is taken, the places are noted; the rest of the response is kept as it came and listed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from woundfhir.fhir import form_items as items
from woundfhir.fhir.elements import find_extension, read_date
from woundfhir.fhir.form_level import Level, Path
from woundfhir.fhir.leaves import every
from woundfhir.fhir.term import Term
from woundfhir.fhir.terms import Terms
from woundfhir.record import quantity

Json = Any
_BACK = {
    "in-progress": "draft",
    "completed": "final",
    "amended": "amended",
    "entered-in-error": "entered in error",
    "stopped": "draft",
}


class Read(NamedTuple):
    """What a response says: of the visit (with ``at``, ``status``, ``client``), of the wound, and the entry's parts.

    ``taken`` are the paths of the leaves that were read.
    """

    visit: dict[str, Json]
    wound: dict[str, Json]
    entry: dict[str, Json]
    taken: set[Path]


def read_response(resource: Mapping[str, Json], compiled: Terms) -> Read:
    """Return what a QuestionnaireResponse says."""
    visit: dict[str, Json] = {"status": _BACK.get(str(resource.get("status")), "draft")}
    reader = _Reader(compiled)
    all_of = Level(resource.get("item", ()), (), reader.taken)
    if at := all_of.text("visit:at") or read_date(resource, "authored", compiled.written_as):
        visit["at"] = at
        if resource.get("authored") == at:
            reader.taken.add(("authored",))
    reader.frame(all_of, "visit", visit)
    by = {key: said for key in items.AUTHOR if (said := all_of.text(f"{items.BY}.{key}"))}
    if by:
        visit["by"] = by
    wound: dict[str, Json] = {}
    reader.frame(all_of, "wound", wound)
    entry: dict[str, Json] = {}
    visit |= reader.level(compiled.groups["visit"], all_of)
    wound |= reader.level(compiled.groups["wound"], all_of)
    for group, holder in (("client", visit), ("assessment", entry), ("care", entry), ("plan", entry)):
        part = reader.level(compiled.groups[group], all_of)
        reader.frame(all_of, group, part)
        if part:
            holder[group] = part
    supplies = []
    for one in all_of.inside("supply"):
        reader.gate(one, "supply")
        supplies.append(reader.level(compiled.groups["supply"], one))
    if any(supplies):
        entry["supplies"] = [one for one in supplies if one]
        reader.agree(all_of, items.SUPPLIES)
    if note := all_of.text(items.ENTRY_NOTE):
        entry["note"] = note
    visit.pop("id", None)
    wound.pop("id", None)
    return Read(visit, wound, entry, reader.taken)


class _Reader:
    def __init__(self, compiled: Terms) -> None:
        self.compiled = compiled
        self.taken: set[Path] = set()

    def frame(self, found: Level, group: str, into: dict[str, Json]) -> None:
        """Read the keys of the frame that a part holds."""
        for key in (*items.BEFORE.get(group, ()), *items.BEHIND.get(group, ())):
            link = items.framed(group, key)
            if (group, key) == ("wound", "status"):
                self._status(found, link, into)
            elif key != "at" and (said := found.text(link)):
                into[key] = said
        self.gate(found, group)

    def gate(self, found: Level, group: str) -> None:
        """Note the question that only shows others."""
        for path, answer in found.answers(group + items.MORE):
            self._take(path, answer)

    def _status(self, found: Level, link: str, into: dict[str, Json]) -> None:
        for path, answer in found.answers(link):
            coding = answer.get("valueCoding", {})
            said = answer.get("valueString", coding.get("display"))
            for word, known in items.STATUS.items():
                if coding.get("code") == known.code or (str(said).casefold() == word and "code" not in coding):
                    into["status"] = word
                    self._take(path, answer)
                    return

    def agree(self, found: Level, link: str) -> None:
        """Note the yes before what is there."""
        for path, answer in found.answers(link):
            if self._any(answer) == "yes":
                self._take(path, answer)

    def level(self, known: Mapping[str, Term], found: Level) -> dict[str, Json]:
        """Return the answers to the questions of one level, by key."""
        out = {}
        for key, term in known.items():
            answer = self._set(term, found) if items.is_set(term.concept) else self._leaf(term, found)
            if answer is not None:
                out[key] = answer
        return out

    def _leaf(self, term: Term, found: Level, link: str = "") -> Json:
        path = link or term.concept.path
        read = [(at, one, self._value(term, one)) for at, one in found.answers(path)]
        read = [one for one in read if one[2] is not None]
        words = [(at, one, _words(one)) for at, one in found.answers(path + items.WORDS)]
        words = [one for one in words if one[2] is not None]
        if not read and not words:
            return self._why(found, path)
        if read and words and self._same(read[0][2], words[0][2]):
            read, words = words[:1], read[:1]  # the same amount, in the words of whoever wrote it
            self._take(*words[0][:2])
        read = read or words
        several = term.spread == "each" and all(isinstance(value, str) for _, _, value in read)
        for at, one, _ in read if several else read[:1]:
            self._take(at, one)
        return [value for _, _, value in read] if several else read[0][2]

    def _same(self, typed: Json, words: Json) -> bool:
        """Whether two texts are one number with one unit."""
        units = self.compiled.catalogue.units
        one, other = (quantity.parse(said) if isinstance(said, str) else None for said in (typed, words))
        if one is None or other is None or one.comparator or other.comparator or not one.unit or not other.unit:
            return False
        return one.value == other.value and units.get(one.unit) == units.get(other.unit) is not None

    def _value(self, term: Term, answer: Mapping[str, Json]) -> Json:
        """Return what one answer says: a value, or a reason that stands in its place."""
        if (absent := self._reason(answer)) is not None:
            return absent
        if (earlier := self._earlier(answer)) is not None:
            return earlier
        value = term.shape.read_item(term.concept, term.codec, self.compiled.catalogue, answer)
        return value if not isinstance(value, str) or value.strip() else None

    def _earlier(self, holder: Mapping[str, Json]) -> Json:
        """Return what earlier versions wrote into an extension: a reason, or words."""
        if missing := find_extension(holder, self.compiled.ext("absent")):
            return self.compiled.reasons.read(missing.get("valueCodeableConcept"))
        words = find_extension(holder, self.compiled.written_as)
        return words.get("valueString") if words else None

    def _reason(self, answer: Mapping[str, Json], system: str = "") -> dict[str, str] | None:
        """Return the reason that an answer names by its code; ``system`` is that of a code without one."""
        coding = {"system": system, **answer.get("valueCoding", {})}
        known = self.compiled.reasons.answers.by_code
        if (coding.get("system"), coding.get("code")) not in known:
            return None
        text = {"text": coding["display"]} if "display" in coding else {}
        return self.compiled.reasons.read({"coding": [coding], **text})

    def _why(self, found: Level, path: str) -> Json:
        system = next(iter(self.compiled.reasons.answers.by_code))[0]
        for at, answer in found.answers(path + items.WHY):
            reason = self._reason(answer, system)
            said = _words(answer) or answer.get("valueCoding", {}).get("display")
            if reason is None and said:
                reason = {"absent": str(said)}
            if reason is not None:
                self._take(at, answer)
                return reason
        return None

    def _set(self, term: Term, found: Level) -> Json:
        path = term.concept.path
        whole = self._shares(term, found) if term.spread == "shares" else self._group(term, found)
        if whole is not None:
            self.agree(found, path + items.ANY)
            return whole
        for at, item in found.items.get(path, ()):
            if (earlier := self._earlier(item)) is not None:
                self._take(at, item)
                return earlier
        for at, one in found.answers(path):  # words in place of a group
            if (said := _words(one)) is not None:
                self._take(at, one)
                return said
        for at, answer in found.answers(path + items.ANY):
            reason = self._reason(answer)
            if reason is not None or self._any(answer) == "none":
                self._take(at, answer)
                return reason or "none"
        if (said := found.text(path + items.WORDS)) is not None:
            return said
        return self._why(found, path)

    def _any(self, answer: Mapping[str, Json]) -> str | None:
        """Whether an answer says that there is any: yes, none, or None where it says neither."""
        coding = answer.get("valueCoding", {})
        yes_no, none = self.compiled.catalogue.answers["yes_no"], self.compiled.coding("none")
        if answer.get("valueBoolean") is True:
            return "yes"
        word = yes_no.by_code.get((coding.get("system"), coding.get("code"))) or yes_no.find(
            answer.get("valueString", coding.get("display"))
        )
        if word is not None:
            return "yes" if word.word == "yes" else "none"
        said = answer.get("valueString", coding.get("display"))
        same = (coding.get("system"), coding.get("code")) == none.key or str(said).casefold() == "none"
        return "none" if same or answer.get("valueBoolean") is False else None

    def _group(self, term: Term, found: Level) -> Json:
        whole = []
        for inner in found.inside(term.concept.path):
            one = self.level(term.fields, inner)
            note = inner.text(term.concept.path + items.NOTE) or inner.note
            if "note" not in term.fields and note:
                one["note"] = note
            if one and not term.concept.many:
                return one
            if one:
                whole.append(one)
        return whole or None

    def _shares(self, term: Term, found: Level) -> Json:
        path, out = term.concept.path, {}
        for inner in found.inside(path):
            read = ((at, one, self._value(term, one)) for at, one in inner.answers(f"{path}.word"))
            at, one, word = next((one for one in read if isinstance(one[2], str)), ((), {}, None))
            if word is None or word in out:
                continue
            self._take(at, one)
            amount = self._leaf(self.compiled.share_part, inner, f"{path}.share")
            out[word] = amount if amount is not None else {"absent": "unknown"}
        return out or None

    def _take(self, path: Path, answer: Json) -> None:
        self.taken |= {(*path, *rest) for rest, _ in every(answer)}


def _words(answer: Mapping[str, Json]) -> str | None:
    said = answer.get("valueString")
    return said if isinstance(said, str) and said.strip() else None
