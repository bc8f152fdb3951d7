"""What R4 says of Bundles beyond the invariants: full URLs, and what a document holds (pages bundle and documents)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.r4.literals import references
from woundfhir.r4.structure.invariants.registry import many, one
from woundfhir.r4.structure.issue import Issues
from woundfhir.r4.structure.references import _RESTFUL, Place

Json = Any
_MAY_LACK_URL = ("batch", "transaction", "batch-response", "transaction-response")


def check_full_urls(bundle: Mapping[str, Json], path: str, issues: Issues) -> None:
    """Each entry is named by an absolute URL that agrees with its resource's type and id (R4, bundle, fullUrl)."""
    kind = str(bundle.get("type"))
    for number, entry in enumerate(many(bundle, "entry")):
        resource, url = one(entry, "resource"), entry.get("fullUrl")
        where = f"{path}.entry[{number}].fullUrl"
        if not isinstance(url, str):
            if resource and url is None and kind not in _MAY_LACK_URL:
                issues.add("full-url", where, "the absolute URL of the resource", "none", "R4, Bundle.entry.fullUrl")
            continue
        if not url.startswith(("http://", "https://", "urn:")):
            issues.add("full-url", where, "an absolute URL", "a relative one", "R4, Bundle.entry.fullUrl")
        match = _RESTFUL.fullmatch(url)
        name = (resource.get("resourceType"), resource.get("id"))
        if match and resource and None not in name and (match["type"], match["id"]) != name:
            found, why = "another type or id", "A fullUrl agrees with the id in the resource (R4, Bundle.entry.fullUrl)"
            issues.add("full-url", where, "the type and id of the resource at its end", found, why)


def check_document(bundle: Mapping[str, Json], place: Place, path: str, issues: Issues) -> None:
    """A document holds what its Composition names, and nothing that cannot be reached (R4, documents)."""
    if bundle.get("type") != "document" or not place.resources:
        return
    if place.resources[0].get("resourceType") != "Composition":
        return  # bdl-11 has reported it
    why = "A document includes what its Composition refers to directly (R4, documents)"
    for where, reference in _direct(place.resources[0]):
        if not reference.startswith("#") and _lead(place, reference, 0) is None:
            there = f"{path}.entry[0].resource.{where}.reference"
            issues.add("document", there, "a resource that is in the document", "nothing", why, value=reference)
    reached = _reach(place)
    styles = {str(link.get("url")) for link in many(bundle, "link") if link.get("relation") == "stylesheet"}
    expected = "a resource that can be reached from the Composition"
    why = (
        "A document includes only its Composition, what can be reached from it, Provenance of these, and a stylesheet "
        "(R4, documents)"
    )
    for number, resource in enumerate(place.resources):
        if number not in reached and resource and not _is_style(resource, place.urls[number], styles):
            issues.add("document", f"{path}.entry[{number}].resource", expected, "one that nothing leads to", why)


def _direct(composition: Mapping[str, Json]) -> Iterator[tuple[str, str]]:
    """Yield path and text of the references that R4 lists as direct ones."""

    def of(holder: Mapping[str, Json], name: str, before: str) -> Iterator[tuple[str, str]]:
        found = holder.get(name)
        items = [(f"{before}{name}[{n}]", item) for n, item in enumerate(found)] if isinstance(found, list) else []
        for where, item in items or [(f"{before}{name}", found)]:
            if isinstance(item, Mapping) and isinstance(item.get("reference"), str):
                yield where, item["reference"]

    def of_sections(holder: Mapping[str, Json], before: str) -> Iterator[tuple[str, str]]:
        for number, section in enumerate(many(holder, "section")):
            here = f"{before}section[{number}]."
            for name in ("author", "focus", "entry"):
                yield from of(section, name, here)
            yield from of_sections(section, here)

    for name in ("subject", "encounter", "author", "custodian"):
        yield from of(composition, name, "")
    for number, attester in enumerate(many(composition, "attester")):
        yield from of(attester, "party", f"attester[{number}].")
    for number, event in enumerate(many(composition, "event")):
        yield from of(event, "detail", f"event[{number}].")
    yield from of_sections(composition, "")


def _lead(place: Place, reference: str, position: int) -> int | None:
    """Return where a reference leads; one that finds its target by name alone is reported elsewhere."""
    found = place.find(reference, position)
    return found if found is not None else place.same_name(reference)


def _reach(place: Place) -> set[int]:
    """Return the positions that can be reached forwards from the Composition, or from a Provenance of such."""
    reached: set[int] = set()
    waiting = [0]
    while waiting:
        while waiting:
            position = waiting.pop()
            if position not in reached:
                reached.add(position)
                leads = (_lead(place, reference, position) for reference in references(place.resources[position]))
                waiting.extend(found for found in leads if found is not None)
        for position, resource in enumerate(place.resources):
            if position not in reached and resource.get("resourceType") == "Provenance":
                targets = (_lead(place, text, position) for text in references(resource.get("target")))
                if any(target in reached for target in targets):
                    waiting.append(position)
    return reached


def _is_style(resource: Mapping[str, Json], url: str, styles: set[str]) -> bool:
    if resource.get("resourceType") != "Binary":
        return False
    return resource.get("contentType") == "text/css" or url in styles
