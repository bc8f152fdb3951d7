"""What no invariant of R4 says and a sound resource keeps: codes that can exist, times in their order, data that fits.

Sources: LOINC Users' Guide and SNOMED CT Release File Specification (form and check digit of a code); HL7 FHIR R4
(Coding.system is absolute; Reference.type agrees with the reference; Attachment.hash and size are of its data; language
is BCP 47, RFC 5646; a urn:uuid is RFC 4122). That times follow each other is common practice, no source.
"""

from __future__ import annotations

import re
from base64 import b64decode
from binascii import Error
from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from hashlib import sha1
from typing import Any

from woundfhir.r4.check_digits import is_loinc, is_snomed
from woundfhir.r4.structure.invariants.registry import many, one
from woundfhir.r4.structure.issue import Issues
from woundfhir.r4.structure.references import _RELATIVE, _RESTFUL, Place
from woundfhir.r4.structure.walk import Node
from woundfhir.r4.times import is_before

Json = Any
_LOINC, _SNOMED = "http://loinc.org", "http://snomed.info/sct"
#: LOINC has parts, answers and lists too (LP, LA, LL, LG); their check digits are not held against anything here.
_NO_TERM = re.compile(r"(LA|LG|LL|LP|MTHU)[0-9]+-[0-9]")
#: An expression of several concepts (SNOMED CT compositional grammar), not one code.
_EXPRESSION = re.compile(r"[=<(]*\s*[0-9]{6,18}.*[:+|{].*", re.DOTALL)
_LANGUAGE = re.compile(r"[A-Za-z]{1,8}(-[A-Za-z0-9]{1,8})*")
_YEAR = re.compile(r"[0-9]{4}")
_UUID = re.compile(r"urn:uuid:[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE)
#: Elements in which a chain of resources never comes back to its start.
_CHAINS = ("hasMember", "partOf", "derivedFrom", "replaces", "basedOn")
_NEAR = timedelta(days=31)
_DONE = ("arrived", "triaged", "in-progress", "onleave", "finished")


def check(node: Node, issues: Issues) -> None:
    """Add issues for one element: a Coding, an Attachment, a Reference, or what a resource says of itself."""
    if not isinstance(node.value, Mapping):
        return
    if node.type == "Coding":
        _coding(node, issues)
    elif node.type == "Attachment":
        _attachment(node, issues)
    elif node.type == "Reference":
        _reference(node, issues)
    elif node.value is node.resource:
        _resource(node, issues)


def _coding(node: Node, issues: Issues) -> None:
    system, code = node.value.get("system"), node.value.get("code")
    if isinstance(system, str) and system and ":" not in system:
        issues.add("code-system", f"{node.path}.system", "an absolute URI", "a relative one", "R4, Coding.system")
    if not isinstance(code, str) or code != code.strip():  # walk.py reports the form of a code
        return
    where = f"{node.path}.code"
    if system == _LOINC and not is_loinc(code) and not _NO_TERM.fullmatch(code):
        why = "The check digit of LOINC (mod 10; LOINC Users' Guide)"
        expected = "a LOINC code with its check digit"
        issues.add("check-digit", where, expected, "one that cannot be a LOINC code", why, value=code)
    elif system == _SNOMED and not is_snomed(code) and not _EXPRESSION.fullmatch(code):
        why = "The check digit of SNOMED CT (Verhoeff; SNOMED CT Release File Specification)"
        expected = "a SNOMED CT code with its check digit"
        issues.add("check-digit", where, expected, "one that cannot be a SNOMED CT code", why, value=code)


def _attachment(node: Node, issues: Issues) -> None:
    data = node.value.get("data")
    if not isinstance(data, str):
        return
    try:
        content = b64decode("".join(data.split()), validate=True)
    except (Error, ValueError):
        return  # walk.py reports it
    size, digest = node.value.get("size"), node.value.get("hash")
    if isinstance(size, int) and size != len(content):
        issues.add("attachment", f"{node.path}.size", "the size of the data", "another", "R4, Attachment.size")
    if isinstance(digest, str) and _decoded(digest) != sha1(content, usedforsecurity=False).digest():
        issues.add("attachment", f"{node.path}.hash", "the SHA-1 of the data", "another", "R4, Attachment.hash")


def _decoded(text: str) -> bytes:
    try:
        return b64decode("".join(text.split()), validate=True)
    except (Error, ValueError):
        return b""


def _reference(node: Node, issues: Issues) -> None:
    reference, named = node.value.get("reference"), node.value.get("type")
    if not isinstance(reference, str) or not isinstance(named, str):
        return
    match = _RELATIVE.fullmatch(reference) or _RESTFUL.fullmatch(reference)
    kind = None if match is None else match["type"] if "type" in match.re.groupindex else match[1]
    if kind is not None and kind != named:
        _another_type(node.path, issues)


def _another_type(path: str, issues: Issues) -> None:
    issues.add(
        "reference-target", f"{path}.type", "the type of the resource it leads to", "another", "R4, Reference.type"
    )


def _resource(node: Node, issues: Issues) -> None:
    value, kind = node.value, node.type
    language = value.get("language")
    if isinstance(language, str) and not _LANGUAGE.fullmatch(language):
        why = "The form of BCP 47 (RFC 5646)"
        issues.add("value", f"{node.path}.language", "a language tag such as en or fr-CA", "another text", why)
    if kind == "Condition" and is_before(value.get("abatementDateTime"), value.get("onsetDateTime")):
        _order(f"{node.path}.abatementDateTime", "a time not before the onset", issues)
    born, died = value.get("birthDate"), value.get("deceasedDateTime")
    if kind == "Patient" and is_before(died, born):
        _order(f"{node.path}.deceasedDateTime", "a time not before the birth date", issues)


def _order(path: str, expected: str, issues: Issues) -> None:
    issues.add("time-order", path, expected, "an earlier one", "One follows the other", severity="error")


# -- several resources -----------------------------------------------------------------------------


def check_bundle(bundle: Mapping[str, Json], place: Place, path: str, issues: Issues) -> None:
    """Add issues for what the resources of a Bundle say of each other."""
    for number, entry in enumerate(many(bundle, "entry")):
        url = entry.get("fullUrl")
        if isinstance(url, str) and url.startswith("urn:uuid:") and not _UUID.fullmatch(url):
            where, why = f"{path}.entry[{number}].fullUrl", "A UUID (RFC 4122)"
            issues.add("full-url", where, "urn:uuid: and a UUID", "another text behind urn:uuid:", why)
    leads = _Leads(place, path)
    leads.circles(issues)
    leads.types(issues)
    leads.times(issues)
    leads.visits(issues)
    if bundle.get("type") == "document":
        leads.one_subject(issues)
        leads.before(bundle.get("timestamp"), issues)
        leads.edited(bundle.get("timestamp"), issues)


class _Leads:
    """Where the references of a Bundle lead."""

    def __init__(self, place: Place, path: str) -> None:
        self.place, self.path = place, path

    def at(self, position: int, name: str) -> str:
        return f"{self.path}.entry[{position}].resource.{name}"

    def to(self, position: int, holder: Json) -> int | None:
        reference = holder.get("reference") if isinstance(holder, Mapping) else None
        return self.place.find(reference, position) if isinstance(reference, str) else None

    def circles(self, issues: Issues) -> None:
        """A part that holds, through others, itself."""
        for name in _CHAINS:
            edges = {
                position: {to for item in many(resource, name) if (to := self.to(position, item)) is not None}
                for position, resource in enumerate(self.place.resources)
                if name in resource
            }
            for position in edges:
                if _returns(edges, position):
                    expected = "a resource that does not lead back to this one"
                    issues.add("circle", self.at(position, name), expected, "a circle", "No part holds itself")

    def types(self, issues: Issues) -> None:
        for position, resource in enumerate(self.place.resources):
            for where, holder in _holders(resource, self.at(position, "")[:-1]):
                to, named = self.to(position, holder), holder.get("type")
                text = str(holder["reference"])
                if to is None or not isinstance(named, str) or not text.startswith("urn:"):
                    continue
                if self.place.resources[to].get("resourceType") != named:
                    _another_type(where, issues)

    def times(self, issues: Issues) -> None:
        """Nobody is seen after death, or lives so long before."""
        for position, patient in enumerate(self.place.resources):
            if patient.get("resourceType") != "Patient":
                continue
            died, born = patient.get("deceasedDateTime"), patient.get("birthDate")
            seen = [start for start in map(_start, self.place.resources) if start is not None]
            if any(is_before(died, start) for start in seen):
                _order(self.at(position, "deceasedDateTime"), "a time not before what was seen and done", issues)
            years = [int(start[:4]) for start in seen if _YEAR.match(start)]
            if isinstance(born, str) and _YEAR.match(born) and years and min(years) - int(born[:4]) > 125:
                expected = "a birth date within 125 years before what was seen"
                why = "The longest life on record is 122 years"
                where = self.at(position, "birthDate")
                issues.add("time-order", where, expected, "an earlier one", why, severity="warning")

    def visits(self, issues: Issues) -> None:
        """What was seen at a visit bears a time of that visit, give or take a month of late entries."""
        for position, resource in enumerate(self.place.resources):
            at = _day(_start(resource)) if resource.get("resourceType") != "Encounter" else None
            to = self.to(position, resource.get("encounter")) if at is not None else None
            if at is None or to is None:
                continue
            period = one(self.place.resources[to], "period")
            start, end = _day(period.get("start")), _day(period.get("end"))
            if start is not None and not start - _NEAR <= at <= max(start, end or start) + _NEAR:
                name = "effectiveDateTime" if "effectiveDateTime" in resource else "performedDateTime"
                why, expected = "It names its visit", "a time at the visit that it names"
                where = self.at(position, name)
                issues.add("time-order", where, expected, "one far from it", why, severity="warning")

    def one_subject(self, issues: Issues) -> None:
        """What a document's Composition is about, its other resources are about too."""
        mine = self.to(0, one(self.place.resources[0], "subject")) if self.place.resources else None
        for position, resource in enumerate(self.place.resources):
            of = self.to(position, resource.get("subject")) if position and mine is not None else None
            if of is not None and of != mine and self.place.resources[of].get("resourceType") == "Patient":
                expected, where = "the subject of the resources in the document", self.at(0, "subject")
                issues.add("document", where, expected, "another client", "A document is about one subject (R4)")
                return

    def before(self, timestamp: Json, issues: Issues) -> None:
        """A document is assembled after the visits that it holds."""
        for position, start in self.seen():
            if is_before(timestamp, start):
                expected = "a time not after the timestamp of the document"
                why = "A visit stands in a document that was assembled after it"
                where = self.at(position, "period.start")
                issues.add("time-order", where, expected, "one in the future of it", why, severity="warning")

    def edited(self, timestamp: Json, issues: Issues) -> None:
        """A Composition is edited after the visits that it is about, and before the document is assembled."""
        edited, where = self.place.resources[0].get("date") if self.place.resources else None, self.at(0, "date")
        why = "The time when the composition was last changed (R4, Composition.date)"
        if is_before(timestamp, edited):
            expected = "a time not after the timestamp of the document"
            issues.add("time-order", where, expected, "one in the future of it", why, severity="warning")
        elif any(is_before(edited, start) for _, start in self.seen()):
            expected = "a time not before the visits in the document"
            issues.add("time-order", where, expected, "an earlier one", why, severity="warning")

    def seen(self) -> Iterator[tuple[int, str]]:
        """Yield the visits that took place, each with its position and its start."""
        for position, resource in enumerate(self.place.resources):
            start = _start(resource) if resource.get("status") in _DONE else None
            if start is not None and resource.get("resourceType") == "Encounter":
                yield position, start


def _start(resource: Mapping[str, Json]) -> str | None:
    """When something was seen or done."""
    kind = resource.get("resourceType")
    found = {
        "Encounter": one(resource, "period").get("start"),
        "Observation": resource.get("effectiveDateTime"),
        "Procedure": resource.get("performedDateTime"),
    }.get(str(kind))
    return found if isinstance(found, str) else None


def _day(text: Json) -> date | None:
    try:
        return date.fromisoformat(text[:10]) if isinstance(text, str) else None
    except ValueError:
        return None


def _returns(edges: Mapping[int, set[int]], start: int) -> bool:
    waiting, seen = list(edges.get(start, ())), set[int]()
    while waiting:
        here = waiting.pop()
        if here == start:
            return True
        if here not in seen:
            seen.add(here)
            waiting.extend(edges.get(here, ()))
    return False


def _holders(value: Json, path: str) -> Iterator[tuple[str, Mapping[str, Json]]]:
    """Yield path and object of every reference that names a type."""
    if isinstance(value, Mapping):
        if isinstance(value.get("reference"), str) and "type" in value:
            yield path, value
        for key, item in value.items():
            if isinstance(item, Mapping | list):
                yield from _holders(item, f"{path}.{key}")
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _holders(item, f"{path}[{number}]")
