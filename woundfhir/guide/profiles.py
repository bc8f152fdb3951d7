"""A page for each profile, extension and value set, out of the definitions that ``woundfhir profiles`` writes."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from woundfhir.catalogue import per_catalogue
from woundfhir.guide.markdown import block, code, page, plain, table

Json = Any
_SECTIONS = (
    ("Profiles of resources", lambda one: one["resourceType"] == "StructureDefinition" and one["kind"] == "resource"),
    ("Extensions", lambda one: one["resourceType"] == "StructureDefinition" and one["kind"] != "resource"),
    ("Value sets", lambda one: one["resourceType"] == "ValueSet"),
    ("Code system, maps, form, guide", lambda one: one["resourceType"] not in ("StructureDefinition", "ValueSet")),
)


@per_catalogue()
def known() -> dict[str, Json]:
    """Return every definition by the name of its page: ``profiles/wound``, ``profiles/ValueSet-tissue``."""
    from woundfhir.package import definitions

    found = (json.loads(content) for name, content in definitions().items() if name not in ("package.json",))
    return {_name(one): one for one in found if "resourceType" in one}


def _name(definition: Json) -> str:
    kind = "" if definition["resourceType"] == "StructureDefinition" else f"{definition['resourceType']}-"
    return f"profiles/{kind}{definition['id']}"


def pages() -> Iterator[tuple[str, str, Callable[[], str]]]:
    """Yield the name, title and maker of the list of definitions and of each."""
    yield "fhir-profiles", "FHIR profiles", _list
    for name, one in known().items():
        yield name, one["title"], partial(_page, one)


def _list() -> str:
    parts = []
    for title, holds in _SECTIONS:
        rows = (
            (f"[{one['id']}]({name}.md)", plain(one["title"]), plain(one.get("description", "")[:160]))
            for name, one in known().items()
            if holds(one)
        )
        parts.append(f"## {title}\n\n{table(('id', 'title', 'what it is'), rows)}")
    return page(
        "FHIR profiles",
        "What our FHIR looks like, for another system. `woundfhir profiles out/` writes these definitions as files, "
        "`woundfhir profiles --package wound.tgz` as one FHIR package with examples. They are made from the catalogue.",
        *parts,
    )


def _page(one: Json) -> str:
    facts = (
        ("Address", code(one["url"])),
        ("Version", one.get("version", "")),
        ("Based on", code(one.get("baseDefinition", ""))),
        ("Stands in", ", ".join(code(context["expression"]) for context in one.get("context", ()))),
    )
    return page(
        one["title"],
        plain(one.get("description", "")),
        table(("", ""), ((f"**{name}**", words) for name, words in facts if words)),
        *_inside(one),
        f"The file: {code(one['resourceType'] + '-' + one['id'] + '.json')}. All definitions: "
        "[FHIR profiles](fhir-profiles.md).",
    )


def _inside(one: Json) -> Iterator[str]:
    if one["resourceType"] == "StructureDefinition":
        head = ("element", "how many", "type", "what")
        yield f"## Tree\n\nWhat it says beyond its base.\n\n{table(head, _tree(one))}"
        yield _example(one)
    elif one["resourceType"] == "ValueSet":
        included = one.get("compose", {}).get("include", ())
        rows = (
            (code(concept["code"]), plain(concept.get("display", "")), plain(part["system"]))
            for part in included
            for concept in part.get("concept", ())
        )
        yield f"## Codes\n\n{table(('code', 'display', 'system'), rows)}"


def _tree(one: Json) -> Iterator[tuple[str, str, str, str]]:
    for element in one["differential"]["element"]:
        depth = element["id"].count(".")
        least, most = element.get("min"), element.get("max")
        count = "" if least is None and most is None else f"{least if least is not None else ''}..{most or ''}"
        types = ", ".join(_type(found) for found in element.get("type", ()))
        yield "&emsp;" * depth + code(element["id"].rpartition(".")[2]), count, types, _says(element)


def _type(found: Json) -> str:
    to = [str(url).rpartition("/")[2] for url in (*found.get("targetProfile", ()), *found.get("profile", ()))]
    return plain(found["code"] + (f"({', '.join(to)})" if to else ""))


def _says(element: Json) -> str:
    out = [plain(element["short"])] if "short" in element else []
    for key, value in element.items():
        if key.startswith(("fixed", "pattern")):
            out.append(f"always {code(_always(value))}")
    if "binding" in element:
        bound = element["binding"]
        name = f"profiles/ValueSet-{bound['valueSet'].rpartition('/')[2]}"
        words = f"[{name.rpartition('-')[2]}]({name}.md)" if name in known() else plain(bound["valueSet"])
        out.append(f"codes: {words} ({bound['strength']})")
    out += [plain(one["human"]) for one in element.get("constraint", ())]
    return "; ".join(out)


def _always(value: Json) -> str:
    if isinstance(value, dict) and "coding" in value:
        return ", ".join(f"{one.get('system', '')} {one.get('code', '')}".strip() for one in value["coding"])
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _example(one: Json) -> str:
    from woundfhir.definitions.examples import by_profile
    from woundfhir.r4.jsonio import encode_readable

    found = by_profile().get(one["url"])
    if found is None:
        return ""
    short = ""
    if found.get("resourceType") == "Bundle":
        found, short = {**found, "entry": found["entry"][:2]}, "Shortened to its first entries. "
    return f"## Example\n\n{short}Invented.\n\n{block(encode_readable(found).decode(), 'json')}"
