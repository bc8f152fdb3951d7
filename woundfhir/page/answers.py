"""The fields of a form and the answers of a record: one pair of functions for each way.

A form is flat. The name of a field is the path of what it answers; beside it stand, for the same answer:

==============  =====================================================================
``PATH``        the word, number or text; several where it is a list of words
``PATH~``       the unit that was chosen for the number
``PATH+``       words of the nurse's own, where the list has none that fits
``PATH?``       why there is no answer
``PATH!``       ``none``: looked for and not there, of a group
``PATH.WORD``   the share of a word
``PATH[0].KEY`` a field of the first item of a group that may have several
``PATH=``       an answer that the form cannot show: kept as JSON, and never touched
==============  =====================================================================

What was typed is kept to the letter; a decimal comma becomes a point in the record alone, and only
where it is certainly one.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS, Concept, catalogue
from woundfhir.record import quantity
from woundfhir.record.answers import absent
from woundfhir.record.answers import canonical as canonical_answer

Json = Any
#: Name of a field -> what stands in it; a name without a value is left out.
Flat = dict[str, list[str]]

UNIT, OWN, WHY, NONE, RAW = "~", "+", "?", "!", "="
SUPPLIES = "supplies"
#: Fields of an entry that are no concept: its pictures (kept as they are), free words beside the plan and the whole.
PHOTOS, PLAN_NOTE, NOTE = "photos=", "plan.note", "note"
_NUMBERS = ("quantity", "interval", "score", "count", "share")
_ITEM = re.compile(r"\[(\d{1,3})\]\.")
MARKS = UNIT + OWN + WHY + NONE + RAW


def concept_of(name: str) -> str:
    """Return the path of the concept that a field belongs to, without fields of a group and marks.

    Examples
    --------
    >>> concept_of("care.packing[0].length~"), concept_of("assessment.tissue.slough"), concept_of("supplies[1].item")
    ('care.packing', 'assessment.tissue', 'supplies')
    """
    group, _, rest = name.partition(".")
    if group.startswith(SUPPLIES):
        return SUPPLIES
    key = rest.partition(".")[0].partition("[")[0]
    return f"{group}.{key.rstrip(MARKS)}"


def fields_of(group: str) -> Mapping[str, Concept]:
    """Return the concepts of a group of the catalogue."""
    return catalogue().groups[group]


# -- from the form to the record -------------------------------------------------------------------


def entry(flat: Mapping[str, list[str]]) -> dict[str, Json]:
    """Return what a form says of one wound: ``assessment``, ``care``, ``plan``, ``supplies``.

    Examples
    --------
    >>> entry({"assessment.length": ["4,10"], "assessment.length~": ["cm"], "assessment.edge": ["rolled"]})
    {'assessment': {'length': '4.10 cm', 'edge': ['rolled']}}
    """
    out: dict[str, Json] = {}
    for group in ENTRY_GROUPS:
        if found := answers(group, flat):
            out[group] = found
    if items := _items(SUPPLIES, fields_of("supply"), flat):
        out[SUPPLIES] = items
    if photos := flat.get(PHOTOS):
        out["photos"] = json.loads(photos[0])
    if words := flat.get(PLAN_NOTE):
        out.setdefault("plan", {})["note"] = words[0]
    if words := flat.get(NOTE):
        out["note"] = words[0]
    return out


def answers(group: str, flat: Mapping[str, list[str]]) -> dict[str, Json]:
    """Return the answers of one group of the catalogue; what has none is left out."""
    out: dict[str, Json] = {}
    for key, concept in fields_of(group).items():
        value = _answer(concept, f"{group}.{key}", flat)
        if value is not None:
            out[key] = value
    return out


def _answer(concept: Concept, name: str, flat: Mapping[str, list[str]]) -> Json:
    if raw := flat.get(name + RAW):
        return json.loads(raw[0])
    if concept.fields:
        value = _group(concept, name, flat)
    elif concept.shape == "share":
        value = {word: _number(concept, f"{name}.{word}", flat) for word in _shares(name, flat)} or None
    elif concept.shape == "choices":
        value = [*flat.get(name, ()), *_words(flat.get(name + OWN))] or None
    else:
        value = _leaf(concept, name, flat)
    if value is None and (why := flat.get(name + WHY)):
        return {"absent": why[0]}
    return value


def _group(concept: Concept, name: str, flat: Mapping[str, list[str]]) -> Json:
    found: Json = _items(name, concept.fields, flat) if concept.many else _item(name + ".", concept.fields, flat)
    return found or ("none" if flat.get(name + NONE) else None)


def _items(name: str, fields: Mapping[str, Concept], flat: Mapping[str, list[str]]) -> list[dict[str, Json]]:
    return [one for number in numbers(name, flat) if (one := _item(f"{name}[{number}].", fields, flat))]


def numbers(name: str, flat: Mapping[str, list[str]]) -> list[int]:
    """Return the numbers of the items of a group in which something stands."""
    start = len(name)
    found = {int(one[1]) for key in flat if key.startswith(f"{name}[") and (one := _ITEM.match(key, start))}
    return sorted(found)


def _item(start: str, fields: Mapping[str, Concept], flat: Mapping[str, list[str]]) -> dict[str, Json]:
    out = {key: value for key, one in fields.items() if (value := _answer(one, start + key, flat)) is not None}
    if "note" not in fields and (note := flat.get(f"{start}note")):
        out["note"] = note[0]
    return out


def _leaf(concept: Concept, name: str, flat: Mapping[str, list[str]]) -> str | None:
    if own := flat.get(name + OWN):
        return own[0]
    if name not in flat:
        return None
    return _number(concept, name, flat) if concept.shape in _NUMBERS else flat[name][0]


def _number(concept: Concept, name: str, flat: Mapping[str, list[str]]) -> str:
    """A number with its unit: that which was typed, else that which was chosen, else the concept's own."""
    typed = flat[name][0].strip()
    text = quantity.with_point(typed)
    if (found := quantity.parse(text)) is None:
        return typed
    if quantity.may_be_thousands(typed):
        text = typed
    unit = flat.get(name + UNIT, [_unit(concept) or ""])[0]
    return f"{text} {unit}" if concept.shape not in ("score", "count") and found.unit is None and unit else text


