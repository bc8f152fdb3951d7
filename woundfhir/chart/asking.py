"""How a rule asks a record: short questions, answered without copies.

Every view (``views.py``) and every item of a group answers the same questions. A path is ``group.key`` or
``group.key.field`` of the catalogue; a path that the catalogue does not have raises ``KeyError``, so that a slip
in a rule cannot pass as "not written".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from woundfhir.catalogue import Concept, Word, catalogue
from woundfhir.chart.heard import Heard
from woundfhir.chart.words import FINDINGS, NONE, canonical, denies_some, entry_of, flag_of, held
from woundfhir.record import dates, quantity
from woundfhir.record.bounds import Amount
from woundfhir.record.shapes import shape_of
from woundfhir.record.units import MeasureError, to_unit

Json = Any
Answers = Mapping[str, Json]

EMPTY: Answers = {}
_NO_TAGS: frozenset[str] = frozenset()


def is_absent(value: Json) -> bool:
    """Whether an answer is ``{absent: reason}``, and says nothing beside it.

    Examples
    --------
    >>> is_absent({"absent": "declined"}), is_absent({"absent": "declined", "kind": "burn"}), is_absent("none")
    (True, False, False)
    """
    return type(value) is dict and "absent" in value and len(value) == 1


def known(value: Json) -> bool:
    """Whether an answer is written and is more than a reason why there is none; "none" is one."""
    return value is not None and not is_absent(value)


class Asked:
    """The questions. A subclass defines where an answer is (``find``) and its path (``path``).

    Many rules ask for the same tags and items, so that both are worked out once for a view; nobody may change them.
    """

    __slots__ = ("_found", "_items", "_tags", "heard")
    _found: dict[str, tuple[Concept, Json]]
    _items: dict[str, list[Item]]
    _tags: dict[str, frozenset[str]]
    #: Notes which words are asked for; None, except where a record holds a word that no list knows.
    heard: Heard | None

    def __init__(self) -> None:
        self.heard = None
        self._found = {}
        self._items = {}
        self._tags = {}

    def find(self, path: str) -> tuple[Concept, Json]:
        """Return the concept at a path and its answer, None where nothing is written."""
        found = self._found.get(path)
        if found is None:
            found = self._found[path] = self._find(path)
        return found

    def _find(self, path: str) -> tuple[Concept, Json]:
        raise NotImplementedError

    def path(self, path: str = "") -> str:
        """Return the place in the record, for a ``Problem``."""
        raise NotImplementedError

    # -- is there an answer? -------------------------------------------------------------------

    def answer(self, path: str) -> Json:
        """Return the answer as it stands in the record; None where nothing is written."""
        return self.find(path)[1]

    def written(self, path: str) -> bool:
        """Whether anything is written: a value, "none", or a reason why there is no value."""
        return (self._found.get(path) or self.find(path))[1] is not None

    def absent(self, path: str) -> str | None:
        """Return the reason why there is no value (``{absent: reason}``), or None."""
        value = self.find(path)[1]
        return value["absent"] if is_absent(value) else None

    def none(self, path: str) -> bool:
        """Whether the answer is "none": looked for and absent, or not done."""
        if self.heard is not None:
            self.heard.ask(self.path(path))
        return self._none(path)

    def _none(self, path: str) -> bool:
        concept, value = self._found.get(path) or self.find(path)
        if type(value) is list and len(value) == 1:
            value = value[0]
        if type(value) is str:
            return canonical(concept, value) == NONE
        return concept.is_group and bool(value) and not is_absent(value) and not self.items(path)

    def has(self, path: str) -> bool:
        """Whether there is a value that is neither "none" nor a reason."""
        value = (self._found.get(path) or self.find(path))[1]
        return value is not None and not is_absent(value) and not self._none(path)

    # -- words ---------------------------------------------------------------------------------

    def word(self, path: str) -> str | None:
        """Return the list's own word for what is written, other words as they stand; None without a value."""
        if self.heard is not None:
            self.heard.ask(self.path(path))
        concept, value = self._found.get(path) or self.find(path)
        return canonical(concept, value) if type(value) is str else None

    def words(self, path: str) -> list[str]:
        """Return the words of an answer: of a list, of shares, of the main field of each item of a group."""
        if self.heard is not None:
            self.heard.ask(self.path(path))
        found = [(concept, text, canonical(concept, text)) for concept, text in _words(*self.find(path))]
        if len(found) > 1 and any(word != NONE for *_, word in found):  # "no fever" beside "pus" denies fever alone
            found = [one for one in found if one[2] != NONE or not denies_some(*one[:2])]
        return [word for *_, word in found]

    def hear(self, place: str) -> None:
        """Note that somebody looked at the words at a place of the record without asking a view for them."""
        if self.heard is not None:
            self.heard.ask(place)

    def named(self, path: str) -> list[tuple[str, Word | None]]:
        """Return each word of an answer as written, with its entry in the answer list."""
        if self.heard is not None:
            self.heard.ask(self.path(path))
        return [(text, entry_of(concept, text)) for concept, text in _words(*self.find(path))]

    def tags(self, path: str) -> frozenset[str]:
        """Return the tags of all the words of an answer: ``honey``, ``gelling``, ``absorbent``, ``adhesive`` ..."""
        if self.heard is not None:
            self.heard.ask(self.path(path))
        known = self._tags.get(path)
        if known is None:
            known = self._tags[path] = _tags(*self.find(path))
        return known

    def flag(self, path: str) -> bool | None:
        """Return yes or no, words behind it or not ("yes, at 3 o'clock"); None where neither is written."""
        concept, value = self._found.get(path) or self.find(path)
        return flag_of(concept, value) if type(value) is str else None

    # -- numbers and times ---------------------------------------------------------------------

    def quantity(self, path: str) -> quantity.Quantity | None:
        """Return the quantity as written; None for other words."""
        value = self.find(path)[1]
        return _parse(value) if type(value) is str else None

    def number(self, path: str) -> Decimal | None:
        """Return the number of a quantity, score or count, without its unit; None behind a comparator."""
        found = self.amount(path)
        return None if found is None else found.exact

    def measure(self, path: str, unit: str) -> Decimal | None:
        """Return a length, area, volume, pressure or time in a UCUM unit; None for anything else than a plain one."""
        found = self.amount(path, unit)
        return None if found is None else found.exact

    def amount(self, path: str, unit: str | None = None) -> Amount | None:
        """Return a number with its comparator, to be held against a limit.

        Parameters
        ----------
        path
            Path of a quantity, score or count.
        unit
            UCUM unit to turn it into; without one the number counts as it is written, whatever its unit.

        Returns
        -------
        Amount or None
            None for words, and for a quantity that has no unit or measures something else.
        """
        value = (self._found.get(path) or self.find(path))[1]
        return _amount(value, unit) if type(value) is str else None

    def day_of(self, path: str) -> date | None:
        """Return the calendar day as written; None for a partial date or other words."""
        return dates.day(self.find(path)[1])

    # -- groups --------------------------------------------------------------------------------

    def items(self, path: str) -> list[Item]:
        """Return the items of a group or step, each to be asked by its fields; none for "none" and for a reason.

        An item that says in words that there is none ("not packed - too shallow") is no item.
        """
        known = self._items.get(path)
        if known is None:
            known = self._items[path] = self._read_items(path)
        return known

    def _read_items(self, path: str) -> list[Item]:
        concept, value = self.find(path)
        if not concept.is_group or is_absent(value):
            return []
        place, heard, shape = self.path(path), self.heard, shape_of(concept)
        if type(value) is dict:
            return [] if shape.denied(concept, value) else [Item(concept, value, place, heard)]
        return [
            Item(concept, one, f"{place}[{index}]", heard)
            for index, one in enumerate(value if type(value) is list else ())
            if type(one) is dict and not shape.denied(concept, one)
        ]


