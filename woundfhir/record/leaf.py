"""The leaves of a record: what a scalar is as text, what an absent reason is, and what no text may hold."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from woundfhir.limits import NUMBER_DIGITS, fits
from woundfhir.record import quantity

Json = Any

#: Text that FHIR and XML can carry: something visible, no control characters but tab and line ends.
TEXT_PATTERN = r"^[^\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]*$"
_BAD_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
#: The byte order mark: the HL7 engine trims it as it does blanks, so alone it is no text (found by a generated record).
_MARK = "\ufeff"
_BLANK = re.compile(rf"[\s{_MARK}]*")
#: What a text must hold one of.
VISIBLE = r"[^\s\ufeff]"
NONE = "none"


def is_plain(value: str) -> bool:
    """Whether FHIR and XML can carry a text: no control characters but tab and line ends, no half characters."""
    return _BAD_TEXT.search(value) is None


def made_plain(value: str) -> str:
    r"""Return a text that FHIR and XML can carry: what they cannot is written as its number.

    Examples
    --------
    >>> print(made_plain("a\x1b[31m"), made_plain("plain"))
    a\u001b[31m plain
    """
    return value if is_plain(value) else _BAD_TEXT.sub(lambda found: f"\\u{ord(found[0]):04x}", value)


def key_of(key: object) -> str:
    """Return a key as the record writes it: lower case, underscores."""
    return str(key).strip().lower().replace(" ", "_").replace("-", "_")


class StructureError(Exception):
    """The value has a structure that its place does not admit; jsonschema then says which."""


def text(value: Json) -> str | None:
    r"""Return a leaf as text: numbers and truth values as written, nothing for null and for blank text.

    Examples
    --------
    >>> text(Decimal("4.10")), text(True), text("  "), text("\ufeff"), text(" as she said ")
    ('4.10', 'yes', None, None, 'as she said')
    """
    if isinstance(value, str):
        if not is_plain(value):
            raise StructureError
        stripped = value.strip()
        if _MARK in stripped and _BLANK.fullmatch(stripped):
            return None
        return stripped or None
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, Decimal, float)):
        if value != value:  # NaN: how databases and tables write that there is no number.
            return None
        if not fits(value):
            raise StructureError
        return quantity.plain(value)
    raise StructureError


def absent(value: Json) -> dict[str, str] | None:
    """Return ``{"absent": reason}`` where the value says so, else None; a reason left blank says nothing: ``{}``."""
    if isinstance(value, dict) and value.keys() == {"absent"} and not isinstance(value["absent"], (dict, list)):
        reason = text(value["absent"])
        return {} if reason is None else {"absent": reason}
    return None


#: No number is larger: it has ``limits.NUMBER_DIGITS`` digits at most.
MOST = float(f"1e{NUMBER_DIGITS}")
LEAF_SCHEMA: Json = {
    "anyOf": [
        {"type": "string", "pattern": TEXT_PATTERN},
        {"type": "number", "exclusiveMinimum": -MOST, "exclusiveMaximum": MOST},
        {"type": "boolean"},
        {"type": "null"},
    ]
}
ABSENT_SCHEMA: Json = {
    "type": "object",
    "properties": {"absent": {"$ref": "#/$defs/leaf"}},
    "required": ["absent"],
    "additionalProperties": False,
}
