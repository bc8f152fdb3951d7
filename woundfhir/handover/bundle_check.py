"""Is what came a Bundle that can be taken in? Kept to what a receiver must know before anything is merged.

Sources: HL7 FHIR R4 (4.0.1), Bundle (bdl-7, bdl-9, bdl-10, bdl-11), documents, references, narrative (txt-1: no
active content). The full check of every element against the standard is ``r4.structure``; it is asked too.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from woundfhir.errors import InputError, escaped
from woundfhir.fhir.references import address
from woundfhir.fhir.terms import terms
from woundfhir.intake.validation import issues
from woundfhir.r4.definitions import element_names
from woundfhir.r4.narrative.acting import active_content
from woundfhir.r4.times import instant

Json = Any
Bundle = Mapping[str, Json]

#: Warnings of the full check that a receiver must know too.
_WARNINGS = ("time-order", "profile", "code-system")
_LITERAL = re.compile(r"(?:[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64})(?:/_history/[A-Za-z0-9.-]{1,64})?")
_PART = re.compile(r"_?([A-Za-z]\w*)(\[\d+\])*", re.ASCII)


@dataclass(frozen=True, slots=True)
class BundleIssue:
    """One thing that is wrong with a Bundle. Never a value of it.

    Parameters
    ----------
    path
        Where, as a FHIRPath of the Bundle.
    expected
        What should stand there.
    refuse
        Whether nothing can be taken in because of it.
    """

    path: str
    expected: str
    refuse: bool = True


class Refused(InputError):
    """A Bundle that cannot be taken in, and all the reasons."""

    def __init__(self, name: str, problems: list[BundleIssue]) -> None:
        first = problems[0]
        super().__init__(f"{name}, {first.path}", first.expected, "Nothing was taken in: ask the sender for it again")
        self.problems = tuple(problems)

    def __str__(self) -> str:
        rest = self.problems[1:]
        lines = [super().__str__(), *(escaped(f"  {one.path}: expected {one.expected}") for one in rest[:20])]
        return "\n".join([*lines, f"  and {len(rest) - 20} more"] if len(rest) > 20 else lines)


def verify(bundle: Json, name: str = "bundle") -> list[BundleIssue]:
    """Return what is worth knowing about a Bundle; refuse one that cannot be taken in.

    Parameters
    ----------
    bundle
        The decoded resource.
    name
        Its file, for the message.

    Raises
    ------
    Refused
        No Bundle, no entries, an entry without resource, a document that breaks the rules of documents, a
        reference that leads nowhere, active content.

    Examples
    --------
    >>> plan = {"resourceType": "Basic", "code": {"text": "x"}, "subject": {"reference": "Patient/1"}}
    >>> entry = {"fullUrl": "http://example.org/Basic/1", "resource": plan}
    >>> [one.expected for one in verify({"resourceType": "Bundle", "type": "collection", "entry": [entry]})]
    ['a resource of this Bundle: the reference leads out of it']
    """
    found = list(_shape(bundle))
    if not any(problem.refuse for problem in found):
        found += [*_document(bundle), *_references(bundle), *_client(bundle), *_active(bundle), *_structure(bundle)]
    refusing = [problem for problem in found if problem.refuse]
    if refusing:
        # A fullUrl that is wrong is why references lead nowhere: it is named with them.
        raise Refused(name, [*refusing, *(one for one in found if not one.refuse and one.path.endswith(".fullUrl"))])
    return list(dict.fromkeys(found))


def resources(bundle: Bundle) -> list[dict[str, Json]]:
    """Return the resources of a verified Bundle; a request that brings none (a DELETE) is passed over."""
    return [entry["resource"] for entry in bundle["entry"] if "resource" in entry]


def _entries(bundle: Bundle) -> Iterator[tuple[int, Mapping[str, Json]]]:
    """Yield number and entry, those without a resource passed over."""
    return ((number, entry) for number, entry in enumerate(bundle["entry"]) if "resource" in entry)


def _shape(bundle: Json) -> Iterator[BundleIssue]:
    if not isinstance(bundle, dict) or bundle.get("resourceType") != "Bundle":
        yield BundleIssue("the file", "a FHIR Bundle")
        return
    if not isinstance(bundle.get("type"), str):
        yield BundleIssue("Bundle.type", "a type, such as document or collection")
    entries = bundle.get("entry")
    if not isinstance(entries, list) or not entries:
        yield BundleIssue("Bundle.entry", "at least one entry")
        return
    for number, entry in enumerate(entries):
        path = f"Bundle.entry[{number}]"
        inner = entry.get("resource") if isinstance(entry, dict) else None
        if isinstance(entry, dict) and "resource" not in entry and isinstance(entry.get("request"), dict):
            continue
        if not isinstance(inner, dict) or not isinstance(inner.get("resourceType"), str):
            yield BundleIssue(f"{path}.resource", "a resource with its resourceType: the entry is empty")
        elif inner["resourceType"] == "Bundle":
            yield BundleIssue(f"{path}.resource", "one resource, not a Bundle inside the Bundle")
    urls = Counter(_url(entry) for entry in entries if isinstance(entry, dict) and entry.get("fullUrl"))
    for url, times in urls.items():
        if times > 1:
            where = next(n for n, e in enumerate(entries) if isinstance(e, dict) and _url(e) == url)
            yield BundleIssue(f"Bundle.entry[{where}].fullUrl", f"a fullUrl used once (bdl-7): it stands {times} times")


def _url(entry: Mapping[str, Json]) -> str:
    meta = entry["resource"].get("meta") if isinstance(entry.get("resource"), dict) else None
    version = meta.get("versionId") if isinstance(meta, dict) else None
    return f"{entry.get('fullUrl')}|{version}"


def _document(bundle: Bundle) -> Iterator[BundleIssue]:
    """R4: a document has an identifier (bdl-9), a date (bdl-10), and a Composition first (bdl-11), and only one."""
    if bundle["type"] != "document":
        return
    kinds = [resource["resourceType"] for resource in resources(bundle)]
    if kinds[0] != "Composition":
        yield BundleIssue("Bundle.entry[0].resource", "a Composition: it is the first entry of a document (bdl-11)")
    if (count := kinds.count("Composition")) != 1:
        # What a sender's document was headed by goes out as it came, behind ours.
        ours = [terms().is_ours(one) for one in resources(bundle) if one["resourceType"] == "Composition"]
        expected = f"exactly one Composition in a document, and there are {count}"
        yield BundleIssue("Bundle.entry", expected, refuse=ours[:1] != [True] or any(ours[1:]))
    identifier = bundle.get("identifier")
    if not isinstance(identifier, dict) or not identifier.get("system") or not identifier.get("value"):
        yield BundleIssue(
            "Bundle.identifier", "a system and a value (bdl-9): without them a second copy is not recognised"
        )
    if instant(bundle.get("timestamp")) is None:
        yield BundleIssue("Bundle.timestamp", "an instant with seconds and offset (bdl-10)")


def _references(bundle: Bundle) -> Iterator[BundleIssue]:
    here = set()
    for number, entry in _entries(bundle):
        inner, url = entry["resource"], entry.get("fullUrl")
        if not isinstance(url, str | None):
            yield BundleIssue(f"Bundle.entry[{number}].fullUrl", "a URL, as one text")
            url = None
        here |= {url, f"{inner['resourceType']}/{inner['id']}" if "id" in inner else None}
    for number, entry in _entries(bundle):
        inside = entry["resource"].get("contained")
        parts = inside if isinstance(inside, list) else ()
        contained = {f"#{one.get('id')}" for one in parts if isinstance(one, dict)}
        for path, reference in _walk(entry["resource"], f"Bundle.entry[{number}].resource"):
            if not path.endswith(".reference") or not isinstance(reference, str):
                continue
            target = address(reference)
            if target in here or reference in contained or reference == "#":
                continue
            inside = reference.startswith(("urn:uuid:", "urn:oid:", "#"))
            # A document holds what its Composition names (R4, documents); what others name may be elsewhere.
            composed = bundle["type"] == "document" and entry["resource"]["resourceType"] == "Composition"
            if inside or (composed and _LITERAL.fullmatch(reference)):
                yield BundleIssue(_shown(path), "a resource of this Bundle: the reference leads nowhere")
            elif _LITERAL.fullmatch(reference):
                expected = "a resource of this Bundle: the reference leads out of it"
                yield BundleIssue(_shown(path), expected, refuse=False)


def _client(bundle: Bundle) -> Iterator[BundleIssue]:
    """Whether the document brings its client; how many clients there are is asked where the resources are read."""
    if bundle["type"] == "document" and all(one["resourceType"] != "Patient" for one in resources(bundle)):
        yield BundleIssue("Bundle.entry", "the Patient that the document is about: it names nobody", refuse=False)


def _active(bundle: Bundle) -> Iterator[BundleIssue]:
    for number, entry in _entries(bundle):
        for path, value in _walk(entry["resource"], f"Bundle.entry[{number}].resource"):
            if isinstance(value, str):
                yield from (BundleIssue(_shown(path), why) for why in active_content(path, value))


def _structure(bundle: Bundle) -> Iterator[BundleIssue]:
    """Ask the full check, where the small one has nothing to refuse; what it finds is reported and refuses nothing."""
    for issue in issues([bundle], ()):
        if issue.severity == "error" or issue.key in _WARNINGS:
            yield BundleIssue(issue.path, f"{issue.expected} ({issue.key})", refuse=False)


def _walk(value: Json, path: str) -> Iterator[tuple[str, Json]]:
    """Yield path and value of every leaf."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _walk(item, f"{path}.{key}")
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _walk(item, f"{path}[{number}]")
    else:
        yield path, value


def _shown(path: str) -> str:
    """Return a path without names that R4 does not have: they may be anything, a client's too."""
    head, _, rest = path.partition(".resource.")
    parts = (_PART.fullmatch(part) for part in rest.split("."))
    names = (part[0] if part and part[1] in element_names() else "?" for part in parts)
    return f"{head}.resource.{'.'.join(names)}"
