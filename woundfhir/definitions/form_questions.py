"""The items of the Questionnaire: a question for each concept, and what stands beside it (``fhir/form_items.py``)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from functools import partial
from typing import Any

from woundfhir.catalogue import AnswerList, Coding, Concept, Labels, Word, catalogue, frame
from woundfhir.catalogue.translation import translations
from woundfhir.fhir import form_items as items
from woundfhir.fhir.shapes import fhir_shape, unit_option
from woundfhir.fhir.terms import Terms
from woundfhir.language import speaking
from woundfhir.texts import say

Json = Any
Item = dict[str, Json]
_CORE = "http://hl7.org/fhir/StructureDefinition/"
#: How the addresses of HL7 SDC's extensions begin.
SDC = "http://hl7.org/fhir/uv/sdc/StructureDefinition/sdc-questionnaire-"
EXTRACT = f"{SDC}observationExtract"
TRANSLATION = f"{_CORE}translation"
_CONTROLS = "http://hl7.org/fhir/questionnaire-item-control"
#: The reasons why there is no answer, as a value set inside the Questionnaire.
REASONS = "absent-reason"
#: How many options are shown side by side; more of them stand in a list that opens.
_BUTTONS = 6
#: Part of the form -> part of the record's frame, and a key of it.
_FRAMED = {
    "visit": ("visit", ""), "wound": ("wound", ""), "client": ("patient", ""), "assessment": ("entry", "assessment"),
    "care": ("entry", "care"), "supply": ("entry", "supplies"), "plan": ("entry", "plan"),
}  # fmt: skip
_TITLES = {"care": "Dressing change"}


def part(terms: Terms, group: str) -> Iterator[Item]:
    """Yield a part of the form; that of the supplies stands behind whether there are any."""
    labels = _in_others(lambda: _title(group))
    made: Item = {"linkId": group, **said("text", _TITLES.get(group, _title(group)), labels), "type": "group"}
    if group == "assessment":
        made["code"] = [terms.coding("panel").fhir()]
    if group == "supply":
        yield _any(terms, items.SUPPLIES, said("text", *_beside("any", _title(group), labels)), False)
        made |= {"repeats": True, "enableWhen": [_yes(terms, items.SUPPLIES)]}
    more = _texts("text", "beside.more")
    made["item"] = [
        {"linkId": group + items.MORE, **more, "type": "boolean"},
        *_framed(group, items.BEFORE),
        *(one for some in items.laid_out(terms.catalogue.groups[group].values()) for one in _questions(terms, *some)),
        *_framed(group, items.BEHIND),
    ]
    yield made


def entry_note() -> Item:
    """Return the item for anything else about the wound at the visit."""
    return {"linkId": items.ENTRY_NOTE, **_texts("text", "part.entry_note"), "type": "text"}


# -- the questions ---------------------------------------------------------------------------------


def _questions(terms: Terms, condition: str | None, concepts: list[Concept]) -> Iterator[Item]:
    """Yield questions of one condition and what stands beside them."""
    own = [question(terms, concept) for concept in concepts]
    if condition is not None:
        when, behavior = _enable(terms, condition)
        own = [
            {
                "linkId": items.wrapper(concepts[0].group, condition),
                **_texts("text", "part.kinds" if condition in items.KINDS else "part.answered"),
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
    if extensions := [*_extensions(concept), *_control(concept, options)]:
        made["extension"] = extensions
    if concept.codings:
        made["code"] = [coding.fhir() for coding in concept.codings]
    made |= said("text", concept.question, concept.asked_as or concept.labels)
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
            text = said("text", *_beside("note", concept.label, concept.labels))
            made["item"].append({"linkId": concept.path + items.NOTE, **text, "type": "text"})
    made.update(_options(options))
    return made


def _share(made: Item, concept: Concept, terms: Terms) -> Item:
    """A share: a repeating group of a word and its percentage."""
    percent, path = terms.share_part.concept, f"{concept.path}.share"
    word: Item = {
        "linkId": f"{concept.path}.word",
        "extension": [*made.pop("extension", ()), *_control(concept, concept.answers)],
        "code": made.pop("code", []),
        **said("text", concept.label, concept.labels),
        "type": "open-choice",
        **_options(concept.answers),
    }
    amount: Item = {
        "linkId": path,
        "extension": [_unit("%")],
        "code": [coding.fhir() for coding in percent.codings],
        **said("text", percent.question, percent.asked_as),
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
    text = said("text", *_beside(suffix[1:], label, labels))
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
    options = [_option(yes.codings[0], yes.word, yes.labels)]
    options.append(_option(terms.coding("none"), *_text("answer.none")))
    if looked:
        known = terms.reasons.answers.words
        reason = next(c for word in known for c in word.codings if c.code == items.NOT_LOOKED)
        options.append(_option(reason, *_text("answer.not_looked")))
    kind: Item = {"linkId": link, "extension": [control("radio-button")], **text, "type": "choice"}
    return {**kind, "answerOption": options}


def _framed(group: str, keys: Any) -> Iterator[Item]:
    for key in keys.get(group, ()):
        found = frame().parts[_FRAMED[group][0]].keys if group != "plan" else {}
        link = items.framed(group, key)
        if (group, key) == ("wound", "status"):
            labels = {word: _in_others(partial(_word_of_status, word)) for word in items.STATUS}
            options = [_option(coding, word, labels[word]) for word, coding in items.STATUS.items()]
            made: Item = {"linkId": link, "extension": [control("radio-button")], **_asked(group, key)}
            yield {**made, "type": "choice", "answerOption": options}
        elif key == "at":
            yield {"linkId": link, **_texts("text", "part.at"), "type": "string"}
        elif key in found:
            yield {"linkId": link, **_asked(group, key), "type": "text" if key == "note" else "string"}
        else:
            text = said("text", *_beside("note", _title(group), _in_others(lambda: _title(group))))
            yield {"linkId": link, **text, "type": "text"}
    if group == "visit" and keys is items.BEFORE:
        inner = [{"linkId": f"{items.BY}.{key}", **_asked("author", key), "type": "string"} for key in items.AUTHOR]
        yield {"linkId": items.BY, **_texts("text", "part.by"), "type": "group", "item": inner}


# -- extensions, options ---------------------------------------------------------------------------


def _extensions(concept: Concept) -> Iterator[dict[str, Json]]:
    shape = fhir_shape(concept)
    units = shape.item_units(concept)
    for unit in units:
        yield _unit(unit)
    low, high = shape.item_limits(concept)
    for url, limit in (("minValue", low), ("maxValue", high)):
        if limit is None:
            continue
        if len(units) > 1 and Decimal(limit) != 0:  # it is one of its own unit
            own = unit_option(str(concept.unit))
            amount = {"value": _number(limit), "unit": own["display"], "system": own["system"], "code": own["code"]}
            yield {"url": SDC + url.replace("Value", "Quantity"), "valueQuantity": amount}
        else:
            kind = "valueInteger" if shape.item_type(concept) == "integer" else "valueDecimal"
            yield {"url": _CORE + url, kind: _number(limit)}
    observed = concept.resource in ("observation", "component") and concept.native is None and not concept.is_group
    if observed and concept.codings and concept.group in ("client", "assessment", "plan"):
        yield {"url": EXTRACT, "valueBoolean": True}


def _number(text: str) -> Json:
    number = Decimal(text)
    return int(number) if number == int(number) else float(number)


def _control(concept: Concept, options: AnswerList | None) -> list[Json]:
    """How the options are shown: where several may be chosen as boxes, a few as buttons, many as a list that opens."""
    if options is None:
        return []
    if fhir_shape(concept).spread == "each":
        return [control("check-box")]
    return [control("radio-button" if len(options.by_code) <= _BUTTONS else "drop-down")]


def control(code: str) -> dict[str, Json]:
    """Return the extension that says how an item is shown; the code is one of R4's questionnaire-item-control."""
    concept = {"coding": [{"system": _CONTROLS, "code": code}]}
    return {"url": f"{_CORE}questionnaire-itemControl", "valueCodeableConcept": concept}


