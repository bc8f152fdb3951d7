"""What came in: resources out of their Bundles, answers of servers named as what they are, and each judged once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from woundfhir.catalogue.former import FORMER_BASE, current
from woundfhir.errors import InputError
from woundfhir.fhir import mhd, parameters
from woundfhir.fhir.came import Came, Resource
from woundfhir.fhir.keys import in_record_form
from woundfhir.fhir.reasons import EARLIER, MISNAMED, VOID
from woundfhir.fhir.references import address, links_of, rename
from woundfhir.intake import bundled, counting, replaced
from woundfhir.intake.addresses import id_in, settle, settle_uuids
from woundfhir.intake.counting import Verdict
from woundfhir.intake.judging import judge, reason_of
from woundfhir.intake.misshapen import set_aside
from woundfhir.intake.order import in_order
from woundfhir.r4.definitions import resource_types
from woundfhir.record.canonical import to_json

Json = Any
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
#: Bundle types that are an answer to what was written, and hold no record unless the server sent it back.
_REPLIES = ("transaction-response", "batch-response")
#: FHIR R4, BundleType: no other word of a sender stands in a message.
_TYPES = frozenset(("document", "message", "transaction", "batch", "history", "searchset", "collection", *_REPLIES))

#: What a void document does not take with it: who and where.
_OF_NO_DOCUMENT = frozenset(
    ("Patient", "Practitioner", "PractitionerRole", "Organization", "Location", "RelatedPerson")
)


@dataclass(slots=True)
class Gathered:
    """What came in.

    Parameters
    ----------
    came
        Every resource, in the order in which it came, contained ones behind the one that holds them.
    notices
        What the reader must know: that there are more pages, or that a server answered with faults.
    entries
        Entries of Bundles without a resource that say something (a delete): where, why, and the entry itself.
    twice
        Resources that came before, word for word, and what came before.
    envelopes
        The Bundles, without those entries.
    shaped
        Whether every resource is taken to have the kinds of values that R4 has.
    """

    came: list[Came] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    entries: list[tuple[str, str, Json]] = field(default_factory=list)
    twice: list[tuple[Came, Came]] = field(default_factory=list)
    envelopes: list[Resource] = field(default_factory=list)
    shaped: bool = True


#: R4, resource.html, simple-tags: a resource of a search with _summary or _elements.
_IN_PART = "resources came in part (SUBSETTED): what they leave out may take something back. Ask for them whole"


def gather(resources: Iterable[Mapping[str, Json]], *, shaped: bool = True) -> Gathered:
    """Open the Bundles and judge every resource.

    Parameters
    ----------
    resources
        Resources and Bundles.
    shaped
        Whether every resource has the kinds of values that R4 has; otherwise those that have not are set aside.

    Raises
    ------
    InputError
        For what is no record but an answer of a server.
    """
    found = Gathered(shaped=shaped)
    plain = [one if isinstance(one, dict) else dict(one) for one in resources]
    given = [document for one in _carried(plain, found) for document in mhd.opened(one) or (one,)]
    text = to_json(given)
    if b'"":' in text:  # text itself has its quotation marks escaped
        fix = "Ask the sender for resources that are right JSON; nothing was read"
        raise InputError("FHIR", "elements that have names", fix, found="an element has an empty name")
    if FORMER_BASE.encode() in text:
        given = current(given)
    deleted = _open_all(found, list(_placed(given)))
    _look_at_outcomes(found)
    if b'"SUBSETTED"' in text:
        found.notices.append(_IN_PART)
    if b'"reference":"urn:uuid:' in text:
        settle_uuids(found.came)
    if not shaped:
        set_aside(found.came)
    if b'"reference":"http' in text or any(one.base for one in found.came):
        settle(found.came, deleted)
    found.came = in_order(found.came)
    found.notices += replaced.notices(found.came, text)
    found.came, found.twice = judge(found.came, deleted, text)
    return found


def _open_all(found: Gathered, opened: list[tuple[Resource, str]]) -> set[str]:
    """Take resources, and those in Bundles, each with where it stood; return what requests delete, by type and id."""
    deleted: set[str] = set()
    several = sum(one.get("resourceType") == "Bundle" for one, _ in opened) > 1
    here = {url for one, _ in opened for url in links_of(one, "self")} if several else set()
    for number, (resource, at) in enumerate(opened, 1):
        if resource.get("resourceType") != "Bundle":
            _add(found, resource, None, 0, None, at)
        elif several and not resource.get("entry") and resource.get("type") in ("searchset", "collection"):
            found.notices.append(f"Bundle {number} of {len(opened)} is empty")
            found.envelopes.append(resource)
        else:
            if not any(inner.startswith(f"{at}.entry") for _, inner in opened[number : number + 1]):
                _refuse_empty(resource)
            _open(found, resource, number, deleted, here, at)
    if several and not found.came and not found.entries:
        raise InputError("FHIR", "a Bundle with resources in it", "These Bundles are empty: nothing was found")
    return deleted


def _look_at_outcomes(found: Gathered) -> None:
    """Refuse what is nothing but an OperationOutcome; say that one came with other resources."""
    kinds = {str(one.original.get("resourceType")) for one in found.came}
    if kinds == {"OperationOutcome"}:
        fix = "This is a server's answer (OperationOutcome): read what it says, and ask again"
        raise InputError("FHIR", "a record", fix)
    if "OperationOutcome" in kinds:
        found.notices.append(
            "an OperationOutcome of a server came with the resources: it may say that some are missing"
        )


def _carried(resources: list[Resource], found: Gathered) -> Iterator[Resource]:
    """Yield resources, those in a Parameters in its place; what stands beside them is kept, if it says anything."""
    for one in resources:
        if (carried := parameters.opened(one)) is None:
            yield one
            continue
        inside, rest = carried
        yield from _carried(inside, found)
        if parameters.says_more(rest):
            yield rest
        else:
            found.envelopes.append(rest)


# -- Bundles ---------------------------------------------------------------------------------------


def _placed(given: list[Resource]) -> Iterator[tuple[Resource, str]]:
    """Yield each resource, and each Bundle with those in it, and where it stood."""
    for number, one in enumerate(given):
        at = f"[{number}]" if len(given) > 1 else ""
        if one.get("resourceType") == "Bundle":
            yield from bundled.unfolded(one, f"{at}.Bundle".removeprefix("."))
        else:
            yield one, at


def _entries(bundle: Resource) -> list[tuple[int, Resource]]:
    return [(n, entry) for n, entry in enumerate(bundle.get("entry") or ()) if isinstance(entry, dict)]


def _refuse_empty(bundle: Resource) -> None:
    """Refuse a Bundle in which there is no resource, and no other Bundle was."""
    kind, entries = str(bundle.get("type")), [entry for _, entry in _entries(bundle)]
    if kind in _REPLIES and not any(isinstance(one.get("resource"), dict) and not _outcome(one) for one in entries):
        raise InputError(
            "FHIR", "a record", f"This is a server's answer to what was sent ({kind}): read the resources again from it"
        )
    said = bundled.says_something if kind == "history" else _asks_or_holds
    if not any(map(said, entries)):
        raise InputError(
            "FHIR", "a Bundle with resources in it", f"This Bundle ({_word(kind)}) is empty: nothing was found"
        )


def _asks_or_holds(entry: Resource) -> bool:
    return "request" in entry or isinstance(entry.get("resource"), dict)


def _notices(bundle: Resource, entries: list[Resource], here: set[str]) -> Iterator[str]:
    """Yield what the reader must know of a Bundle; ``here`` are the addresses of the pages that came."""
    kind = str(bundle.get("type"))
    if kind in _REPLIES:
        yield f"a server's answer to what was sent ({kind}): read as the resources that it sent back"
    if kind in _REPLIES and (count := bundled.failed(entries)):
        yield f"a server says that entries failed ({count}): what they asked for is not here"
    if kind == "history":
        yield "a history, with several versions: the newest of each resource is read"
    if any(url not in here for url in links_of(bundle, "next")):
        yield "one page of several: the search has a next page that is not here"


def _open(found: Gathered, bundle: Resource, number: int, deleted: set[str], here: set[str], at: str) -> None:
    """Open one Bundle; ``here`` are the addresses of the pages that came, ``at`` is where it stood among them."""
    kind, placed = str(bundle.get("type")), _entries(bundle)
    entries = [entry for _, entry in placed]
    found.notices += _notices(bundle, entries, here)
    apart: set[int] = set()
    held = [entry["resource"] for entry in entries if isinstance(entry.get("resource"), dict)]
    heads = [one for one in held if one.get("resourceType") == "Composition"]
    void = kind == "document" and {head.get("status") for head in heads} == {"entered-in-error"}
    earlier = bundled.earlier(entries) if kind == "history" else frozenset()
    for nth, ((place, _), (entry, inner, url)) in enumerate(zip(placed, _named(entries), strict=True)):
        where = f"{at}.entry[{place}]"
        request = entry.get("request")
        said = counting.method(request.get("method")) if isinstance(request, dict) else Verdict("fact")
        if bundled.deletes(entry) and nth not in earlier:
            deleted.add(address(str(entry["request"].get("url", ""))))
        if inner is not None:
            _add(found, inner, url, number, said, where)
            if void and inner.get("resourceType") not in _OF_NO_DOCUMENT:
                found.came[-1].reason = found.came[-1].reason or VOID
            if nth in earlier:
                found.came[-1].reason = EARLIER
            found.came[-1].named = "id" in inner and "id" not in entry["resource"]
        elif not said.counts and nth not in earlier:
            found.entries.append((where, f"{said.outcome}: {said.why}", entry))
            apart.add(id(entry))
    found.envelopes.append({**bundle, "entry": [one for one in bundle.get("entry") or () if id(one) not in apart]})


def _word(kind: str) -> str:
    return kind if kind in _TYPES else "of an unknown type"


def _outcome(entry: Mapping[str, Json]) -> bool:
    return (entry.get("resource") or {}).get("resourceType") == "OperationOutcome"


def _named(entries: list[Resource]) -> Iterator[tuple[Resource, Resource | None, str | None]]:
    """Yield entry, resource and address; references by urn:uuid within the Bundle become ``Type/id``.

    An entry without an id gets the one in its address.
    """
    names: dict[str, str] = {}
    inner: list[Resource | None] = []
    for entry in entries:
        resource, address = entry.get("resource"), str(entry.get("fullUrl") or "")
        if not isinstance(resource, dict):
            inner.append(None)
            continue
        if "id" not in resource and (name := _uuid(address) or id_in(address, resource.get("resourceType"))):
            resource = {"resourceType": resource.get("resourceType"), "id": name, **resource}
        inner.append(resource)
        named = isinstance(resource.get("id"), str) and isinstance(resource.get("resourceType"), str)
        if address.startswith("urn:") and named:
            names[address] = f"{resource.get('resourceType')}/{resource['id']}"
    for entry, one in zip(entries, inner, strict=True):
        url = entry.get("fullUrl")
        yield entry, rename(one, names) if names and one is not None else one, url if isinstance(url, str) else None


def _uuid(url: str) -> str | None:
    try:
        return str(UUID(url.removeprefix("urn:uuid:"))) if url.startswith("urn:uuid:") else None
    except ValueError:
        return None


# -- one resource ----------------------------------------------------------------------------------


def _add(found: Gathered, resource: Resource, url: str | None, bundle: int, said: Verdict | None, at: str) -> None:
    name = resource.get("id", "")
    if not isinstance(name, str):  # it alone is set aside, and nothing means it: it cannot go out as it came
        bare = {"resourceType": resource.get("resourceType")}
        found.came.append(Came(resource, bare, None, bundle, MISNAMED, at=at))
        return
    if _CONTROL.search(name):
        kind = resource.get("resourceType")
        wrong = f"an id of a {kind if kind in resource_types() else 'resource'} holds a control character"
        expected = "letters, digits, '-' and '.' in an id (HL7 FHIR R4, id)"
        raise InputError(f"FHIR, {at}" if at else "FHIR", expected, "Ask the sender for R4 resources", found=wrong)
    reason = None if said is None or said.counts else reason_of(said)
    found.came.append(Came(resource, in_record_form(resource), url, bundle, reason, at=at))
