"""The fields of a form as a screen shows them: what stands in them, what can be chosen, what stood there last time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from woundfhir.catalogue import Concept, catalogue
from woundfhir.page.answers import MARKS, NONE, OWN, RAW, SUPPLIES, UNIT, WHY, fields_of, numbers
from woundfhir.page.texts import answer_word, unit_word
from woundfhir.record.shapes import words

Json = Any
#: Up to so many words of a list are buttons; of a longer one of which one is chosen those that were used before, the
#: others on request. Where several may hold at once (signs of infection, the skin around) every word is a button.
BUTTONS = 17
#: So many words of a share are shown at once; the lists of the catalogue begin with the usual ones.
_OFTEN = 5
_HOURS = tuple(str(hour) for hour in range(1, 13))


@dataclass
class Field:
    """One field, or a set of them.

    Attributes
    ----------
    name, label, question, kind
        ``kind`` is the shape of its answer, or ``items`` for a group that may have several.
    values, unit, own, why, none
        What stands in it: see ``woundfhir.page.answers``.
    may_be_none
        Whether "none" can be answered.
    choices
        Word of the record -> word for the reader.
    rest
        The other words of a long list, shown on request.
    others
        Whether other words may be written; the words of a long list are offered as they are typed.
    units
        The units that may be chosen.
    last
        What stood there last time, in words.
    hint
        What else is to be known before it is answered.
    offers
        Answers that are worked out and offered: value -> words.
    fields, items
        The fields of a group; of one that may have several, those of each.
    hidden
        How many fields of a group are not shown.
    kept
        Words of an answer that the form cannot show.
    rare
        Whether it is shown on request: a share of a tissue that was not seen lately.
    part
        Whether only some of its fields are shown: those that are seen anew, where the others are taken over.
    """

    name: str
    label: str
    question: str
    kind: str
    values: list[str] = field(default_factory=list)
    unit: str = ""
    own: str = ""
    why: str = ""
    none: bool = False
    may_be_none: bool = False
    choices: list[tuple[str, str]] = field(default_factory=list)
    rest: list[tuple[str, str]] = field(default_factory=list)
    others: str = ""
    units: list[tuple[str, str]] = field(default_factory=list)
    last: str = ""
    hint: str = ""
    offers: list[tuple[str, str]] = field(default_factory=list)
    fields: list[Field] = field(default_factory=list)
    items: list[list[Field]] = field(default_factory=list)
    next_item: int = 0
    hidden: int = 0
    kept: str = ""
    rare: bool = False
    part: bool = False

    @property
    def value(self) -> str:
        """What stands in a field that holds one thing."""
        return self.values[0] if self.values else ""

    @property
    def answered(self) -> bool:
        """Whether anything stands in it."""
        inner = [*self.fields, *(one for item in self.items for one in item)]
        return bool(self.values or self.own or self.why or self.none or self.kept or any(o.answered for o in inner))

    @property
    def id(self) -> str:
        """Its id on the screen: what a link of the list of what is missing names."""
        return f"f-{self.name}"


@dataclass(frozen=True)
class Around:
    """What a field is shown with.

    Attributes
    ----------
    flat
        What stands in the form.
    used
        Path of a concept or field -> words that were used before, the newest first.
    last
        The newest answer of each concept: path -> value.
    shown
        Path of a group -> the fields that are shown of it; None for all.
    offers
        Name of a field -> answers that are worked out.
    opened
        Items of groups that are open although nothing stands in them yet: ``care.packing[1]``.
    """

    flat: Mapping[str, list[str]]
    used: Mapping[str, Sequence[str]] = field(default_factory=dict)
    last: Mapping[str, Json] = field(default_factory=dict)
    shown: Mapping[str, Sequence[str]] = field(default_factory=dict)
    offers: Mapping[str, list[tuple[str, str]]] = field(default_factory=dict)
    opened: Sequence[str] = ()


def made(concept: Concept, around: Around, name: str | None = None) -> Field:
    """Return a concept as the form shows it."""
    name = name or concept.path
    flat = around.flat
    out = Field(name, concept.label, concept.question, concept.shape, list(flat.get(name, ())))
    out.own, out.why = (flat.get(name + mark, [""])[0] for mark in (OWN, WHY))
    out.none = bool(flat.get(name + NONE))
    out.kept = _kept(concept, flat.get(name + RAW))
    out.offers = list(around.offers.get(name, ()))
    last = around.last.get(concept.path)
    out.last = "" if last is None else words(concept, last)
    if concept.fields:
        _of_group(out, concept, around)
    elif concept.shape == "share":
        _of_share(out, concept, around)
    else:
        _choices(out, concept, around)
        _units(out, concept, flat)
    return out


def supplies(around: Around) -> Field:
    """Return the supplies as a group of items: they are a list of the note itself, and no concept."""
    fields = fields_of("supply")
    out = Field(SUPPLIES, "", "", "items")
    out.items, out.next_item = _items(SUPPLIES, fields.values(), around)
    return out


def _kept(concept: Concept, raw: list[str] | None) -> str:
    import json

    return words(concept, json.loads(raw[0])) if raw else ""


def _of_group(out: Field, concept: Concept, around: Around) -> None:
    wanted = around.shown.get(concept.path)
    shown = [
        one for one in concept.fields.values() if wanted is None or one.key in wanted or _stands(out.name, one, around)
    ]
    out.hidden = len(concept.fields) - len(shown)
    out.may_be_none = concept.many or concept.shape == "step"
    if concept.many:
        out.kind = "items"
        out.items, out.next_item = _items(out.name, shown, around)
    else:
        out.kind = "group"
        out.fields = [made(one, around, f"{out.name}.{one.key}") for one in shown]


def _stands(name: str, one: Concept, around: Around) -> bool:
    """Whether something stands in a field of a group, or of one of its items."""
    for key in around.flat:
        if key.startswith(name):
            rest = key[len(name) :].partition("]")[2] if key[len(name) : len(name) + 1] == "[" else key[len(name) :]
            if rest.removeprefix(".").split(".")[0].rstrip(MARKS) == one.key:
                return True
    return False


def _items(name: str, fields: Iterable[Concept], around: Around) -> tuple[list[list[Field]], int]:
    """Return the fields of each item, an empty one where there is none, and the number of the next one."""
    open_ones = [int(one[len(name) + 1 : -1]) for one in around.opened if one.startswith(f"{name}[")]
    there = sorted({*numbers(name, around.flat), *open_ones}) or [0]
    shown = list(fields)
    return [[made(one, around, f"{name}[{number}].{one.key}") for one in shown] for number in there], there[-1] + 1


def _of_share(out: Field, concept: Concept, around: Around) -> None:
    assert concept.answers is not None
    flat, last = around.flat, around.last.get(concept.path)
    before = last if isinstance(last, dict) else {}
    for place, word in enumerate(concept.answers.words):
        name = f"{out.name}.{word.word}"
        part = Field(name, answer_word(concept, word.word), "", "percent", list(flat.get(name, ())))
        part.rare = place >= _OFTEN and word.word not in before and not part.values
        part.last = str(before.get(word.word, ""))
        out.fields.append(part)
    known = {f"{out.name}.{word.word}" for word in concept.answers.words}
    for key in flat:
        if key.startswith(f"{out.name}.") and key[-1] not in MARKS and key not in known:
            out.fields.append(Field(key, key[len(out.name) + 1 :], "", "percent", list(flat[key])))


def _choices(out: Field, concept: Concept, around: Around) -> None:
    if concept.shape == "flag":
        out.choices = [(word, answer_word(concept, word)) for word in ("yes", "no")]
        return
    if concept.shape == "clock":
        out.choices = [(hour, hour) for hour in _HOURS]
        return
    if concept.shape == "score" and concept.low is not None and concept.high is not None and int(concept.high) <= 10:
        out.choices = [(str(number), str(number)) for number in range(int(concept.low), int(concept.high) + 1)]
        return
    if concept.answers is None:
        return
    listed = [word.word for word in concept.answers.words]
    out.others = concept.answers.key
    if len(listed) > BUTTONS and concept.shape == "choice":
        before = [word for word in around.used.get(concept.path, ()) if word in listed]
        whole, listed = listed, list(dict.fromkeys([*before[:6], *(one for one in out.values if one)]))
        out.rest = [(word, answer_word(concept, word)) for word in whole if word not in listed]
    elif any(one not in listed for one in out.values):
        listed += [one for one in out.values if one not in listed]
    out.choices = [(word, answer_word(concept, word)) for word in listed]


def _units(out: Field, concept: Concept, flat: Mapping[str, list[str]]) -> None:
    if concept.shape not in ("quantity", "interval"):
        return
    units = concept.units or ((concept.unit,) if concept.unit else ())
    if concept.shape == "interval":
        units = ("d", "wk")
    chosen = flat.get(out.name + UNIT, [""])[0]
    out.unit = chosen or concept.unit or (units[0] if units else "")
    if chosen and chosen not in units:
        units = (*units, chosen)
    out.units = [(unit, unit_word(unit)) for unit in units]


def every_list(fields: Iterable[Field]) -> dict[str, list[tuple[str, str]]]:
    """Return the long lists of words that fields offer as one writes: key -> words."""
    keys: set[str] = set()

    def walk(one: Field) -> None:
        if one.others:
            keys.add(one.others)
        for inner in (*one.fields, *(part for item in one.items for part in item)):
            walk(inner)

    for one in fields:
        walk(one)
    known = catalogue().answers
    return {
        key: [(word.word, word.word) for word in known[key].words]
        for key in sorted(keys)
        if len(known[key].words) > BUTTONS
    }