def _unit(concept: Concept) -> str | None:
    if concept.shape == "share":
        return "%"
    return concept.unit or ("d" if concept.shape == "interval" else None)


def _shares(name: str, flat: Mapping[str, list[str]]) -> Iterator[str]:
    for key in flat:
        if key.startswith(f"{name}.") and key[-1] not in MARKS:
            yield key[len(name) + 1 :]


def _words(own: list[str] | None) -> list[str]:
    return [word.strip() for word in (own or [""])[0].split(",") if word.strip()]


# -- from the record to the form -------------------------------------------------------------------


def flat_entry(data: Mapping[str, Json]) -> Flat:
    """Return the fields of the form in which one wound's answers stand; ``entry`` makes the same answers of them."""
    out: Flat = {}
    for group in ENTRY_GROUPS:
        out.update(flat_answers(group, data.get(group, {})))
    for number, item in enumerate(data.get(SUPPLIES, ())):
        _put_item(f"{SUPPLIES}[{number}].", fields_of("supply"), item, out)
    if "photos" in data:
        out[PHOTOS] = [_json(data["photos"])]
    if "note" in data.get("plan", {}):
        out[PLAN_NOTE] = [data["plan"]["note"]]
    if "note" in data:
        out[NOTE] = [data["note"]]
    return out


def flat_answers(group: str, data: Mapping[str, Json]) -> Flat:
    """Return the fields in which the answers of one group stand.

    Examples
    --------
    >>> flat_answers("care", {"cleansing": {"solution": "normal saline", "volume": "250 mL"}})
    {'care.cleansing.solution': ['normal saline'], 'care.cleansing.volume': ['250'], 'care.cleansing.volume~': ['mL']}
    """
    out: Flat = {}
    for key, concept in fields_of(group).items():
        if key in data:
            out.update(flat_answer(concept, f"{group}.{key}", data[key]))
    return out


def flat_answer(concept: Concept, name: str, value: Json) -> Flat:
    """Return the fields of one answer; what the form cannot show is kept as it is."""
    out: Flat = {}
    _put(concept, name, value, out)
    again: Json = canonical_answer(concept, _answer(concept, name, out), None, lambda path, kept: None)
    return out if again == value else {name + RAW: [_json(value)]}


def _json(value: Json) -> str:
    return json.dumps(value, ensure_ascii=False)


def _put(concept: Concept, name: str, value: Any, out: Flat) -> None:
    if (why := absent(value)) is not None:
        out[name + WHY] = [why["absent"]]
    elif concept.fields:
        if value == "none":
            out[name + NONE] = ["none"]
        elif concept.many and isinstance(value, list):
            for number, item in enumerate(value):
                _put_item(f"{name}[{number}].", concept.fields, item, out)
        elif isinstance(value, dict):
            _put_item(f"{name}.", concept.fields, value, out)
    elif concept.shape == "share" and isinstance(value, dict):
        for word, amount in value.items():
            if isinstance(amount, str):
                _put_number(f"{name}.{word}", amount, out)
    elif isinstance(value, list):
        out[name] = list(value)
    elif concept.shape in _NUMBERS:
        _put_number(name, str(value), out)
    else:
        _put_word(concept, name, str(value), out)


def _put_item(start: str, fields: Mapping[str, Concept], item: Mapping[str, Json], out: Flat) -> None:
    for key, one in fields.items():
        if key in item:
            _put(one, start + key, item[key], out)
    if "note" in item and "note" not in fields:
        out[f"{start}note"] = [item["note"]]


def _put_number(name: str, text: str, out: Flat) -> None:
    found = quantity.parse(text)
    if found is not None and found.unit is not None and found.comparator is None:
        out[name], out[name + UNIT] = [found.number], [found.unit]
    else:
        out[name] = [text]


def _put_word(concept: Concept, name: str, word: str, out: Flat) -> None:
    listed = concept.answers is not None and concept.answers.find(word) is not None
    out[name if listed or concept.answers is None else name + OWN] = [word]