class Item(Asked):
    """One item of a group: a tunnel, a dressing, the cleansing. Paths are names of its fields."""

    __slots__ = ("concept", "data", "place")

    def __init__(self, concept: Concept, data: Answers, place: str, heard: Heard | None = None) -> None:
        super().__init__()
        self.heard = heard
        self.concept = concept
        self.data = data
        self.place = place

    def _find(self, path: str) -> tuple[Concept, Json]:
        return self.concept.fields[path], self.data.get(path)

    def path(self, path: str = "") -> str:
        """Return the place in the record."""
        return f"{self.place}.{path}" if path else self.place

    @property
    def note(self) -> str | None:
        """The free words of the item."""
        return self.data.get("note")


# The same sizes come again and again in a history, and reading a number costs more than looking it up.
_parse = lru_cache(maxsize=65536)(quantity.parse)


@lru_cache(maxsize=65536)
def _amount(text: str, unit: str | None) -> Amount | None:
    found = _parse(text)
    if found is None:
        return None
    if unit is None:
        return Amount(found.value, found.comparator)
    if found.unit is None:
        return None
    try:
        return Amount(to_unit(found.value, catalogue().units.get(found.unit), unit), found.comparator)
    except MeasureError:
        return None


def _words(concept: Concept, value: Json) -> Iterator[tuple[Concept, str]]:
    """Yield the words of an answer as written, each with the concept whose list it belongs to."""
    return iter(()) if value is None or is_absent(value) else shape_of(concept).named(concept, value)


def _tags(concept: Concept, value: Json) -> frozenset[str]:
    found = _NO_TAGS
    for of, text in _words(concept, value):
        entry = entry_of(of, text)
        if entry is not None:
            found |= entry.tags
        elif of.group in FINDINGS or of.path in _HOLDING:
            found = found.union(*(word.tags for word in held(of, text)))
    return found


#: Answers beside the findings ("artery visible at the base") whose unknown words count as the known ones that they
#: hold: "contact burn of the palm" is a burn, so that the rules for burns look at it (WD01 asks about the word itself).
_HOLDING = frozenset(("wound.kind", "wound.site"))
