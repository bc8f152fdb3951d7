"""The one base of the project's own codes, profiles and extensions, and the base that earlier files carry."""

from __future__ import annotations

import re
from typing import Any

Json = Any

#: Permanent. An identifier and no address: it need not resolve (NOTICE).
BASE = "https://w3id.org/woundfhir"
#: Stands in files of versions up to 0.1; read as ours, never written.
FORMER_BASE = "http://example.org/woundfhir"

#: At the start of a URL, or in JSON kept as text, where a URL follows a quotation mark.
_AT_START = re.compile(rf"{re.escape(FORMER_BASE)}(?=[/|]|$)")
_IN_JSON = re.compile(rf'(?<="){re.escape(FORMER_BASE)}(?=[/|"\\])')


def current(value: Json) -> Json:
    """Return decoded JSON in which every URL under the former base stands under the present one.

    Only a whole URL is renamed, in plain text or in JSON that is kept as text; an address in a sentence stays.

    Examples
    --------
    >>> current({"coding": [{"system": "http://example.org/woundfhir/CodeSystem/wound-care", "code": "x"}]})
    {'coding': [{'system': 'https://w3id.org/woundfhir/CodeSystem/wound-care', 'code': 'x'}]}
    >>> current("See http://example.org/woundfhir/help")
    'See http://example.org/woundfhir/help'
    """
    if isinstance(value, str):
        return _current_text(value) if FORMER_BASE in value else value
    if isinstance(value, dict):
        return {key: current(item) for key, item in value.items()}
    if isinstance(value, list):
        return [current(item) for item in value]
    return value


def _current_text(text: str) -> str:
    if text[0] in "{[":
        return _IN_JSON.sub(BASE, text)
    return BASE + text[len(FORMER_BASE) :] if _AT_START.match(text) else text
