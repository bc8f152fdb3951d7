"""One value of FHIR XML: between the text of an attribute and what JSON has."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from lxml import etree

from woundfhir.errors import InputError
from woundfhir.limits import TOO_LONG, number_fits
from woundfhir.r4.definitions import Element, pattern, primitive

Json = Any
#: What to do about something that R4 does not have here.
CHECK = "Check the spelling, and that it is FHIR R4"


def put_text(node: etree._Element, name: str, text: str, path: str) -> None:
    """Write a text as an attribute of an element."""
    try:
        node.set(name, text)
    except ValueError:
        raise InputError(path, "characters that XML has (no control characters)", "Take them out of the text") from None


def text_of(value: Json, spec: Element, path: str) -> str:
    """Write one value as the text of an XML attribute."""
    kind = primitive(spec.type)
    if kind == "string" and isinstance(value, str):
        return value
    if kind == "boolean" and isinstance(value, bool):
        return "true" if value else "false"
    if kind in ("integer", "number") and isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    if kind == "number" and isinstance(value, Decimal) and value.is_finite():
        exponent = value.as_tuple().exponent
        return format(value, "f") if isinstance(exponent, int) and -20 <= exponent <= 0 else str(value)
    raise InputError(path, f"a value of the type {spec.type}", CHECK)


def value_of(text: str, spec: Element, path: str) -> Json:
    """Read one value from the text of an XML attribute."""
    kind = primitive(spec.type)
    if kind == "string":
        return text
    form = pattern(spec.type if kind != "integer" else "integer")
    if form is not None and form.fullmatch(text):
        if kind == "boolean":
            return text == "true"
        if not number_fits(text):
            raise InputError(path, *TOO_LONG, found="a number that is too long")
        return Decimal(text) if set(text) & set(".eE") else int(text)
    raise InputError(path, f"a value of the type {spec.type}", CHECK)
