"""Files that are one input together: the pages of one search, and files of a folder that name each other's clients.

Ids are names within one server, or one export: only within these two may a file name a client who stands in another
(see ``file_groups``).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from woundfhir.fhir.references import links_of
from woundfhir.intake.file_groups import FileGroups, digest, patients
from woundfhir.intake.inputs import Input, from_resources_many
from woundfhir.intake.lent import Lent
from woundfhir.r4 import jsonio, ndjson

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
#: How the name of a file of resources, one a line, ends.
LINES = (".ndjson", ".jsonl")
#: What holds resources with ids of their own: a file of these is an input of its own.
OF_THEIR_OWN = {"Bundle", "Parameters"}
#: The formats of files that hold resources as they are: several, one a line, or one alone.
_FHIR = ("ndjson", "fhir-json", "fhir-xml")
_SERVER = re.compile(r"(https?://[^?#]+?)/*(?:\?|$)")


@dataclass(slots=True)
class Decoded:
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
        types = {str(one.get("resourceType")) for one in self.resources}
        if not types & OF_THEIR_OWN and self.kind in _FHIR:
            return ("files", "")
        first = self.resources[0]
        if first.get("resourceType") == "Bundle" and first.get("type") == "searchset" and (server := _server(first)):
            return ("search", server)
        return None

    def again(self) -> list[dict[str, Json]]:
        """Return its resources, decoded again where they are not at hand."""
        from woundfhir.intake import formats

        return self.resources or formats.named(self.kind, "read").resources(self.content, self.name, [])


def _server(bundle: dict[str, Json]) -> str | None:
    """Return the address of the server that a page is from: that of its resources, else that of the search."""
    for entry in bundle.get("entry") or ():
        url = entry.get("fullUrl") if isinstance(entry, dict) else None
        if isinstance(url, str) and url.startswith(("http://", "https://")) and url.count("/") > 3:
            return url.rsplit("/", 2)[0]
    for url in links_of(bundle, "self"):
        if found := _SERVER.match(url):
            return found[1].rsplit("/", 1)[0] if found[1].rsplit("/", 1)[-1][:1].isupper() else found[1]
    return None


class Together:
    """Inputs that wait for others of their group."""

    def __init__(self) -> None:
        self._waiting: dict[tuple[str, str], list[Decoded]] = {}
        self._files: FileGroups | None = None

    def take(self, came: Decoded) -> bool:
        """Keep an input that is to be read together with others; False for one of its own."""
        group = came.group
        if group is None:
            return False
        some = self._waiting.setdefault(group, [])
        some.append(came)
        if group[0] == "files":
            self._note(came)
            if len(some) > 1:  # files wait as bytes
                some[0].resources = came.resources = []
        return True

    def _note(self, came: Decoded) -> None:
        self._files = self._files or FileGroups()
        held, names = [], set[str]()
        for one in came.resources:
            text = jsonio.encode(one)
            names |= patients(text)
            if one.get("resourceType") == "Patient" and isinstance(one.get("id"), str):
                held.append((f"Patient/{one['id']}", digest(text)))
        self._files.note(self._files.add(came.name), held, names)

    def groups(self) -> Iterator[Iterator[Input]]:
        """Yield the histories of each group, in the order in which their first files came."""
        for (kind, _), some in self._waiting.items():
            if len(some) == 1:
                yield some[0].read()
            elif kind == "files" and self._files is not None:
                yield from _read_files(some, self._files.settle(), self._files.folders)
            else:
                name = f"{some[0].name} and {len(some) - 1} more"
                yield _read([one for came in some for one in came.resources], name, some)


def _read_files(some: list[Decoded], numbers: list[int], folders: list[int]) -> Iterator[Iterator[Input]]:
    lent = Lent([came.again for came in some], numbers, folders) if min(numbers) < 0 else None
    for number in sorted({one for one in numbers if one >= 0}):
        files = [file for file, one in enumerate(numbers) if one == number]
        others = [] if lent is None else lent.of_group(number)
        if len(files) == 1 and not others:
            came = some[files[0]]
            yield Decoded(came.name, came.kind, came.again(), content=came.content).read()
            continue
        held = [(file, nth, one) for file in files for nth, one in enumerate(some[file].again())]
        resources = [one for _, _, one in sorted([*held, *others], key=lambda one: one[:2])]
        alone = all(folders[file] != folders[files[0]] for file, one in enumerate(numbers) if one != number)
        first = PurePath(some[files[0]].name)
        more = f" and {len(files) - 1} more" if len(files) > 1 else ""
        yield _read(resources, str(first.parent) if alone else f"{first}{more}", [some[file] for file in files])
    for file, resources in [] if lent is None else lent.left():
        yield _read(resources, some[file].name, [some[file]])


def _read(resources: list[dict[str, Json]], name: str, some: list[Decoded]) -> Iterator[Input]:
    undefined = [item for came in some for item in came.undefined]
    for one in from_resources_many(resources, name, "ndjson", undefined):
        one.content = one.content or ndjson.write(resources)
        yield one
