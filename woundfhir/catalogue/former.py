"""What files of version 0.1.0 say otherwise than today: the base of our own URLs, and codes that were wrong.

This is the only place that knows of them; what comes in is brought up to date here, before anything reads it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from woundfhir.catalogue.base import BASE

Json = Any

#: Stands in files of version 0.1.0; read as ours, never written.
FORMER_BASE = "http://example.org/woundfhir"

#: At the start of a URL, or in JSON kept as text, where a URL follows a quotation mark.
_AT_START = re.compile(rf"{re.escape(FORMER_BASE)}(?=[/|]|$)")
_IN_JSON = re.compile(rf'(?<="){re.escape(FORMER_BASE)}(?=[/|"\\])')

_SNOMED = "http://snomed.info/sct"
_CLEAR = {"system": _SNOMED, "code": "263707001", "display": "Clear"}
_INDURATED = (
    {"system": _SNOMED, "code": "34319007", "display": "Induration of skin"},
    {"system": f"{BASE}/CodeSystem/wound-care", "code": "periwound-indurated", "display": "Indurated"},
)
_NOT_ATTACHED = {"system": f"{BASE}/CodeSystem/wound-care", "code": "edge-not-attached", "display": "Not attached"}
#: (code, word) that version 0.1.0 wrote -> the codes of that word today. With the word each is unambiguous.
_CODES: Mapping[tuple[str, str], tuple[dict[str, str], ...]] = {
    ("263716002", "clear"): (_CLEAR,),  # means colourless
    ("449744004", "indurated"): _INDURATED,  # means induration of the wound, not of the skin around it
    ("449744004", "induration"): _INDURATED,
    ("449752001", "unattached"): (_NOT_ATTACHED,),  # means undermining
    ("363753007", "surgical dressing"): (),  # means crutches; our own code stood beside it and still does
}


def current(value: Json, ours: bool = False) -> Json:
    """Return decoded JSON in which what version 0.1.0 wrote stands as it is written today.

    Every URL under the former base is renamed: a whole URL, in plain text or in JSON that is kept as text; an address
    in a sentence stays. In resources with a profile of the former base, wrong codes become those of the word beside
    them.

    Parameters
    ----------
    value
        Decoded JSON.
    ours
        Whether it stands in a resource that names a profile of the former base.

    Examples
    --------
    >>> current({"coding": [{"system": "http://example.org/woundfhir/CodeSystem/wound-care", "code": "x"}]})
    {'coding': [{'system': 'https://w3id.org/woundfhir/CodeSystem/wound-care', 'code': 'x'}]}
    >>> current("See http://example.org/woundfhir/help")
    'See http://example.org/woundfhir/help'
    """
    if isinstance(value, str):
        return _text(value) if FORMER_BASE in value else value
    if isinstance(value, list):
        return [current(item, ours) for item in value]
    if not isinstance(value, dict):
        return value
    ours = ours or _names_former_profile(value)
    out = {key: current(item, ours) for key, item in value.items()}
    return _recoded(out) if ours and isinstance(out.get("coding"), list) else out


def _text(text: str) -> str:
    if text[0] in "{[":
        return _IN_JSON.sub(BASE, text)
    return BASE + text[len(FORMER_BASE) :] if _AT_START.match(text) else text


def _names_former_profile(value: Mapping[str, Json]) -> bool:
    meta = value.get("meta")
    named = meta.get("profile") if "resourceType" in value and isinstance(meta, dict) else None
    return isinstance(named, list) and any(isinstance(one, str) and _AT_START.match(one) for one in named)


def _recoded(concept: dict[str, Json]) -> dict[str, Json]:
    word = str(concept.get("text", "")).casefold()
    codings: list[Json] = []
    for coding in concept["coding"]:
        snomed = isinstance(coding, dict) and coding.get("system") == _SNOMED
        codings.extend(_CODES.get((str(coding.get("code")), word), (coding,)) if snomed else (coding,))
    return {**concept, "coding": codings}
