"""Files that are one input together: the pages of one search, and a folder with a file for each type of resource.

Ids are names within one server, or one export: only within these two may a file name a client who stands in another.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from woundfhir.intake.inputs import Input, from_resources_many
from woundfhir.packed import plain_name
from woundfhir.r4 import ndjson

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
_SERVER = re.compile(r"(https?://[^?#]+?)/*(?:\?|$)")


@dataclass(slots=True)
class Came:
    """One FHIR input, decoded: a file, or one resource that was given as such (``loose``)."""

    name: str
    kind: str
    resources: list[dict[str, Json]]
    undefined: list[Unknown] = field(default_factory=list)
    content: bytes = b""
    loose: bool = False

    def read(self) -> Iterator[Input]:
        """Yield its histories."""
        for one in from_resources_many(self.resources, self.name, self.kind, self.undefined):
            one.content = one.content or self.content
            yield one

    @property
    def group(self) -> tuple[str, str] | None:
        """What it is read together with; None for an input of its own."""
        if self.loose:
            return ("resources", "")
        if self.kind == "ndjson" or PurePath(plain_name(self.name)).suffix.casefold() in (
            ".ndjson",
            ".jsonl",
        ):  # or of one line
            return self._export()
        first = self.resources[0]
        if first.get("resourceType") == "Bundle" and first.get("type") == "searchset" and (server := _server(first)):
            return ("search", server)
        return None

    def _export(self) -> tuple[str, str] | None:
        types = {str(one.get("resourceType")) for one in self.resources}
        path = PurePath(self.name)
        words = re.split(r"[^a-z]+", path.name.casefold())
        if len(types) == 1 and "Bundle" not in types and next(iter(types)).casefold() in words:
            return ("export", str(path.parent))
        return None


def _server(bundle: dict[str, Json]) -> str | None:
    """Return the address of the server that a page is from: that of its resources, else that of the search."""
    for entry in bundle.get("entry") or ():
        url = entry.get("fullUrl") if isinstance(entry, dict) else None
        if isinstance(url, str) and url.startswith(("http://", "https://")) and url.count("/") > 3:
            return url.rsplit("/", 2)[0]
    links = bundle.get("link")
    for link in links if isinstance(links, list) else ():
        url = link.get("url") if isinstance(link, dict) and link.get("relation") == "self" else None
        found = _SERVER.match(url) if isinstance(url, str) else None
        if found:
            return found[1].rsplit("/", 1)[0] if found[1].rsplit("/", 1)[-1][:1].isupper() else found[1]
    return None


class Together:
    """Inputs that wait for others of their group."""

    def __init__(self) -> None:
        self._waiting: dict[tuple[str, str], list[Came]] = {}

    def take(self, came: Came) -> bool:
        """Keep an input that is to be read together with others; False for one of its own."""
        group = came.group
        if group is not None:
            self._waiting.setdefault(group, []).append(came)
        return group is not None

    def groups(self) -> Iterator[Iterator[Input]]:
        """Yield the histories of each group, in the order in which their first files came."""
        for (kind, where), some in self._waiting.items():
            yield some[0].read() if len(some) == 1 else _read_group(kind, where, some)


def _read_group(kind: str, where: str, some: list[Came]) -> Iterator[Input]:
    name = where if kind == "export" else f"{some[0].name} and {len(some) - 1} more"
    resources = [one for came in some for one in came.resources]
    undefined = [item for came in some for item in came.undefined]
    for one in from_resources_many(resources, name, "ndjson", undefined):
        one.content = one.content or ndjson.write(resources)
        yield one
