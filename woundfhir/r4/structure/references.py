"""References: what they may point at, and whether it is there.

R4's rule of resolution in a Bundle (page bundle, "Resolving references"): an absolute reference finds the entry with
that fullUrl; a relative one is first put behind the root of its own entry's fullUrl, where that is a RESTful URL.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from woundfhir.r4.definitions import resource_types
from woundfhir.r4.structure.invariants.registry import many, one
from woundfhir.r4.structure.issue import Issues
from woundfhir.r4.structure.walk import Node

Json = Any
_ID = r"[A-Za-z0-9\-.]{1,64}"
_RELATIVE = re.compile(rf"([A-Za-z]+)/({_ID})(?:/_history/{_ID})?")
#: How a literal reference begins: a URL or a URN, what is contained, a type with an id, a conditional reference.
_FORM = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:|#|[A-Za-z]+[/?]")
_RESTFUL = re.compile(rf"(?P<root>https?://.+/)(?P<type>[A-Za-z]+)/(?P<id>{_ID})(?:/_history/{_ID})?")


@dataclass(slots=True)
class Place:
    """The resources that references can be looked up in: the entries of a Bundle, or a plain list."""

    #: Type of the Bundle, "" for a plain list.
    kind: str = ""
    resources: list[Mapping[str, Json]] = field(default_factory=list)
    #: Full URL of each resource, "" where there is none.
    urls: list[str] = field(default_factory=list)
    #: Position by full URL, and by Type/id.
    by_url: dict[str, int] = field(default_factory=dict)
    by_name: dict[str, int] = field(default_factory=dict)
    by_identity: dict[int, int] = field(default_factory=dict)

    @classmethod
    def of_bundle(cls, bundle: Mapping[str, Json]) -> Place:
        """Look up by the full URLs of a Bundle; an entry without resource keeps its position."""
        pairs = [(one(entry, "resource"), str(entry.get("fullUrl") or "")) for entry in many(bundle, "entry")]
        return cls._of(pairs, str(bundle.get("type") or "unknown"))

    @classmethod
    def of_list(cls, resources: Sequence[Mapping[str, Json]]) -> Place:
        """Look up by type and id."""
        return cls._of([(resource, "") for resource in resources], "")

    @classmethod
    def _of(cls, pairs: list[tuple[Mapping[str, Json], str]], kind: str) -> Place:
        made = cls(kind)
        for position, (resource, url) in enumerate(pairs):
            made.resources.append(resource)
            made.by_identity[id(resource)] = position
            made.urls.append(url)
            made.by_url.setdefault(url, position)
            made.by_name.setdefault(f"{resource.get('resourceType')}/{resource.get('id')}", position)
        made.by_url.pop("", None)
        return made

    def position(self, resource: Json) -> int | None:
        """Return which of the resources this one is."""
        return self.by_identity.get(id(resource))

    def find(self, reference: str, position: int | None) -> int | None:
        """Return where a reference leads by R4's rule; ``position`` is the resource that holds it."""
        plain = reference.partition("/_history/")[0]
        if plain in self.by_url:
            return self.by_url[plain]
        if _RELATIVE.fullmatch(plain):
            url = self.urls[position] if position is not None else ""
            if match := _RESTFUL.fullmatch(url):
                return self.by_url.get(match["root"] + plain)
            if not any(self.urls):
                return self.by_name.get(plain)
        return None

    def same_name(self, reference: str) -> int | None:
        """Return a resource of the type and id of a relative reference, whatever its full URL."""
        plain = reference.partition("/_history/")[0]
        return self.by_name.get(plain) if _RELATIVE.fullmatch(plain) else None


def check_target(node: Node, place: Place | None, position: int | None, issues: Issues) -> None:
    """Add an issue for a reference that points at a type of resource that it may not point at."""
    if node.element is None or not node.element.targets or not isinstance(node.value, Mapping):
        return
    kind = _kind(node, place, position)
    if kind is not None and kind not in node.element.targets:
        expected = "a reference to " + " or ".join(node.element.targets)
        issues.add(
            "reference-target", f"{node.path}.reference", expected, f"a reference to {kind}",
            f"The targets of {node.element.name} in R4",
        )  # fmt: skip


def _kind(node: Node, place: Place | None, position: int | None) -> str | None:
    """Return the type that a reference points at, as far as that is known."""
    reference, named = node.value.get("reference"), node.value.get("type")
    if isinstance(reference, str):
        if reference.startswith("#"):
            inner = [r for r in many(node.root, "contained") if r.get("id") == reference[1:]]
            found = inner[0] if inner else node.root if reference == "#" else {}
            return _known(found.get("resourceType"))
        if place is not None and (at := place.find(reference, position)) is not None:
            return _known(place.resources[at].get("resourceType"))
        if match := _RELATIVE.fullmatch(reference):
            return _known(match[1])
        if match := _RESTFUL.fullmatch(reference):
            return _known(match["type"])
    return _known(named)


def _known(kind: Json) -> str | None:
    return kind if isinstance(kind, str) and kind in resource_types() else None


def check_found(node: Node, place: Place, position: int | None, issues: Issues) -> None:
    """Add an issue for a reference that should find its target among the resources at hand, and does not."""
    reference = node.value.get("reference") if isinstance(node.value, Mapping) else None
    if not isinstance(reference, str) or reference.startswith("#") or place.find(reference, position) is not None:
        return
    path, expected = f"{node.path}.reference", "a resource that is here"
    if path in issues.paths:  # reported under R4's rules for documents
        return
    if place.same_name(reference) is not None:
        found = "a resource of that type and id, under another fullUrl"
        why = "A relative reference is looked up behind the root of its entry's fullUrl (R4, bundle)"
        issues.add("not-found", path, "the fullUrl of its entry", found, why, severity="warning", value=reference)
    elif reference.startswith(("urn:uuid:", "urn:oid:")):
        why = "A URN is known only where it is a fullUrl (R4, bundle)"
        issues.add("not-found", path, expected, "nothing", why, value=reference)
    elif _RELATIVE.fullmatch(reference) and place.kind in ("document", "message", "collection", ""):
        why = "A reader of this alone cannot look it up"
        issues.add("not-found", path, expected, "nothing", why, severity="warning", value=reference)
    elif not _FORM.match(reference):
        expected, why = "Type/id, a URL with its scheme, or #id", "The forms of a reference (R4, Reference.reference)"
        issues.add("value", path, expected, "another text", why, severity="warning", value=reference)
