"""From differential to snapshot: the base's elements with the profile's constraints merged in.

Written from the rules of HL7 FHIR R4 (profiling, "Snapshots and differentials"; ElementDefinition) for what our own
differentials use: constraining an element, slices of a repeating element, choice types made narrower, elements inside
a data type. The conformance tests compare the outcome with the snapshot that the HL7 engine makes itself.
"""

from __future__ import annotations

import copy
from typing import Any

from woundfhir.definitions.core import Element, elements

Json = Any


def snapshot(kind: str, differential: list[Element]) -> list[Element]:
    """Return the elements of a snapshot.

    Parameters
    ----------
    kind
        Name of the R4 resource or data type that is constrained.
    differential
        ElementDefinitions with ``id`` and ``path``, a slice after the element that it slices.

    Returns
    -------
    list of dict
        The base's elements in the base's order, slices after what they slice.
    """
    made = elements(kind)
    for change in differential:
        _merge(made[_find(made, change["id"])], change)
    return made


def _index(made: list[Element], wanted: str) -> int | None:
    return next((at for at, element in enumerate(made) if element["id"] == wanted), None)


def _find(made: list[Element], wanted: str) -> int:
    """Return where an element stands, after making it where it is a new slice or lies inside a data type."""
    at = _index(made, wanted)
    if at is not None:
        return at
    head, _, last = wanted.rpartition(".")
    name, _, slice_name = last.partition(":")
    if slice_name:
        return _slice(made, f"{head}.{name}", wanted, slice_name)
    parent = _find(made, head)
    _open(made, parent)
    at = _index(made, wanted)
    if at is None:
        raise ValueError(f"{wanted}: R4 has no such element")
    return at


def _slice(made: list[Element], sliced: str, wanted: str, name: str) -> int:
    """Copy an element with its children as a new slice, after the slices that it has already."""
    start = _find(made, sliced)
    own = [element for element in made if element["id"] == sliced or element["id"].startswith(sliced + ".")]
    end = max(at for at, e in enumerate(made) if e["id"] == sliced or e["id"].startswith((sliced + ".", sliced + ":")))
    copies = copy.deepcopy(own)
    for element in copies:
        element["id"] = wanted + element["id"][len(sliced) :]
    copies[0].pop("slicing", None)
    copies[0]["sliceName"] = name
    made[end + 1 : end + 1] = copies
    assert start <= end
    return end + 1


def _open(made: list[Element], at: int) -> None:
    """Put the children of an element's one data type behind it."""
    parent = made[at]
    types = [t["code"] for t in parent.get("type", ())]
    if len(types) != 1:
        raise ValueError(f"{parent['id']}: its type must be one, to constrain what is inside")
    children = elements(types[0])[1:]
    root = types[0]
    for child in children:
        child["id"] = parent["id"] + child["id"][len(root) :]
        child["path"] = parent["path"] + child["path"][len(root) :]
    made[at + 1 : at + 1] = children


def _merge(element: Element, change: Element) -> None:
    """Put a profile's constraints over an element; invariants are added, all else replaces."""
    for key, value in change.items():
        if key == "constraint":
            element["constraint"] = element.get("constraint", []) + copy.deepcopy(value)
        else:
            element[key] = copy.deepcopy(value)
