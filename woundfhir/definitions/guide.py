"""What makes the resources a FHIR package: ImplementationGuide, ``package.json`` and ``.index.json``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlsplit

from woundfhir import __version__
from woundfhir.catalogue import BASE
from woundfhir.definitions.definition import DATE, head
from woundfhir.fhir.terms import Terms

Json = Any
_TITLE = "Wound care notes in FHIR R4"
_ABOUT = "Profiles, value sets, codes, maps and a form for wound care notes, made from the catalogue of woundfhir."

_SITE = "A site's own words and data elements for wound care notes, beside the definitions of woundfhir."


def package_id(base: str) -> str:
    """Return the package's name: host and path of the canonical base, most general part first.

    Examples
    --------
    >>> package_id("https://w3id.org/woundfhir")
    'org.w3id.woundfhir'
    """
    parts = urlsplit(base)
    host = reversed((parts.hostname or "local").split("."))
    return ".".join([*host, *(part for part in parts.path.split("/") if part)]).lower()


def guide(
    terms: Terms, resources: list[dict[str, Json]], examples: Sequence[tuple[dict[str, Json], Sequence[str]]] = ()
) -> dict[str, Json]:
    """Return the ImplementationGuide that lists the resources, and the examples with the profiles that they follow."""
    titles = {found["url"]: found["title"] for found in resources}
    site = terms.catalogue.site
    title, about = (_TITLE, _ABOUT) if site is None else (site.title, _SITE)
    made = head("ImplementationGuide", "woundfhir" if site is None else site.name, title, about, terms)
    needs = {
        "dependsOn": [
            {"uri": f"{BASE}/ImplementationGuide/woundfhir", "packageId": package_id(BASE), "version": __version__}
        ]
    }
    return {
        **made,
        "packageId": package_id(terms.catalogue.bases[-1]),
        **({"license": "MIT"} if site is None else {}),
        "fhirVersion": ["4.0.1"],
        **({} if site is None else needs),
        "definition": {
            "resource": [
                {
                    "reference": {"reference": f"{found['resourceType']}/{found['id']}"},
                    "name": found["title"],
                    "description": found["description"],
                    "exampleBoolean": False,
                }
                for found in resources
            ]
            + [_example(found, profiles, titles) for found, profiles in examples]
        },
    }


def _example(found: dict[str, Json], profiles: Sequence[str], titles: Mapping[str, str]) -> dict[str, Json]:
    """The entry of an example; R4 has room for one profile, and the first is the one that it is an example of."""
    known = [url for url in profiles if url in titles]
    name = f"{titles[known[0]] if known else found['resourceType']}: example"
    made = {"reference": {"reference": f"{found['resourceType']}/{found['id']}"}, "name": name}
    made["description"] = "An invented example: no person, place or product in it is real."
    return {**made, "exampleCanonical": known[0]} if known else {**made, "exampleBoolean": True}


def package_json(terms: Terms) -> dict[str, Json]:
    """Return the manifest of the package (HL7 FHIR NPM package specification)."""
    site = terms.catalogue.site
    made = _manifest()
    if site is None:
        return made
    del made["license"]  # the site's to say
    own = {"name": package_id(site.base), "version": site.version, "canonical": site.base, "url": site.base}
    about = {"title": site.title, "description": _SITE, "author": site.title}
    return {**made, **own, **about, "dependencies": {**made["dependencies"], package_id(BASE): __version__}}


def _manifest() -> dict[str, Json]:
    return {
        "name": package_id(BASE),
        "version": __version__,
        "tools-version": 3,
        "type": "IG",
        "date": DATE.replace("-", "") + "000000",
        "license": "MIT",
        "canonical": BASE,
        "url": BASE,
        "title": _TITLE,
        "description": _ABOUT,
        "author": "woundfhir",
        "fhirVersions": ["4.0.1"],
        "keywords": ["wound care", "documentation", "FHIR"],
        "directories": {"lib": "package", "example": "example"},
        "dependencies": {"hl7.fhir.r4.core": "4.0.1"},
    }


def index(resources: list[dict[str, Json]]) -> dict[str, Json]:
    """Return ``.index.json``: one line a resource, in the order of the file names."""
    keys = ("resourceType", "id", "url", "version", "kind", "type", "supplements", "content")
    files = [
        {"filename": file_name(found), **{key: found[key] for key in keys if isinstance(found.get(key), str)}}
        for found in resources
    ]
    return {"index-version": 1, "files": sorted(files, key=lambda file: file["filename"])}


def file_name(resource: dict[str, Json]) -> str:
    """Return the name of the file that holds a resource."""
    return f"{resource['resourceType']}-{resource['id']}.json"
