"""The shapes whose answer has parts: several words, shares of a whole, the fields of a group."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from typing import Any

from woundfhir.catalogue import Concept, catalogue, nothing
from woundfhir.catalogue.page import SLOT
from woundfhir.record import quantity, spoken
from woundfhir.record.leaf import NONE, StructureError, absent, is_plain, key_of, text
from woundfhir.record.shapes.base import (
    LEAF,
    MISSING,
    Amount,
    Leaf,
    Shape,
    Unknown,
    canonical_in,
    in_words,
    no_keys,
    schema_in,
)

Json = Any


class Choices(Leaf):
    """``choices``: one word of a list or several."""

    name = "choices"

    def canonical(self, concept: Concept, value: Json, zone: str | None, unknown: Unknown) -> Json:
        items = value if isinstance(value, list) else [value]
        return [word for word in (text(item) for item in items) if word] or None

    def structures(self, concept: Concept) -> list[Json]:
        return [{"type": "array", "items": LEAF}]

    def words(self, concept: Concept, value: Json) -> str:
        return ", ".join(spoken.word(concept, str(one)) for one in (value if isinstance(value, list) else [value]))

    def named(self, concept: Concept, value: Json) -> Iterator[tuple[Concept, str]]:
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, str):
                yield concept, one


class Share(Leaf):
    """``share``: words with the share of each, which together make a whole."""

    name = "share"

    def canonical(self, concept: Concept, value: Json, zone: str | None, unknown: Unknown) -> Json:
        """Shares stand in the order of the answer list, other words behind them: the columns of a table have none."""
        if not isinstance(value, dict):
            return text(value)
        out: dict[str, Json] = {}
        for word, amount in value.items():
            missing = absent(amount)
            found = (missing or None) if missing is not None else quantity.tidy(text(amount) or "") or None
            if found is not None and str(word).strip():
                if not is_plain(str(word)):
                    raise StructureError
                out[str(word).strip()] = found
        known = concept.answers
        order = {listed.word: number for number, listed in enumerate(known.words)} if known else {}

        def rank(word: str) -> tuple[int, str]:
            found = known.find(word) if known else None
            return (order[found.word] if found else len(order), word)

        return {word: out[word] for word in sorted(out, key=rank)} or None

    def structures(self, concept: Concept) -> list[Json]:
        return [{"type": "object", "additionalProperties": {"anyOf": [LEAF, MISSING]}}]

    def words(self, concept: Concept, value: Json) -> str:
        if not isinstance(value, dict):
            return spoken.word(concept, str(value))
        return ", ".join(f"{spoken.word(concept, word)} {self._amount(amount)}" for word, amount in value.items())

    def _amount(self, amount: Json) -> str:
        missing = absent(amount)
        return spoken.number(str(amount)) if missing is None else spoken.absent_words(str(missing.get("absent", "")))

    def amounts(self, concept: Concept, value: Json) -> Iterator[Amount]:
        if isinstance(value, dict):
            for word, amount in value.items():
                if isinstance(amount, str):
                    yield Amount(word, amount, self._fault(amount))

    def _fault(self, amount: str) -> str | None:
        found = quantity.parse(amount)
        if found is None:
            return "number"
        if found.unit is None:
            return "bare"
        if catalogue().units.get(found.unit) != "%":
            return "unit"
        return None if 0 <= found.value <= 100 else "range"

    def named(self, concept: Concept, value: Json) -> Iterator[tuple[Concept, str]]:
        for word in value if isinstance(value, dict) else [value]:
            yield concept, word

    def unit(self, concept: Concept) -> str | None:
        return "%"

    def units(self, concept: Concept) -> tuple[str, ...]:
        return ("%",)

    def limits(self, concept: Concept) -> tuple[str | None, str | None]:
        return "0", "100"


class Group(Shape):
    """``group``: a set of fields, or several such sets; "none" says looked for and not there.

    Parameters
    ----------
    shape_of
        Gives the shape of a field.
    """

    name = "group"

    def __init__(self, shape_of: Callable[[Concept], Shape]) -> None:
        self.shape_of = shape_of

    def canonical(self, concept: Concept, value: Json, zone: str | None, unknown: Unknown) -> Json:
        if not isinstance(value, (dict, list)):
            word = text(value)
            if word is None or self.names_nothing(concept, word):
                return NONE if word else None
            if concept.shape == "group" and nothing.says_not_looked(word):
                return {"absent": word}
            item = {self.bare(concept): word}
            return [item] if concept.many else item
        if isinstance(value, list) and len(value) == 1 and not isinstance(value[0], (dict, list)):
            return self.canonical(concept, value[0], zone, unknown)
        if isinstance(value, list) and not concept.many and len(value) != 1:
            raise StructureError
        out = []
        for index, raw in enumerate(value if isinstance(value, list) else [value]):
            place = f"[{index}]" if isinstance(value, list) else ""
            if item := self._item(concept, raw, zone, _below(unknown, f"{place}.")):
                out.append(item)
        if (whole := self.whole(concept, out)) is not None:
            return whole
        return (out or None) if concept.many else (out[0] if out else None)

    def names_nothing(self, concept: Concept, word: str) -> bool:
        """Whether a bare word says that there is none: never an item with that word."""
        alone = concept.shape != "step"
        return nothing.names_nothing(word, *concept.names, concept.key.replace("_", " "), alone=alone)

    def denied(self, concept: Concept, item: Mapping[str, Json]) -> bool:
        """Whether an item says in words that there is none, or that the step was not done, and nothing else.

        Examples
        --------
        >>> packing = catalogue().concept("care.packing")
        >>> group = Step(lambda concept: Choices())
        >>> group.denied(packing, {"material": "not packed - too shallow"})
        True
        >>> group.denied(packing, {"material": "none", "note": "closed"}), group.denied(packing, {"material": "rope"})
        (True, False)
        """
        said = item.get(self.bare(concept))
        return item.keys() <= {self.bare(concept), "note"} and isinstance(said, str) and self.says_none(concept, said)

    def says_none(self, concept: Concept, word: str) -> bool:
        """Whether words of the field for a bare word say that there is none, a reason behind them or not."""
        main = concept.fields.get(concept.main or "")
        if main is not None and main.answers is not None and (found := main.answers.find(word)) is not None:
            return found.word == NONE
        if self.names_nothing(concept, word):
            return True
        known = [] if main is None or main.answers is None else main.answers.words
        spellings = tuple(one for entry in known if entry.word != NONE for one in (entry.word, *entry.also))
        names = (*concept.names, concept.key.replace("_", " "))
        return nothing.says_none(word, names, spellings, step=concept.shape == "step")

    def bare(self, concept: Concept) -> str:
        """Return the field that one bare word belongs to: the main one where it is free words, else the note."""
        main = concept.fields.get(concept.main or "")
        return main.key if main is not None and main.shape == "text" else "note"

    def whole(self, concept: Concept, items: list[dict[str, Json]]) -> Json:
        """Return the reason that the only item gives for its main field and nothing else: it holds for all of it."""
        if len(items) == 1 and items[0].keys() == {concept.main}:
            (only,) = items[0].values()
            if isinstance(only, dict):
                return only
        if concept.many and items and all(self._says_nothing(concept, item) for item in items):
            return NONE
        return None

    def _says_nothing(self, concept: Concept, item: dict[str, Json]) -> bool:
        """Whether every field of an item says that there is none ("depth: nil"), or measures 0 cm of it."""
        for key, value in item.items():
            if not isinstance(value, str):
                return False
            found = quantity.parse(value)
            zero = found is not None and found.value == 0 and found.comparator is None
            if not self.names_nothing(concept, value) and not (zero and key in ("depth", "length")):
                return False
        return True

    def _item(self, concept: Concept, raw: Json, zone: str | None, unknown: Unknown) -> dict[str, Json]:
        if not isinstance(raw, dict):
            word = text(raw)
            return {} if word is None else {self.bare(concept): word}
        named = raw
        if not raw.keys() <= concept.fields.keys():
            named = {key if key in concept.fields else key_of(key): found for key, found in raw.items()}
            for key in named.keys() - concept.fields.keys() - {"note"}:
                unknown(key, named[key])
        out: dict[str, Json] = {}
        for key, inner in concept.fields.items():
            if key in named:
                one = named[key]
                below = no_keys if one.__class__ is str else _below(unknown, key)
                found = canonical_in(self.shape_of(inner), inner, one, zone, below)
                if found is not None:
                    out[key] = found
        if "note" in named and "note" not in concept.fields and (note := text(named["note"])):
            out["note"] = note
        return out

    def structures(self, concept: Concept) -> list[Json]:
        fields: Json = {key: schema_in(self.shape_of(inner), inner) for key, inner in concept.fields.items()}
        fields.setdefault("note", LEAF)
        item = {"type": "object", "properties": fields, "additionalProperties": False}
        size = {} if concept.many else {"minItems": 1, "maxItems": 1}
        return [item, {"type": "array", "items": {"anyOf": [LEAF, item]}, **size}]

    def judge(self, concept: Concept, text: str) -> str | None:
        return None

    def words(self, concept: Concept, value: Json) -> str:
        if isinstance(value, list):
            return "; ".join(in_words(self, concept, item) for item in value)
        return self.item(concept, value) if isinstance(value, dict) else spoken.nothing(str(value))

    def item(
        self, concept: Concept, item: Mapping[str, Json], leave_out: Collection[str] = (), *, brief: bool = False
    ) -> str:
        """Return one item as a reader sees it; see ``woundfhir.record.shapes.item_words``."""
        fields = {key: field for key, field in concept.fields.items() if key in item and key not in leave_out}
        if brief:
            fields = {key: field for key, field in fields.items() if field.page.brief}
        parts = []
        together = SLOT.findall(concept.page.pattern)
        if together and all(key in fields and absent(item[key]) is None for key in together):
            words = {key: in_words(self.shape_of(fields[key]), fields[key], item[key]) for key in together}
            parts.append(concept.page.pattern.format_map(words))
            fields = {key: field for key, field in fields.items() if key not in together}
        for key in sorted(fields, key=lambda key: key != concept.main):
            parts.append(self.shape_of(fields[key]).labelled(fields[key], item[key], bare=key == concept.main))
        if "note" in item and "note" not in concept.fields and not brief:
            parts.append(str(item["note"]))
        return ", ".join(parts)

    def named(self, concept: Concept, value: Json) -> Iterator[tuple[Concept, str]]:
        main = concept.fields.get(concept.main) if concept.main else None
        for one in value if isinstance(value, list) else [value]:
            if main is not None and isinstance(one, dict) and one.get(main.key) is not None:
                yield from self.shape_of(main).named(main, one[main.key])

    def examples(self, concept: Concept) -> list[str]:
        return []


class Step(Group):
    """``step``: a step of the dressing change with its fields; one bare word names its main field."""

    name = "step"

    def bare(self, concept: Concept) -> str:
        return concept.main or "note"

    def whole(self, concept: Concept, items: list[dict[str, Json]]) -> Json:
        return None


def _below(unknown: Unknown, head: str) -> Unknown:
    """Return the same callback for paths below a head."""
    return lambda path, value: unknown(f"{head}{path}", value)
