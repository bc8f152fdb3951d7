"""The items of the Questionnaire: a question for each concept, and what stands beside it (``fhir/form_items.py``)."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

from woundfhir.catalogue import Concept, Labels, catalogue, frame
from woundfhir.definitions.form_options import control, extensions, option, options_of, shown_as, unit_extension
from woundfhir.definitions.form_texts import (
    FRAMED,
    asked,
    beside,
    in_others,
    text_of,
    texts,
    title,
    translated,
    word_of_status,
)
from woundfhir.fhir import form_items as items
from woundfhir.fhir.shapes import fhir_shape
from woundfhir.fhir.terms import Terms

Json = Any
Item = dict[str, Json]
#: The reasons why there is no answer, as a value set inside the Questionnaire.
REASONS = "absent-reason"
_TITLES = {"care": "Dressing change"}


def part(terms: Terms, group: str) -> Iterator[Item]:
    """Yield a part of the form; that of the supplies stands behind whether there are any."""
    labels = in_others(lambda: title(group))
    made: Item = {"linkId": group, **translated("text", _TITLES.get(group, title(group)), labels), "type": "group"}
    if group == "assessment":
        made["code"] = [terms.coding("panel").fhir()]
    if group == "supply":
        yield _any(terms, items.SUPPLIES, translated("text", *beside("any", title(group), labels)), False)
        made |= {"repeats": True, "enableWhen": [_yes(terms, items.SUPPLIES)]}
    more = texts("text", "beside.more")
    made["item"] = [
        {"linkId": group + items.MORE, **more, "type": "boolean"},
        *_framed(group, items.BEFORE),
        *(one for some in items.laid_out(terms.catalogue.groups[group].values()) for one in _questions(terms, *some)),
        *_framed(group, items.BEHIND),
    ]
    yield made


def entry_note() -> Item:
    """Return the item for anything else about the wound at the visit."""
    return {"linkId": items.ENTRY_NOTE, **texts("text", "part.entry_note"), "type": "text"}


# -- the questions ---------------------------------------------------------------------------------


def _questions(terms: Terms, condition: str | None, concepts: list[Concept]) -> Iterator[Item]:
    """Yield questions of one condition and what stands beside them."""
    own = [question(terms, concept) for concept in concepts]
    if condition is not None:
        when, behavior = _enable(terms, condition)
        own = [
            {
                "linkId": items.wrapper(concepts[0].group, condition),
                **texts("text", "part.kinds" if condition in items.KINDS else "part.answered"),
                "type": "group",
                "enableWhen": when,
                **({"enableBehavior": behavior} if len(when) > 1 else {}),
                "item": own,
            }
        ]
    beside = {(one, suffix): _next_to(terms, one, suffix) for one in concepts for suffix in items.beside(one)}
    yield from (item for (_, suffix), item in beside.items() if suffix == items.ANY)
    rest = [item for (_, suffix), item in beside.items() if suffix != items.ANY]
    yield from (*rest, *own) if items.reasons_first(concepts) else (*own, *rest)


def question(terms: Terms, concept: Concept) -> Item:
    """Return the item of a concept."""
    shape = fhir_shape(concept)
    made: Item = {"linkId": concept.path}
    options = shape.offered(concept, terms.catalogue) if shape.item_type(concept) == "open-choice" else None
    if extra := [*extensions(concept), *shown_as(concept, options)]:
        made["extension"] = extra
    if concept.codings:
        made["code"] = [coding.fhir() for coding in concept.codings]
    made |= translated("text", concept.question, concept.asked_as or concept.labels)
    made["type"] = "group" if items.is_set(concept) else shape.item_type(concept)
    if items.is_set(concept):
        made["enableWhen"] = [_yes(terms, concept.path + items.ANY)]
    elif items.required(concept):
        missing = [concept.path + suffix for suffix in items.beside(concept)]
        made["enableWhen"] = [{"question": one, "operator": "exists", "answerBoolean": False} for one in missing]
        made |= {"enableBehavior": "all"} if len(missing) > 1 else {}
        made["required"] = True
    if shape.spread in ("each", "shares") or concept.many:
        made["repeats"] = True
    if shape.spread == "shares":
        return _share(made, concept, terms)
    if concept.is_group:
        inner = (_questions(terms, None, [field]) for field in concept.fields.values())
        made["item"] = [one for some in inner for one in some]
        if "note" not in concept.fields:
            text = translated("text", *beside("note", concept.label, concept.labels))
            made["item"].append({"linkId": concept.path + items.NOTE, **text, "type": "text"})
    made.update(options_of(options))
    return made


def _share(made: Item, concept: Concept, terms: Terms) -> Item:
    """A share: a repeating group of a word and its percentage."""
    percent, path = terms.share_part.concept, f"{concept.path}.share"
    word: Item = {
        "linkId": f"{concept.path}.word",
        "extension": [*made.pop("extension", ()), *shown_as(concept, concept.answers)],
        "code": made.pop("code", []),
        **translated("text", concept.label, concept.labels),
        "type": "open-choice",
        **options_of(concept.answers),
    }
    amount: Item = {
        "linkId": path,
        "extension": [unit_extension("%")],
        "code": [coding.fhir() for coding in percent.codings],
        **translated("text", percent.question, percent.asked_as),
        "type": "quantity",
    }
    label = (percent.label, percent.asked_as)
    rest = (_companion(terms, path, suffix, *label, concept.group, False) for suffix in (items.WORDS, items.WHY))
    return {**made, "type": "group", "item": [word, amount, *rest]}


# -- what stands beside a question -----------------------------------------------------------------


def _next_to(terms: Terms, concept: Concept, suffix: str) -> Item:
    several = suffix == items.WORDS and fhir_shape(concept).spread == "each"
    return _companion(terms, concept.path, suffix, concept.label, concept.labels, concept.group, several)


def _companion(terms: Terms, path: str, suffix: str, label: str, labels: Labels, group: str, several: bool) -> Item:
    text = translated("text", *beside(suffix[1:], label, labels))
    if suffix == items.ANY:
        return _any(terms, path + suffix, text, True)
    made: Item = {"linkId": path + suffix, **text}
    if suffix == items.WHY:
        made |= {"extension": [control("drop-down")], "type": "open-choice", "answerValueSet": f"#{REASONS}"}
        made = {"linkId": made.pop("linkId"), "extension": made.pop("extension"), **made}
    else:
        made["type"] = "text"
    made["enableWhen"] = [{"question": group + items.MORE, "operator": "=", "answerBoolean": True}]
    if several:
        made["repeats"] = True
    return made


def _any(terms: Terms, link: str, text: dict[str, Json], looked: bool) -> Item:
    """Whether there is any: yes, none, and where somebody may not have looked, not assessed."""
    yes = terms.catalogue.answers["yes_no"].words[0]
    options = [option(yes.codings[0], yes.word, yes.labels)]
    options.append(option(terms.coding("none"), *text_of("answer.none")))
    if looked:
        known = terms.reasons.answers.words
        reason = next(c for word in known for c in word.codings if c.code == items.NOT_LOOKED)
        options.append(option(reason, *text_of("answer.not_looked")))
    kind: Item = {"linkId": link, "extension": [control("radio-button")], **text, "type": "choice"}
    return {**kind, "answerOption": options}


def _framed(group: str, keys: Any) -> Iterator[Item]:
    for key in keys.get(group, ()):
        found = frame().parts[FRAMED[group][0]].keys if group != "plan" else {}
        link = items.framed(group, key)
        if (group, key) == ("wound", "status"):
            labels = {word: in_others(partial(word_of_status, word)) for word in items.STATUS}
            options = [option(coding, word, labels[word]) for word, coding in items.STATUS.items()]
            made: Item = {"linkId": link, "extension": [control("radio-button")], **asked(group, key)}
            yield {**made, "type": "choice", "answerOption": options}
        elif key == "at":
            yield {"linkId": link, **texts("text", "part.at"), "type": "string"}
        elif key in found:
            yield {"linkId": link, **asked(group, key), "type": "text" if key == "note" else "string"}
        else:
            text = translated("text", *beside("note", title(group), in_others(lambda: title(group))))
            yield {"linkId": link, **text, "type": "text"}
    if group == "visit" and keys is items.BEFORE:
        inner = [{"linkId": f"{items.BY}.{key}", **asked("author", key), "type": "string"} for key in items.AUTHOR]
        yield {"linkId": items.BY, **texts("text", "part.by"), "type": "group", "item": inner}


# -- extensions, options ---------------------------------------------------------------------------


def _yes(terms: Terms, link: str) -> dict[str, Json]:
    yes = terms.catalogue.answers["yes_no"].words[0].codings[0]
    return {"question": link, "operator": "=", "answerCoding": yes.fhir()}


def _enable(terms: Terms, condition: str) -> tuple[list[Json], str]:
    """When the questions of a condition are shown."""
    if condition in items.KINDS:
        link = items.kind_of_wound(terms).path
        codings = items.kinds(terms, condition)
        return [{"question": link, "operator": "=", "answerCoding": coding.fhir()} for coding in codings], "any"
    paths = items.ANSWERED[condition]
    clauses: list[Json] = [{"question": path, "operator": "exists", "answerBoolean": True} for path in paths]
    if condition not in items.NOT_NONE:
        return clauses, "any"
    none = terms.coding("none").fhir()
    return [*clauses, *({"question": path, "operator": "!=", "answerCoding": none} for path in paths)], "all"


# -- texts in each language ------------------------------------------------------------------------


def reasons(terms: Terms) -> dict[str, Json]:
    """Return the value set of the reasons why there is no answer, in a nurse's words, as it stands in the form."""
    concepts = [(coding, word.word, word.labels) for word in terms.reasons.answers.words for coding in word.codings[:1]]
    listed = [
        {"code": coding.code, "display": text, "designation": [{"language": tag, "value": of} for tag, of in labels]}
        for coding, text, labels in concepts
    ]
    system = concepts[0][0].system
    contains = [{"system": system, "code": coding.code, "display": text} for coding, text, _ in concepts]
    return {
        "resourceType": "ValueSet",
        "id": REASONS,
        "name": "AbsentReason",
        "title": catalogue().answers["absent_reason"].title,
        "status": "active",
        "compose": {"include": [{"system": system, "concept": listed}]},
        "expansion": {"timestamp": "", "total": len(contains), "contains": contains},
    }
