"""A nurse's free text to a proposed note, by rules: nothing is coded until a person confirms.

``data/en.toml`` holds the words of English beside those of the catalogue; ``note.py`` asks whether something is denied,
of an earlier day or in doubt; ``measured.py``, ``chained.py`` and ``named.py`` read; ``hazards.py`` finds what must be
asked about whatever was read (``figures.py``: by a number; ``excused.py``: and why some words ask nothing), here and in
the notes that a checklist judges; ``draft.py`` writes the draft.
"""

from woundfhir.freetext.hazards import hazards_in
from woundfhir.freetext.model import Alarm, Proposal, Reading
from woundfhir.freetext.reader import read_text

__all__ = ["Alarm", "Proposal", "Reading", "hazards_in", "read_text"]
