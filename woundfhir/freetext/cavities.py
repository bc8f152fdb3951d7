"""Undermining and tunnels: where on the clock, and how deep."""

from __future__ import annotations

import re

from woundfhir.freetext.model import Certainty
from woundfhir.freetext.note import Note


def read_undermining(note: Note) -> None:
    """Read each stretch of the edge that is undermined, by the clock, with its depth."""
    words = note.words
    until = rf"(?:{words.words('to')}|-|–)"
    clock = words.words("clock")
    hours = rf"({words.hours})\s*(?:{clock})?\s*{until}\s*({words.hours})\s*({clock})?"
    deep = rf"({words.number})\s*({words.unit})"
    span = rf"{words.words('undermining')}[^.;\n\d]{{0,20}}?{hours}[^.;\n\d]{{0,15}}?{deep}"
    first = rf"{words.words('undermining')}[^.;\n\d]{{0,20}}?{deep}[^.;\n\d]{{0,15}}?{hours}"
    for pattern, order in ((span, (1, 2, 3, 4, 5)), (first, (3, 4, 5, 1, 2))):
        for found in note.find(pattern):
            start, end, clocked, number, unit = (found[index] for index in order)
            value = {
                "from": words.figure(start),
                "to": words.figure(end),
                "depth": f"{words.figure(number)} {words.unit_of(unit)}",
            }
            certainty: Certainty = "certain" if clocked else "likely"
            note.read("assessment.undermining", value, *found.span(), certainty, "" if clocked else "are these hours?")
    _none(note, words.words("undermining"), "assessment.undermining")


def read_tunnels(note: Note) -> None:
    """Read each tunnel, by the clock, with its depth."""
    words = note.words
    at, clock = words.words("at"), words.words("clock")
    said = rf"(?:{at}\s*)?(?P<hour>{words.hours})\s*{clock}"
    bare = rf"{at}\s*(?P<hour>{words.hours})(?!\s*(?:{words.unit}|%|/))"  # "tunnel @ 6 3cm"
    deep = rf"(?P<number>{words.number})\s*(?P<unit>{words.unit})"
    gap, tunnel = r"[^.;\n\d]{0,15}?", words.words("tunnel")
    ways: list[tuple[str, Certainty, str]] = [(said, "certain", ""), (bare, "likely", "is this an hour?")]
    for hour, certainty, why in ways:
        for pattern in (f"{tunnel}{gap}{hour}{gap}{deep}", f"{tunnel}{gap}{deep}{gap}{hour}"):
            for found in note.find(pattern):
                depth = f"{words.figure(found['number'])} {words.unit_of(found['unit'])}"
                value = {"clock": words.figure(found["hour"]), "depth": depth}
                note.read("assessment.tunnels", value, *found.span(), certainty, why)
                _more_tunnels(note, found.end(), hour, (certainty, why))
    _none(note, words.words("tunnel"), "assessment.tunnels")


def _more_tunnels(note: Note, place: int, hour: str, sure: tuple[Certainty, str]) -> None:
    """Read those that are joined to one: "tunnels at 3 o'clock 2 cm and 7 o'clock 1.5 cm"."""
    words = note.words
    deep = rf"(?P<number>{words.number})\s*(?P<unit>{words.unit})"
    joined = rf"[\s,;&]*(?:{words.words('and')}\s*)?(?:{words.words('tunnel')}\s*)?"
    gap = r"[^.;\n\d]{0,15}?"
    first, second = (re.compile(joined + one) for one in (f"{hour}{gap}{deep}", f"{deep}{gap}{hour}"))
    while (found := first.match(note.low, place) or second.match(note.low, place)) and note.free(*found.span()):
        depth = f"{words.figure(found['number'])} {words.unit_of(found['unit'])}"
        note.read("assessment.tunnels", {"clock": words.figure(found["hour"]), "depth": depth}, *found.span(), *sure)
        place = found.end()


def _none(note: Note, pattern: str, path: str) -> None:
    for found in note.find(pattern):
        if note.denied(*found.span()):
            note.read(path, "none", *found.span())
