"""Hazards that a text names: asked about, whether anything is coded or not. In doubt it is asked."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal

from woundfhir.catalogue import catalogue, per_catalogue
from woundfhir.freetext.language import Language, alternatives, phrase
from woundfhir.freetext.model import Alarm
from woundfhir.freetext.note import Note

_DENIAL = re.compile(r"\b(?:not|no longer|no|never|without)\b")


def find_alarms(note: Note) -> list[Alarm]:
    """Return the hazards of a text, most urgent first, each once at its first words."""
    raw = note.words.raw
    quiet = [found.span() for found in re.finditer(alternatives(raw["bystanders"]["words"]), note.low)]
    out: dict[str, Alarm] = {}
    for key, (pattern, denials) in _patterns(note.words).items():
        for found in pattern.finditer(note.low):
            start, end = found.span()
            if any(begin < end and start < finish for begin, finish in quiet) and not _excepted(note, end):
                continue
            if _DENIAL.search(found[0]) and not any(one.fullmatch(found[0]) for one in denials):
                continue  # "mesh not visible" stands where "mesh ... visible" is looked for
            if not _clearly_denied(note, start, end) and not note.taught(start):
                out.setdefault(key, Alarm(catalogue().hazards[key], *note.origin(start, end)))
    for found in _hot(note):
        out.setdefault("infection", Alarm(catalogue().hazards["infection"], *note.origin(*found.span())))
    for found in _far_out(note):
        out.setdefault("sudden", Alarm(catalogue().hazards["sudden"], *note.origin(*found.span())))
    return sorted(out.values(), key=lambda one: one.hazard.rank)


@per_catalogue()
def _patterns(words: Language) -> dict[str, tuple[re.Pattern[str], list[re.Pattern[str]]]]:
    """Each hazard -> the pattern of all its phrases, and the patterns of those that hold a denial themselves."""
    named = words.raw["hazard_words"]
    return {
        key: (
            re.compile("|".join(_pattern(one, named) for one in phrases)),
            [re.compile(_pattern(one, named)) for one in phrases if _DENIAL.search(one)],
        )
        for key, phrases in words.raw["hazard_phrases"].items()
    }


def _pattern(text: str, words: Mapping[str, list[str]]) -> str:
    """The pattern of a hazard's phrase: ``{redness} ... spreading``."""
    parts = []
    for part in text.split(" ... "):
        pieces = re.split(r"(\{\w+\})", part)
        parts.append(
            r"\s*".join(
                alternatives(words[piece[1:-1]]) if piece.startswith("{") else phrase(piece.strip())
                for piece in pieces
                if piece.strip()
            )
        )
    # up to four words, not over the end of a sentence
    return r"(?:\s+(?:[^\s.;\n]+\s+){0,4}?)".join(parts)


def _clearly_denied(note: Note, start: int, end: int) -> bool:
    """Whether the hazard is denied without doubt, and not by a question: "no fever", "bleeding: none"."""
    return note.denied(start, end) and "?" not in note.low[end : end + 3] and not _excepted(note, end)


def _excepted(note: Note, end: int) -> bool:
    """Whether the sentence goes on with an exception: "no bleeding except when the packing comes out"."""
    return re.search(note.words.listed("negation", "except"), note.low[end : note.sentence(end)[1]]) is not None


def _hot(note: Note) -> list[re.Match[str]]:
    """A temperature of the body from which it is asked about, in degrees Celsius or Fahrenheit."""
    raw = note.words.raw["hazard_temperature"]
    figure = r"[^.;\n\d]{0,12}(\d{2,3}(?:\.\d)?)(?![\d.]\d|\d)"
    return [
        one
        for one in re.finditer(rf"{alternatives(raw['words'])}{figure}", note.low)
        if Decimal(raw["from"]) <= Decimal(one[1]) < Decimal(raw["below"])
        or Decimal(raw["from_f"]) <= Decimal(one[1]) < Decimal(raw["below_f"])
    ]


def _far_out(note: Note) -> list[re.Match[str]]:
    """A blood glucose so low or so high that it is asked about, in mmol/L or mg/dL."""
    raw = note.words.raw["hazard_glucose"]
    found = re.finditer(
        rf"{alternatives(raw['words'])}[^.;\n\d]{{0,20}}(\d{{1,3}}(?:\.\d)?)(?![\d.]\d|\d|\s*%)", note.low
    )
    out = []
    for one in found:
        level = Decimal(one[1])
        level = level / Decimal(raw["mg_dl"]) if level > Decimal(raw["highest"]) else level
        if level < Decimal(raw["below"]) or level >= Decimal(raw["from"]):
            out.append(one)
    return out
