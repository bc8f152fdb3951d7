"""CDA documents as other systems write them, and what each says, written down by hand before it was read.

The documents in ``documents/`` were made from the tables of C-CDA's templates (HL7/CDA-ccda@364e89a) and of CDA R2;
persons, ids and places are invented. Codes of wounds, sites and findings stand in the catalogue or its maps with
their sources; those of illnesses and substances stand here from memory.

wounds   id -> (kind, site, side, status); None: not said
said     (wound, key of the assessment) -> answer
care     (wound, key) -> answer, and supplies as (wound, "supply") -> (item, quantity)
client   key of the client -> answer
report   (fate, end of a place, words of the reason) that the report must hold
never    words that no answer may hold
exit     of ``check --strict``-less reading: whether a person must look
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

FOLDER = Path(__file__).parent / "documents"
NONE: Any = (None, None, None, None)
_HEEL = ("pressure injury", "heel", "left", None)
_SACRUM = ("pressure injury", "sacrum", None, None)


class Case(NamedTuple):
    """One document, and what must come of it."""

    wounds: dict[str, tuple[str | None, ...]]
    said: dict[tuple[str, str], Any]
    client: dict[str, Any]
    report: tuple[tuple[str, str, str], ...] = ()
    never: tuple[str, ...] = ()
    care: tuple[Any, ...] = ()
    asks: bool = False

    @property
    def content(self) -> bytes:
        """The document."""
        return next(FOLDER / f"{name}.xml" for name, case in CASES.items() if case is self).read_bytes()


CASES: dict[str, Case] = {
    "two_wounds": Case(
        {"W-1": _HEEL, "W-2": ("Skin tear, right forearm", "Forearm structure", "right", None)},
        {
            ("W-1", "length"): "1.2 [in_i]",
            ("W-1", "width"): "2.10 cm",
            ("W-1", "odour"): "offensive",
            ("W-1", "pressure_injury_stage"): "stage 3",
            ("W-2", "length"): "40 mm",
        },
        {"born": "1948-03-12", "sex": "female"},
        (("kept", "/patientRole/patient/maritalStatusCode", ""), ("kept", "/custodian", "")),
    ),
    "pressure_ulcer_2014": Case(
        {"PU-1": _SACRUM},
        {
            ("PU-1", "length"): "3.5 cm",
            ("PU-1", "width"): "2 cm",
            ("PU-1", "depth"): "0.50 cm",
            ("PU-1", "pressure_injury_stage"): "stage 2",
        },
        {"born": "1952-02-15"},
        (("withdrawn", "/entry[2]/observation", "refuted"), ("kept", "/entry[3]", "")),
        never=("stage 3", "right"),
        asks=True,
    ),
    "problem_list": Case(
        {"P-1": ("Venous leg ulcer", "lower leg", "left", "open")},
        {},
        {"conditions": ["Diabetes mellitus type 2 (since 1998; recorded by Sam Invented RN)"]},
        (("withdrawn", "/entry[4]", "refuted"), ("kept", "/entry[2]", "over")),
        never=("Asthma", "Hypertensive"),
        asks=True,
    ),
    "no_known_problems": Case({}, {}, {"conditions": {"none": "known"}, "allergies": {"none": "known"}}),
    "allergies": Case(
        {},
        {},
        {
            "allergies": [
                {"to": "Latex", "reaction": "Eruption of skin", "note": "Since: 2026-03-09"},
                {"to": "adhesive tape", "note": "Since: 2026-03-09"},
                {"to": "iodine", "status": "resolved", "note": "Since: 2026-03-09"},
            ]
        },
        (("withdrawn", "/entry[2]", "refuted"),),
        never=("penicillin",),
        asks=True,
    ),
    "care_and_supplies": Case(
        {"W-9": _HEEL},
        {("W-9", "length"): "2 cm"},
        {},
        (("kept", "/entry[3]", "planned"), ("kept", "/component[2]/supply", "planned")),
        never=("alginate", "2026-04-01"),
        care=(
            ("W-9", "cleansing", {"note": "Irrigation of wound"}),
            ("W-9", "debridement", "none"),
            ("W-9", "supplies", [{"item": "foam dressing", "quantity": "3"}]),
        ),
    ),
    "null_flavors": Case(
        {"W-1": (None, "heel", "left", None)},
        {("W-1", "length"): "1.0 cm", ("W-1", "width"): {"absent": "asked but unknown"}},
        {"sex": None},
        (("kept", "", ""), ("not-understood", "/entry[2]", "nullFlavor")),
        never=("tunnelling",),
        asks=True,
    ),
    "dates": Case(
        {"W-1": _HEEL, "W-2": (*_SACRUM[:3], "closed")},
        {("W-1", "length"): "2 cm", ("W-1", "width"): "1 cm", ("W-1", "depth"): "0.3 cm", ("W-2", "length"): "3 cm"},
        {},
        (
            ("not-understood", "/entryRelationship[1]/observation/effectiveTime", "calendar"),
            ("not-understood", "/entryRelationship[2]/observation/effectiveTime", "calendar"),
            ("not-understood", "/entryRelationship[3]/observation/effectiveTime", "hour"),
        ),
        never=("2026-02-30", "0000"),
        asks=True,
    ),
    "same_wound_twice": Case(
        {"W-1": (*_SACRUM[:3], "open")},
        {("W-1", "length"): "4 cm"},
        {},
        (("conflict", "/value/@code", "same id"),),
        asks=True,
    ),
    "no_sites": Case(
        {"A": ("pressure injury", None, None, None), "B": ("pressure injury", None, None, None)},
        {("A", "length"): "1 cm", ("B", "length"): "2 cm"},
        {},
        (("kept", "/entry[3]", "several"),),
        never=("9 cm",),
    ),
    "units": Case(
        {"W-1": _HEEL, "W-2": _SACRUM},
        {
            ("W-1", "length"): {"absent": "two different values came"},
            ("W-1", "width"): {"absent": "two different values came"},
            ("W-2", "length"): "1.5 inches",
            ("W-2", "depth"): ">=2 cm",
        },
        {},
        (
            ("conflict", "/entryRelationship[1]", "neither"),
            ("conflict", "/entryRelationship[4]", "neither"),
            ("not-understood", "/entryRelationship[5]/observation/value/@value", "number"),
        ),
        never=("about", "3 cm"),
        asks=True,
    ),
    "somebody_else": Case(
        {"W-1": _HEEL},
        {("W-1", "length"): "1 cm"},
        {},
        (
            ("not-understood", "/component[1]/section/entry", "somebody else"),
            ("not-understood", "/component[2]/section/entry[2]", "somebody else"),
        ),
        never=("7 cm", "Venous"),
        asks=True,
    ),
    "copied_ids": Case(
        {"X": ("pressure injury", "heel", "right", None), "X (2)": _HEEL},
        {("X (2)", "length"): "1 cm", ("X (2)", "width"): "2 cm", ("X", "length"): "3 cm"},
        {},
        asks=True,
    ),
    "narrative_only": Case({}, {}, {}, (("kept", "/section/text/paragraph", "narrative"),), never=("3 x 2",)),
    "pdf_body": Case({}, {}, {"born": "1955-02-15"}, asks=True),
    "translations": Case(
        {"P-1": ("pressure injury", "sacrum", None, "open")},
        {},
        {"conditions": ["Type 2 diabetes mellitus without complications (since 2015; recorded by Sam Invented RN)"]},
    ),
    "statuses": Case(
        {"W-1": _HEEL},
        {("W-1", "depth"): "3 mm"},
        {},
        (
            ("withdrawn", "/entryRelationship[1]", "cancelled"),
            ("withdrawn", "/entryRelationship[2]", "error"),
            ("withdrawn", "/entryRelationship[4]", "not so"),
            ("withdrawn", "/entry[2]/observation/value", "error"),
        ),
        never=("8 cm", "1 cm", "2 cm", "offensive"),
        asks=True,
    ),
}
