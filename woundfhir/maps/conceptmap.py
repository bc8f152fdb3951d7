"""Maps of codes as they are exchanged: HL7 FHIR R4 ConceptMap, read and written."""

from __future__ import annotations

from collections.abc import Iterator
from collections.abc import Mapping as AnyMapping
from typing import Any, get_args

from woundfhir.catalogue import BASE, PATHS
from woundfhir.errors import InputError
from woundfhir.maps import targets
from woundfhir.maps.model import NEVER, CodeMap, Equivalence, Mapping

Json = Any


def read(resource: AnyMapping[str, Json], where: str) -> CodeMap:
    """Return the map in a ConceptMap; a target is a path of the catalogue, or one of the codes that it writes.

    Raises
    ------
    InputError
        For the first element that does not hold: names the file and the place.

    Examples
    --------
    >>> target = {"code": "39126-8", "equivalence": "equal"}
    >>> group = {"source": "http://snomed.info/sct", "target": "http://loinc.org"}
    >>> group["element"] = [{"code": "401238003", "target": [target]}]
    >>> read({"resourceType": "ConceptMap", "group": [group]}, "site.json").mappings[0].target.name
    'assessment.length'
    """
    if resource.get("resourceType") != "ConceptMap":
        raise InputError(where, "a ConceptMap (FHIR R4)", "Give a map: a ConceptMap, or TSV with the columns of SSSOM")
    found = tuple(_mappings(resource, where))
    return CodeMap(where, str(resource.get("title") or resource.get("name") or ""), found)


def _mappings(resource: AnyMapping[str, Json], where: str) -> Iterator[Mapping]:
    for number, group in enumerate(_list(resource, "group", where)):
        here = f"{where}, ConceptMap.group[{number}]"
        system = group.get("source")
        if not isinstance(system, str) or not system:
            raise InputError(here, "source: the system of the codes that come in", "Add it")
        if (group.get("unmapped") or {}).get("mode") == "fixed":
            raise InputError(f"{here}.unmapped", "no fixed target for every other code", "Map each code by its name")
        for index, element in enumerate(_list(group, "element", here)):
            yield from _element(element, system, group.get("target"), where, f"{here}.element[{index}]")


def _element(element: AnyMapping[str, Json], system: str, to: Json, where: str, here: str) -> Iterator[Mapping]:
    code, label = element.get("code"), str(element.get("display", ""))
    if not isinstance(code, str) or not code:
        raise InputError(here, "code: the code that comes in", "Add it")
    options = _list(element, "target", here)
    if not options:
        yield Mapping(system, code, "unmatched", None, label, file=f"{where}, {_short(here)}")
    for number, target in enumerate(options):
        place = f"{here}.target[{number}]"
        equivalence: Equivalence = target.get("equivalence")
        if equivalence not in get_args(Equivalence):
            raise InputError(f"{place}.equivalence", "a code of R4's concept-map-equivalence", "Write equal, wider ...")
        comment = str(target.get("comment", ""))
        if equivalence in NEVER:
            yield Mapping(system, code, equivalence, None, label, comment, file=f"{where}, {_short(place)}")
            continue
        if not isinstance(to, str) or not isinstance(target.get("code"), str):
            wrong = "the map leads to nothing"
            raise InputError(
                place, "target.code, and the group's target system", "Name what it is read as", found=wrong
            )
        for one in targets.of_code(to, target["code"], place):
            yield Mapping(system, code, equivalence, one, label, comment, file=f"{where}, {_short(place)}")


def _short(place: str) -> str:
    return place.rpartition("ConceptMap.")[2]


def _list(holder: AnyMapping[str, Json], key: str, where: str) -> list[Json]:
    found = holder.get(key, [])
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        raise InputError(f"{where}.{key}", "a list of objects", "Check the file with a FHIR validator")
    return found


def write(code_map: CodeMap) -> dict[str, Json]:
    """Return a map as a ConceptMap: targets are paths of the catalogue, so that it is read again as it was.

    Examples
    --------
    >>> from woundfhir.maps.model import Target
    >>> one = Mapping("http://loinc.org", "72298-3", "equal", Target("concept", "assessment.tunnels"))
    >>> write(CodeMap("a", "", (one,)))["group"][0]["element"][0]["target"][0]["code"]
    'assessment.tunnels'
    """
    groups: dict[str, dict[str, list[Mapping]]] = {}
    for one in code_map.mappings:
        groups.setdefault(one.system, {}).setdefault(one.code, []).append(one)
    name = code_map.name.rsplit("/", 1)[-1].partition(".")[0]
    made: dict[str, Json] = {"resourceType": "ConceptMap", "url": f"{BASE}/ConceptMap/{name}", "name": name}
    if code_map.title:
        made["title"] = code_map.title
    made["status"] = "active"
    made["group"] = [
        {"source": system, "target": PATHS, "element": [_written(code, some) for code, some in found.items()]}
        for system, found in groups.items()
    ]
    return made


def _written(code: str, some: list[Mapping]) -> dict[str, Json]:
    element: dict[str, Json] = {"code": code}
    if some[0].label:
        element["display"] = some[0].label
    element["target"] = [_target(one) for one in some]
    return element


def _target(one: Mapping) -> dict[str, Json]:
    made: dict[str, Json] = {}
    if one.target is not None:
        made = {"code": one.target.name, "display": one.target.label}
    made["equivalence"] = one.equivalence
    if one.comment:
        made["comment"] = one.comment
    return made
