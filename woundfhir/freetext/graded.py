"""What is graded: the stage of a pressure injury, the type of a skin tear, the depth and surface of a burn."""

from __future__ import annotations

import re

from woundfhir.freetext.language import alternatives
from woundfhir.freetext.note import Note


def read_graded(note: Note) -> None:
    """Read every grade."""
    _stage(note)
    _tear(note)
    _burn(note)


_ROMAN = {"i": "1", "ii": "2", "iii": "3", "iv": "4"}


def _stage(note: Note) -> None:
    words = note.words
    injury = re.search(r"(?<!\w)(?:pressure|pi|pu|sacr\w+|coccyx|heel)(?!\w)", note.low) is not None
    for found in note.find(rf"({words.words('stage')})\.?\s*([1-4]|iv|i{{1,3}})(?![\w/.]\w|\w|\s*%)"):
        if found[1] not in ("stage", "stg") and not injury:
            continue
        stage = _ROMAN.get(found[2], found[2])
        note.read("assessment.pressure_injury_stage", f"stage {stage}", *found.span())
    for found in note.find(r"(?<!\w)(unstageable|dtpi|sdti|dti|deep tissue (?:pressure )?injury)(?!\w)"):
        if not note.denied(*found.span()):
            word = "unstageable" if found[1] == "unstageable" else "deep tissue"
            note.read("assessment.pressure_injury_stage", word, *found.span())


def _tear(note: Note) -> None:
    words = note.words
    for found in note.find(rf"{words.words('tear_type')}\s*([1-3]|i{{1,3}})(?!\w)(?!\s*(?:dm|diab))"):
        begin, finish = note.sentence(found.start())
        if re.search(alternatives(words.raw["words"]["skin_tear"][:1]), note.low[begin:finish]):
            note.read("assessment.skin_tear_type", f"type {_ROMAN.get(found[1], found[1])}", *found.span())


def _burn(note: Note) -> None:
    if re.search(r"(?<!\w)(?:burn|burns|scald|scalded|burnt|burned)(?!\w)", note.low) is None:
        return
    for found in note.find(r"(?<!\w)(?:(superficial|deep)\s+)?(partial|full)[\s-]+thickness(?!\w)"):
        depth = f"{found[1] + ' ' if found[1] and found[2] == 'partial' else ''}{found[2]} thickness"
        if not note.denied(*found.span()):
            note.read("assessment.burn_depth", depth, *found.span())
    for found in note.find(rf"({note.words.number})\s*%\s*{note.words.words('surface')}"):
        note.read("assessment.burn_surface", f"{note.words.figure(found[1])} %", *found.span())
