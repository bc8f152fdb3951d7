"""Small FHIR elements, each with its writing and its reading side by side."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from woundfhir.record import dates

Json = Any

#: HL7's own extension for a value that is missing for a reason (R4 core).
ABSENT_URL = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
#: Elements of type Period that say when something was.
PERIODS = ("effectivePeriod", "performedPeriod", "occurrencePeriod", "period")
_BIRTH = re.compile(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?")


def extension(url: str, key: str, value: Json) -> dict[str, Json]:
    """Return an Extension with one value."""
    return {"url": url, key: value}


def find_extension(holder: Mapping[str, Json] | None, url: str) -> dict[str, Json] | None:
    """Return the first extension with this URL."""
    for found in (holder or {}).get("extension", ()):
        if found.get("url") == url:
            return found  # type: ignore[no-any-return]
    return None


def values_in(holder: Mapping[str, Json]) -> list[str]:
    """Return the names of the elements ``value[x]`` that an Observation or a component has, null ones left out.

    Examples
    --------
    >>> values_in({"valueQuantity": None, "valueString": "4 cm"})
    ['valueString']
    """
    return [key for key, value in holder.items() if key.startswith("value") and value is not None]


# -- dates -----------------------------------------------------------------------------------------


def write_date(key: str, text: str | None, url: str, only_day: bool = False) -> dict[str, Json]:
    """Return the members that say a date or dateTime: the primitive, and the words as written where they differ.

    Parameters
    ----------
    key
        Name of the primitive, e.g. ``effectiveDateTime``.
    text
        As in the record.
    url
        Extension that carries the words when FHIR's form cannot.
    only_day
        For ``date`` elements: no clock time.

    Examples
    --------
    >>> write_date("start", "2026-03", "u")
    {'start': '2026-03'}
    >>> write_date("start", "2026-03-02T10:05:00", "u")["start"]
    '2026-03-02'
    """
    if text is None:
        return {}
    if dates.is_fhir(text) and not (only_day and not _BIRTH.fullmatch(text)):
        return {key: text}
    out: dict[str, Json] = {}
    if dates.has_clock(text) and dates.is_fhir(text[:10]):
        out[key] = text[:10]
    out["_" + key] = {"extension": [extension(url, "valueString", text)]}
    return out


def read_date(holder: Mapping[str, Json], key: str, url: str) -> str | None:
    """Return the date as the record writes it."""
    words = find_extension(holder.get("_" + key), url)
    if words is not None:
        return words.get("valueString")
    found = holder.get(key)
    return found if isinstance(found, str) else None


def write_instant(key: str, text: str | None) -> dict[str, Json]:
    """Return an ``instant``: the time as written where it is whole, else beside nothing that it is not known."""
    if text is not None and len(text) > 19 and (text.endswith("Z") or text[-6] in "+-") and "T" in text:
        return {key: text}
    return {"_" + key: unknown()}


# -- references ------------------------------------------------------------------------------------


def reference(kind: str, resource_id: str) -> dict[str, str]:
    """Return a relative literal reference."""
    return {"reference": f"{kind}/{resource_id}"}


def target(ref: Json) -> str | None:
    """Return what a Reference points at."""
    return ref.get("reference") if isinstance(ref, dict) else None


def targets(refs: Json) -> Iterable[str]:
    """Return what a list of References points at."""
    if not refs:
        return ()
    return [ref["reference"] for ref in refs if ref.__class__ is dict and "reference" in ref]


# -- notes -----------------------------------------------------------------------------------------


def write_note(text: str | None) -> dict[str, Json]:
    """Return the ``note`` member of a resource."""
    return {"note": [{"text": text}]} if text else {}


def read_note(resource: Mapping[str, Json]) -> str | None:
    """Return the notes of a resource as one text."""
    return "\n".join(note["text"] for note in resource.get("note", ()) if "text" in note) or None


def first(items: Json) -> dict[str, Json]:
    """Return the first member of a list, or an empty dict."""
    return items[0] if isinstance(items, list) and items else {}


def objects(holder: Mapping[str, Json], key: str) -> list[dict[str, Json]]:
    """Return the objects in a list of a resource that came from outside, and may be of any structure.

    Examples
    --------
    >>> objects({"telecom": [{"value": "1"}, "2"]}, "telecom"), objects({"telecom": {}}, "telecom")
    ([{'value': '1'}], [])
    """
    found = holder.get(key)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def texts_of(concept: Json) -> Iterator[str]:
    """Yield the words of a CodeableConcept from outside: its text, and the displays of its codes.

    Examples
    --------
    >>> list(texts_of({"text": "ulcer", "coding": [{"display": "Pressure ulcer"}, {"display": 5}]}))
    ['ulcer', 'Pressure ulcer']
    """
    if isinstance(concept, Mapping):
        words = (concept.get("text"), *(coding.get("display") for coding in objects(concept, "coding")))
        yield from (one for one in words if isinstance(one, str))


def unknown() -> dict[str, Json]:
    """Return what stands in the place of a required element whose value is not known (R4, data-absent-reason)."""
    return {"extension": [extension(ABSENT_URL, "valueCode", "unknown")]}


# -- what others say -------------------------------------------------------------------------------


def read_span(name: str, resource: Mapping[str, Json]) -> str | None:
    """Return onset[x] or abatement[x] of others: a Period begins or ends, an Age and a Range are words.

    Examples
    --------
    >>> read_span("onset", {"onsetAge": {"value": 40, "unit": "a"}})
    'at the age of 40 a'
    """
    period = resource.get(f"{name}Period") or {}
    sides = ("start", "end") if name == "onset" else ("end", "start")
    if found := next((period[side] for side in sides if side in period), None):
        return str(found)
    age = resource.get(f"{name}Age") or {}
    if "value" in age:
        return f"at the age of {_amount(age)}"
    span = resource.get(f"{name}Range") or {}
    parts = [_amount(span[side]) for side in ("low", "high") if "value" in span.get(side, {})]
    return " to ".join(parts) or None


def _amount(found: Mapping[str, Json]) -> str:
    unit = found.get("unit") or found.get("code")
    return f"{found.get('comparator', '')}{found['value']}{f' {unit}' if unit else ''}"


def uncoded(concept: Json) -> str | None:
    """Return the code of what is named by a code alone, off our lists: it stands for its words.

    Examples
    --------
    >>> uncoded({"coding": [{"system": "s", "code": "E11"}]})
    'E11 (s)'
    """
    coding = first(concept.get("coding")) if isinstance(concept, Mapping) else {}
    return f"{coding['code']} ({coding.get('system', 'no system')})" if "code" in coding else None
