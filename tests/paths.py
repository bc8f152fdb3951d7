"""Where tests find the repository and the data from outside (``tests/data/README.md`` names each source)."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parent.parent
DATA = Path(__file__).parent / "data"
HL7_EXAMPLES = DATA / "hl7_skin_wound"
