"""The resources of a search: page after page, no page twice, none from another host."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from typing import Any

from woundfhir.errors import InputError
from woundfhir.server.answers import Answer, issues, refused
from woundfhir.server.connection import Connection

Json = Any
#: Most pages of one search.
PAGES = 10_000
#: An id that can stand in an address: wider than R4's, as servers are, and no way to another address.
_ID = re.compile(r"(?!\.+$)[^\s/?#%\\]{1,128}")


def resources(server: Connection, answer: Answer, what: str) -> Iterator[dict[str, Json]]:
    """Yield what a search found, following each link ``next`` exactly as it is given (R4, http, paging).

    Raises
    ------
    InputError
        When a page leads back to an earlier one or to another host, or is no searchset.
    """
    for number, page in enumerate(pages(server, answer, what, ("searchset", "collection")), 1):
        for entry in page.get("entry") or ():
            resource = entry.get("resource")
            if not isinstance(resource, dict):
                continue
            if resource.get("resourceType") == "OperationOutcome":
                for line in issues(resource):
                    server.say(f"The server says of {what}: {line}")
                continue
            if not isinstance(resource.get("resourceType"), str) or not _ID.fullmatch(str(resource.get("id"))):
                fix = "Ask who keeps the server; nothing of this answer was used"
                raise InputError(f"{what}, page {number}", "resources with type and id", fix, found="one lacks them")
            yield resource


def pages(server: Connection, answer: Answer, what: str, kinds: Collection[str]) -> Iterator[dict[str, Json]]:
    """Yield the Bundles of an answer in pages; see ``resources``."""
    seen: set[str] = set()
    for number in range(1, PAGES + 1):
        if answer.status != 200:
            raise refused(answer, f"{what}, page {number}")
        page = answer.resource(f"{what}, page {number}")
        if page.get("resourceType") != "Bundle" or page.get("type") not in kinds:
            raise InputError(f"{what}, page {number}", "a Bundle with what was found", "Check the address")
        yield page
        links = [one.get("url") for one in page.get("link") or () if one.get("relation") == "next"]
        if not links:
            return
        link = server.url(str(links[0]))
        if link in seen:
            fix = "Ask who keeps the server; not all of it came, and nothing was written"
            raise InputError(what, "an end", fix, found="a page leads back to an earlier one")
        seen.add(link)
        answer = server.get(link)
    raise InputError(what, f"at most {PAGES} pages", "Ask for less, with --since")
