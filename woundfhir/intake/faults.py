"""What is wrong with resources that came, in the light of the catalogue: beside what breaks R4 (``r4.structure``).

Codes of ours that do not exist, units beside the code of another, names that are not those of their codes in what
claims our profiles, codes without a system, and profiles that are not known. ``check`` and ``receive`` both ask here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from woundfhir.catalogue import BASE, catalogue, per_catalogue
from woundfhir.catalogue.spelling import same_form
from woundfhir.fhir.terms import terms
from woundfhir.maps import in_force
from woundfhir.r4.structure.issue import Issue, Issues
from woundfhir.record.units import MeasureError, to_unit
from woundfhir.shipped import profile_type

Json = Any
_OURS = f"{BASE}/StructureDefinition/"
#: Roots of profiles that a reader of R4 can look up: HL7's and IHE's.
_PUBLISHED = ("http://hl7.org/", "https://hl7.org/", "http://www.hl7.org/", "https://profiles.ihe.net/")


def faults(resources: Sequence[Json], *, show_values: bool = False) -> list[Issue]:
    """Return what is wrong with resources in the light of the catalogue.

    Parameters
    ----------
    resources
        Decoded resources, Bundles among them.
    show_values
        Put offending values into ``found``.

    Examples
    --------
    >>> code = {"coding": [{"system": "https://w3id.org/woundfhir/CodeSystem/wound-care", "code": "lenght"}]}
    >>> [(one.severity, one.path) for one in faults([{"resourceType": "Observation", "code": code}])]
    [('error', 'Observation.code.coding[0].code')]
    """
    issues, seen = Issues(show_values), set[str]()
    for number, resource in enumerate(resources):
        before = f"[{number}]." if len(resources) > 1 else ""
        for path, one in _opened(resource, before):
            _profiles(one, path, issues, seen)
            _codings(one, path, issues, ours=terms().is_ours(one))
    return issues.items


def _opened(resource: Json, before: str) -> Iterator[tuple[str, Mapping[str, Json]]]:
    if not isinstance(resource, Mapping):
        return
    entries = resource.get("entry")
    if resource.get("resourceType") != "Bundle" or not isinstance(entries, list):
        yield f"{before}{_word(resource)}", resource
        return
    for number, entry in enumerate(entries):
        inner = entry.get("resource") if isinstance(entry, Mapping) else None
        if isinstance(inner, Mapping):
            yield f"{before}Bundle.entry[{number}].resource", inner


def _word(resource: Mapping[str, Json]) -> str:
    kind = resource.get("resourceType")
    return kind if isinstance(kind, str) and kind.isalpha() else "resource"


# -- profiles --------------------------------------------------------------------------------------


def _profiles(resource: Mapping[str, Json], path: str, issues: Issues, seen: set[str]) -> None:
    meta = resource.get("meta")
    claimed = meta.get("profile") if isinstance(meta, Mapping) else None
    for number, profile in enumerate(claimed if isinstance(claimed, list) else ()):
        if not isinstance(profile, str):
            continue
        url, where = profile.partition("|")[0], f"{path}.meta.profile[{number}]"
        kind = profile_type(url.removeprefix(_OURS)) if url.startswith(_OURS) else None
        if kind is not None and kind != resource.get("resourceType"):
            why = "A profile is claimed by resources of its type (R4, Meta.profile)"
            issues.add("profile", where, f"a profile of this type; this one is of {kind}", "another", why)
        elif kind is None and url.startswith(_OURS):
            issues.add("profile", where, "a profile that there is", "none of this name", "Our definitions", value=url)
        elif kind is None and url not in seen and not url.startswith((*_PUBLISHED, *terms().bases)):
            seen.add(url)
            why = "The rules of a profile that is not known here are not checked"
            issues.add("profile", where, "a profile that is known here", "another", why, severity="warning", value=url)


# -- codes -----------------------------------------------------------------------------------------


def _codings(value: Json, path: str, issues: Issues, *, ours: bool) -> None:
    if isinstance(value, list):
        for number, item in enumerate(value):
            _codings(item, f"{path}[{number}]", issues, ours=ours)
    elif isinstance(value, Mapping):
        for key, item in value.items():
            if key == "coding" and isinstance(item, list):
                for number, coding in enumerate(item):
                    if isinstance(coding, Mapping):
                        _coding(coding, f"{path}.coding[{number}]", issues, ours)
            elif key == "unit" and isinstance(item, str):
                _unit(item, value, path, issues)
            elif isinstance(item, Mapping | list) and isinstance(key, str) and key.isidentifier():
                _codings(item, f"{path}.{key}", issues, ours=ours)


def _coding(coding: Mapping[str, Json], path: str, issues: Issues, ours: bool) -> None:
    system, code, display = (coding.get(key) for key in ("system", "code", "display"))
    if not isinstance(code, str):
        return
    if system is None and "_system" not in coding:
        why = "A code means nothing without its system (R4, Coding.system)"
        issues.add("code-system", f"{path}.system", "the system of the code", "nothing", why, severity="warning")
        return
    names = _names().get((str(system), code))
    if system == catalogue().systems["own"] and names is None and not in_force().meaning(system, code):
        why = "The code system lists its codes completely"
        issues.add("code-invalid", f"{path}.code", "a code of our code system", "another", why, value=code)
    elif ours and names and isinstance(display, str) and same_form(display) not in names:
        why = "A display is a name of its code (R4, Coding.display)"
        issues.add("display", f"{path}.display", "the display of its code", "another", why, value=display)


def _unit(unit: str, quantity: Mapping[str, Json], path: str, issues: Issues) -> None:
    """The unit in words is that of the code, where the words are known."""
    code, known = quantity.get("code"), catalogue().units
    said = known.get(unit.strip())
    if quantity.get("system") != catalogue().systems["ucum"] or said is None or not isinstance(code, str):
        return
    coded = known.get(code, code)
    if coded != said and not _alike(said, coded):
        why = "One of the two is wrong by its kind or its size (R4, Quantity.unit and code)"
        issues.add("unit", f"{path}.code", "the UCUM code of the unit beside it", "another unit", why, value=code)


def _alike(one: str, other: str) -> bool:
    """Whether two units are the same size: a cubic centimetre is a millilitre."""
    try:
        return to_unit(Decimal(1), one, other) == 1
    except MeasureError:
        return False


@per_catalogue()
def _names() -> Mapping[tuple[str, str], frozenset[str]]:
    """The displays of every code that the catalogue writes."""
    found: dict[tuple[str, str], set[str]] = {}
    for key, display in catalogue().emitted().items():
        if display:
            found.setdefault(key, set()).add(same_form(display))
    return {key: frozenset(names) for key, names in found.items()}