def _unit(unit: str) -> dict[str, Json]:
    return {"url": f"{_CORE}questionnaire-unitOption", "valueCoding": dict(unit_option(unit))}


def _options(answers: AnswerList | None) -> dict[str, Json]:
    """The words of a list as options, each by its first code; a word that shares a code with another stands once."""
    if answers is None:
        return {}
    found: dict[Coding, Word] = {}
    for word in answers.words:
        found.setdefault(word.codings[0], word)
    return {"answerOption": [_option(coding, word.word, word.labels) for coding, word in found.items()]}


def _option(coding: Coding, text: str, labels: Labels) -> dict[str, Json]:
    """An option in the words of a nurse; the display that its code system gives stands in the value set."""
    return {"valueCoding": {"system": coding.system, "code": coding.code, **said("display", text, labels)}}


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


def said(element: str, text: str, others: Labels) -> dict[str, Json]:
    """Return a text, and the same in other languages (the standard extension ``translation``)."""
    translated = [
        {"url": TRANSLATION, "extension": [{"url": "lang", "valueCode": tag}, {"url": "content", "valueString": words}]}
        for tag, words in others
    ]
    return {element: text, **({f"_{element}": {"extension": translated}} if translated else {})}


def _in_others(text: Callable[[], str]) -> Labels:
    """What a function gives in each other language."""
    found = []
    for language in translations().values():
        with speaking(language.language):
            found.append((language.language.code, text()))
    return tuple(found)


def _text(key: str, **slots: str) -> tuple[str, Labels]:
    return _say(key, **slots), _in_others(lambda: _say(key, **slots))


def _texts(element: str, key: str) -> dict[str, Json]:
    return said(element, *_text(key))


def _say(key: str, **slots: str) -> str:
    return say("woundfhir.definitions", key, **slots)


def _beside(suffix: str, label: str, labels: Labels) -> tuple[str, Labels]:
    """What an item beside a question asks, with the label of the question in each language."""
    words = dict(labels)
    found = []
    for language in translations().values():
        with speaking(language.language):
            tag = language.language.code
            found.append((tag, _say(f"beside.{suffix}", label=words.get(tag, label))))
    return _say(f"beside.{suffix}", label=label), tuple(found)


def _asked(name: str, key: str) -> dict[str, Json]:
    return said(
        "text", frame().parts[name].keys[key].question, _in_others(lambda: frame().parts[name].keys[key].question)
    )


def _title(group: str) -> str:
    """The title of a part of the form, by the words of the record's frame."""
    name, key = _FRAMED[group]
    found = frame().parts[name]
    return found.keys[key].label if key else found.title


def _word_of_status(word: str) -> str:
    return say("woundfhir.definitions", f"status.{word.replace(' ', '_')}")


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
