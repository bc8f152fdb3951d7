"""The texts of the form, each in every language."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from woundfhir.catalogue import Labels, frame
from woundfhir.catalogue.translation import translations
from woundfhir.language import speaking
from woundfhir.texts import say

Json = Any
TRANSLATION = "http://hl7.org/fhir/StructureDefinition/translation"
#: Part of the form -> part of the record's frame, and a key of it.
FRAMED = {
    "visit": ("visit", ""), "wound": ("wound", ""), "client": ("patient", ""), "assessment": ("entry", "assessment"),
    "care": ("entry", "care"), "supply": ("entry", "supplies"), "plan": ("entry", "plan"),
}  # fmt: skip


def translated(element: str, text: str, others: Labels) -> dict[str, Json]:
    """Return a text, and the same in other languages (the standard extension ``translation``)."""
    extensions = [
        {"url": TRANSLATION, "extension": [{"url": "lang", "valueCode": tag}, {"url": "content", "valueString": words}]}
        for tag, words in others
    ]
    return {element: text, **({f"_{element}": {"extension": extensions}} if extensions else {})}


def in_others(text: Callable[[], str]) -> Labels:
    """Return what a function gives in each other language."""
    found = []
    for language in translations().values():
        with speaking(language.language):
            found.append((language.language.code, text()))
    return tuple(found)


def text_of(key: str, **slots: str) -> tuple[str, Labels]:
    """Return one of the form's own texts in English and in the other languages."""
    return _say(key, **slots), in_others(lambda: _say(key, **slots))


def texts(element: str, key: str) -> dict[str, Json]:
    """Return one of the form's own texts as an element of an item."""
    return translated(element, *text_of(key))


def _say(key: str, **slots: str) -> str:
    return say("woundfhir.definitions", key, **slots)


def beside(suffix: str, label: str, labels: Labels) -> tuple[str, Labels]:
    """Return what an item beside a question asks, with the label of the question in each language."""
    words = dict(labels)
    found = []
    for language in translations().values():
        with speaking(language.language):
            tag = language.language.code
            found.append((tag, _say(f"beside.{suffix}", label=words.get(tag, label))))
    return _say(f"beside.{suffix}", label=label), tuple(found)


def asked(name: str, key: str) -> dict[str, Json]:
    """Return the question of a key of the record's frame as the text of an item."""
    return translated(
        "text", frame().parts[name].keys[key].question, in_others(lambda: frame().parts[name].keys[key].question)
    )


def title(group: str) -> str:
    """Return the title of a part of the form, by the words of the record's frame."""
    name, key = FRAMED[group]
    found = frame().parts[name]
    return found.keys[key].label if key else found.title


def word_of_status(word: str) -> str:
    """Return the word for a status of a wound, in the language that holds."""
    return say("woundfhir.definitions", f"status.{word.replace(' ', '_')}")
