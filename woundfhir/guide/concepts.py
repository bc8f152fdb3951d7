"""The record and its FHIR in the guide: lists of both, and a page for each concept, out of the catalogue.

Nothing about FHIR is written here: the example of each concept is converted, and what it changed is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

from woundfhir.guide.markdown import block, code, page, plain, table

if TYPE_CHECKING:
    from woundfhir.catalogue import Coding, Concept
    from woundfhir.maps import Mapping

Json = Any
#: Elements that say whose, when and where, and nothing of the answer.
_FRAME = frozenset(("resourceType", "id", "meta", "identifier", "text", "status", "subject", "encounter", "focus"))
_FRAME |= {"performer", "effectiveDateTime", "issued", "partOf", "hasMember", "derivedFrom", "performedDateTime"}
_FRAME |= {"performedPeriod", "category", "recorder", "recordedDate", "context", "author", "created", "request"}
_FRAME |= {"patient"}


def pages() -> Iterator[tuple[str, str, Callable[[], str]]]:
    """Yield the name, title and maker of both lists and of each concept."""
    from woundfhir.catalogue import catalogue

    yield "record", "The record, key by key", _record
    yield "mapping", "The record in FHIR, concept by concept", _mapping
    for one in catalogue().concepts():
        yield f"concepts/{one.path}", f"{one.path}: {one.label}", partial(_page, one)


# -- lists ---------------------------------------------------------------------------------------------


def _record() -> str:
    from woundfhir.catalogue import catalogue, frame

    parts = []
    for name, part in frame().parts.items():
        rows = ((code(key.key), plain(key.label), key.shape, plain(key.question)) for key in part.keys.values())
        text = f"{plain(part.says)}\n\n" if part.says else ""
        parts.append(f"## {part.title}: {code(name)}\n\n{text}{table(('key', 'name', 'shape', 'question'), rows)}")
    for name, concepts in catalogue().groups.items():
        rows = ((_link(one), plain(one.label), one.shape, plain(one.question)) for one in concepts.values())
        parts.append(f"## Answers: {code(name)}\n\n{table(('key', 'name', 'shape', 'question'), rows)}")
    return page(
        "The record, key by key",
        "The plain record is YAML or JSON. First come its fixed keys, part by part; then everything that can be "
        "charted, group by group, each with a page of its own. `woundfhir catalogue` prints the same list, "
        "`woundfhir explain KEY` one of them.",
        "Three things are three things: a value, `{absent: not assessed}`, and nothing written. Quantities carry "
        "their unit. Words that no list knows are kept as they are.",
        *parts,
    )


def _mapping() -> str:
    from woundfhir.catalogue import catalogue

    parts = []
    for name, concepts in catalogue().groups.items():
        rows = (_row(one) for one in concepts.values())
        head = ("concept", "resource and element", "code", "unit")
        parts.append(f"## {code(name)}\n\n{table(head, rows)}")
    return page(
        "The record in FHIR, concept by concept",
        "Where each answer stands in FHIR R4, and under which code. The table is made by converting an answer to each "
        "concept and looking at what it changed, so it says what `woundfhir convert` does. Reading goes the same way "
        "back: by the profile, the code and the element. The page of a concept shows its FHIR in full, and which codes "
        "of others are read as it.",
        *parts,
    )


def _row(concept: Concept) -> tuple[str, str, str, str]:
    return (
        _link(concept),
        ", ".join(code(one) for one in elements(concept)),
        _codes(concept.codings),
        ", ".join(concept.units),
    )


def _link(concept: Concept) -> str:
    return f"[{code(concept.key)}](concepts/{concept.path}.md)"


def _codes(codings: Iterable[Coding]) -> str:
    return ", ".join(_coded(one.system, one.code) for one in codings)


def _coded(system: str, value: str) -> str:
    return f"{code(value)} ({plain(_short(system))})"


def _short(system: str) -> str:
    known = {"http://loinc.org": "LOINC", "http://snomed.info/sct": "SNOMED CT"}
    return known.get(system, "own" if system.endswith("/wound-care") else system)


# -- one concept ---------------------------------------------------------------------------------------


def _page(concept: Concept) -> str:
    from woundfhir.definitions.examples import made
    from woundfhir.r4.jsonio import encode_readable

    example = made(concept)
    carry = [new for new, old in example.resources if any(_leaves_between(new, old))]
    whole = (block(encode_readable(new).decode(), "json") for new in carry[:2])
    more = len(carry) - 2
    return page(
        f"{concept.path}: {concept.label}",
        plain(concept.question),
        table(("", ""), ((f"**{name}**", words) for name, words in _facts(concept) if words)),
        _fields(concept),
        _answers(concept),
        f"## In the record\n\n{block(_written(concept), 'yaml')}",
        f"## In FHIR\n\n{table(('element', 'what the example puts there'), _changes(concept))}",
        *whole,
        f"{more} more resources carry parts of it." if more > 0 else "",
        _read_as(concept),
        f"In the terminal: {code(f'woundfhir explain {concept.path}')}. All keys: [the record](record.md); where they "
        "stand in FHIR: [mapping](mapping.md).",
    )


def _facts(concept: Concept) -> Iterator[tuple[str, str]]:
    from woundfhir.chart.conditions import CONDITIONS
    from woundfhir.checklist.rule import PRESENCE
    from woundfhir.guide.rules import known

    when = " and ".join(CONDITIONS[name].label() for name in concept.when)
    rule = next((one for one in known() if one.code == f"{PRESENCE}{concept.path}"), None)
    yield "Shape", concept.shape + (", several" if concept.many else "")
    yield "Units", plain(", ".join(concept.units))
    if concept.low is not None or concept.high is not None:
        yield "Range", f"{concept.low or '...'} to {concept.high or '...'}"
    yield "Asked", concept.role + (f" when {plain(when)}" if when else "")
    yield "Why", plain(concept.asked.why) if concept.asked else ""
    yield "Rule", f"[{rule.code}](rules/{rule.code}.md)" if rule else ""
    yield "Code", _codes(concept.codings)
    yield "Source of the code", plain(concept.source)
    yield "In French", plain(", ".join(label for language, label in concept.labels if language.startswith("fr")))


def _fields(concept: Concept) -> str:
    rows = (
        (code(key), plain(one.question), one.shape, plain(", ".join(one.units) or _list(one)))
        for key, one in concept.fields.items()
    )
    found = table(("field", "question", "shape", "units or answers"), rows)
    return f"## Fields\n\n{found}" if found else ""


def _list(concept: Concept) -> str:
    return "" if concept.answers is None else ", ".join(word.word for word in concept.answers.words)


def _answers(concept: Concept) -> str:
    if concept.answers is None:
        return ""
    rows = (
        (plain(word.word), plain(", ".join(word.also)), ", ".join(_coded(one.system, one.code) for one in word.codings))
        for word in concept.answers.words
    )
    said = "" if not concept.answers.open else "\n\nOther words are expected too. Any other word is kept as it is."
    return f"## Answers\n\n{table(('answer', 'also written', 'code'), rows)}{said}"


def _written(concept: Concept) -> str:
    from woundfhir.definitions.examples import answer
    from woundfhir.record.files import flow

    value = answer(concept)
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return "\n".join((f"{concept.key}:", *(f"- {flow(one)}" for one in value)))
    return f"{concept.key}: {flow(value)}"


# -- what an answer changes in FHIR --------------------------------------------------------------------


def elements(concept: Concept) -> list[str]:
    """Return the elements that hold the example of a concept: ``Observation.component.valueQuantity``.

    Examples
    --------
    >>> from woundfhir.catalogue import catalogue
    >>> elements(catalogue().concept("wound.stage"))
    ['Condition.stage.summary']
    """
    found = list(dict.fromkeys(name for name, _ in _leaves_of(concept)))
    return [name for name in found if not name.endswith(".code")] or found


def _changes(concept: Concept) -> list[tuple[str, str]]:
    return [(code(name), plain(value)) for name, value in dict.fromkeys(_leaves_of(concept))]


def _leaves_of(concept: Concept) -> Iterator[tuple[str, str]]:
    from woundfhir.definitions.examples import made

    for new, old in made(concept).resources:
        yield from _leaves_between(new, old)


def _leaves_between(new: Json, old: Json | None) -> Iterator[tuple[str, str]]:
    """The leaves of a resource that it had not before, beside those of its frame; a panel alone says nothing new."""
    before = old or {}
    for key, value in new.items():
        if key not in _FRAME and value != before.get(key) and not (key == "code" and "hasMember" in new):
            yield from _leaves(f"{new['resourceType']}.{key}", value, before.get(key))


def _leaves(name: str, value: Json, before: Json) -> Iterator[tuple[str, str]]:
    if isinstance(value, list):
        for one in value:
            if not (isinstance(before, list) and one in before):
                yield from _leaves(name, one, None)
    elif not isinstance(value, dict):
        yield name, str(value)
    elif (words := _value(value)) is not None:
        yield name, words
    elif "url" in value:
        short = str(value["url"]).rpartition("/")[2]
        for key, inner in value.items():
            if key != "url":
                yield from _leaves(f"{name}({short})" if key == "extension" else f"{name}({short}).{key}", inner, None)
    else:
        for key, inner in value.items():
            yield from _leaves(f"{name}.{key}", inner, before.get(key) if isinstance(before, dict) else None)


def _value(value: Json) -> str | None:
    """The words of a CodeableConcept, a Coding, a Quantity or a Reference; None for anything else."""
    if "coding" in value or (value.keys() == {"text"}):
        codes = ", ".join(f"{one.get('code')} {one.get('display', '')}".strip() for one in value.get("coding", ()))
        return codes or str(value["text"])
    if "code" in value and "system" in value:
        return f"{value.get('value', '')} {value['code']}".strip()
    if "reference" in value:
        return f"a reference to {str(value['reference']).partition('/')[0]}"
    return None


# -- what is read as it --------------------------------------------------------------------------------


def _read_as(concept: Concept) -> str:
    names = {f"concept:{concept.path}"}
    if concept.answers is not None:
        names |= {f"answer:{word.key}" for word in concept.answers.words}
    rows = [
        (_coded(one.system, one.code), plain(one.label), code(one.target.id), one.equivalence)
        for one in _maps()
        if one.target is not None and one.target.id in names
    ]
    if not rows:
        return ""
    text = "Codes of others that the maps read as this concept or as one of its answers. `explain CODE` says why."
    return f"## Read from codes of others\n\n{text}\n\n{table(('code', 'name', 'read as', 'fit'), rows)}"


def _maps() -> list[Mapping]:
    from woundfhir.maps import in_force

    return [one for some in in_force().by_code.values() for one in some if one.read]
