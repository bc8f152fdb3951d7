"""Where tests find the repository and the data from outside (``tests/data/README.md`` names each source)."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parent.parent
DATA = Path(__file__).parent / "data"
HL7_EXAMPLES = DATA / "hl7_skin_wound"


def hl7_examples() -> list[Path]:
    """Return the example resources of HL7's skin and wound assessment guide (2020-06-30)."""
    found = sorted(HL7_EXAMPLES.glob("*.xml"))
    assert len(found) == 28  # a test over no file would hold
    return found
