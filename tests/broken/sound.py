"""One sound document, and the table of its broken variants: one fault each, of those that real senders make.

Written from HL7 FHIR R4 (4.0.1; datatypes, bundle, documents, references, narrative, extensibility), the LOINC Users'
Guide and the SNOMED CT Release File Specification (check digits), UCUM, and common practice in the field, without a
look at what the program finds.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from tests.paths import ROOT

Json = Any
Bundle = dict[str, Any]
LOINC, SNOMED, UCUM = "http://loinc.org", "http://snomed.info/sct", "http://unitsofmeasure.org"
#: A value of a client that no message may show.
MARK = "Zqxjv"
_SOUND = json.loads((ROOT / "examples/skin-tear/document.json").read_bytes())


def sound() -> Bundle:
    """Return the document, to be changed freely."""
    return deepcopy(_SOUND)


@dataclass(frozen=True)
class Variant:
    """A fault: its name, what makes it, words of which one must stand in what is said, and whether it is slight."""

    name: str
    break_: Callable[[Bundle], Json]
    words: tuple[str, ...]
    mild: bool

    def content(self) -> bytes:
        """Return the bytes of the broken document."""
        bundle = sound()
        made = self.break_(bundle)
        return made if isinstance(made, bytes) else json.dumps(bundle).encode()


VARIANTS: dict[str, Variant] = {}


def fault(*words: str, mild: bool = False) -> Callable[[Callable[[Bundle], Json]], Callable[[Bundle], Json]]:
    """Enter a variant under the name of its function; ``words``: the place or the fault, any of them."""

    def enter(function: Callable[[Bundle], Json]) -> Callable[[Bundle], Json]:
        assert function.__name__ not in VARIANTS
        VARIANTS[function.__name__] = Variant(function.__name__, function, words, mild)
        return function

    return enter


def resource_of(bundle: Bundle, kind: str, number: int = 0) -> Json:
    return [entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind][number]


def entry_of(bundle: Bundle, resource: Json) -> Json:
    return next(entry for entry in bundle["entry"] if entry["resource"] is resource)


def observation(bundle: Bundle, code: str) -> Json:
    """Return the first Observation with this code."""
    return next(
        entry["resource"]
        for entry in bundle["entry"]
        if entry["resource"]["resourceType"] == "Observation"
        and any(one["code"] == code for one in entry["resource"]["code"]["coding"])
    )


def size_panel(bundle: Bundle) -> Json:
    return observation(bundle, "72287-6")


def length(bundle: Bundle) -> Json:
    return size_panel(bundle)["component"][0]["valueQuantity"]


def pain(bundle: Bundle) -> Json:
    return observation(bundle, "72514-3")


def copied(bundle: Bundle, resource: Json) -> Json:
    """Add a copy of a resource, named anew, to the document and to the visit's panel."""
    made = deepcopy(resource)
    made["id"] = "11111111-2222-4333-8444-555555555555"
    bundle["entry"].append({"fullUrl": f"urn:uuid:{made['id']}", "resource": made})
    observation(bundle, "39135-9")["hasMember"].append({"reference": f"urn:uuid:{made['id']}"})
    return made


def put(holder: Json, **values: Json) -> None:
    holder.update(values)
