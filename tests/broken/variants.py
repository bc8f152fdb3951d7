"""The broken variants of one sound document, whose files fill the table."""

from __future__ import annotations

from tests.broken import codes, contents, elements, quantities, references, times
from tests.broken.sound import MARK, VARIANTS, Variant, sound

__all__ = ["MARK", "VARIANTS", "Variant", "codes", "contents", "elements", "quantities", "references", "sound", "times"]
