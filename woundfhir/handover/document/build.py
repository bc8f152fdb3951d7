"""The Composition of a transfer document: sections in reading order, everything reachable from it.

R4 (documents): a document holds the Composition and what can be reached forwards from it, and Provenance
that targets what is in it. An assessment that only points at its wound is not reachable from the wound, so
every resource is listed in the section it belongs to. A section without data says why (emptyReason).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from operator import itemgetter
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.chart import open_record
from woundfhir.errors import InputError
from woundfhir.fhir.ids import unescape
from woundfhir.fhir.write_context import WriteContext
from woundfhir.handover.document import text
from woundfhir.handover.summary.client import Summary, summary
from woundfhir.handover.texts import say
from woundfhir.r4.narrative import narrative
from woundfhir.record import History

Json = Any
Resource = dict[str, Json]

#: Kinds of document: transfer summary for everybody, nurse transfer note for nurses.
TYPES = {"transfer": "doc_transfer_summary", "nurse": "doc_nurse_transfer"}


@dataclass(frozen=True, slots=True)
class Section:
    """One section: its key, its codes (of a standard, our own), and whether it is a must."""

    key: str
    codes: tuple[str, ...]
    required: bool = True

    @property
    def title(self) -> str:
        """Its title."""
        return say(f"section.{self.key}")


SECTIONS = (
    Section("next", ("section_instructions", "section_own_next")),
    Section("allergies", ("section_allergies",)),
    Section("wounds", ("section_problems",)),
    Section("course", ("section_findings", "section_own_course")),
    Section("changes", ("section_procedures", "section_own_changes")),
    Section("packing", ("section_own_packing",)),
    Section("compression", ("section_own_compression",), required=False),
    Section("supplies", ("section_devices", "section_own_supplies")),
    Section("plan", ("section_plan",)),
    Section("pain", ("section_own_pain",)),
    Section("surfaces", ("section_functional", "section_own_surfaces")),
    Section("photos", ("section_own_photos",), required=False),
    Section("contact", ("section_own_contact",)),
    Section("also", ("section_own_also",), required=False),
    Section("kept", ("section_own_kept",), required=False),
)
_BY_TYPE = {
    "AllergyIntolerance": "allergies",
    "Condition": "wounds",
    "BodyStructure": "wounds",
    "Procedure": "changes",
    "SupplyDelivery": "supplies",
    "CarePlan": "plan",
    "Goal": "plan",
    "DocumentReference": "photos",
    "CareTeam": "contact",
    "Observation": "course",
    "Encounter": "also",
}
#: Sections of the document for these concepts alone, beside what their entries say.
_OWN = {"packing": "packing", "compression": "compression", "offloading": "surfaces"}
_FOLLOWED = frozenset(("Practitioner", "PractitionerRole", "Organization", "Patient", "Provenance", "Composition"))


def composition(
    history: History,
    resources: list[Resource],
    out: WriteContext,
    time: str,
    *,
    document: str = "transfer",
    replaces: str | None = None,
) -> Resource:
    """Return the Composition over the resources of a history.

    Parameters
    ----------
    history, resources, out
        The history, its resources, and the writer's context.
    time
        The instant of the document.
    document
        ``transfer`` or ``nurse``; see ``TYPES``.
    replaces
        ``urn:uuid`` of the Bundle that this one replaces.

    Raises
    ------
    InputError
        For an unknown kind of document.
    """
    if document not in TYPES:
        raise InputError("--document", "one of " + ", ".join(TYPES), "Choose one of them")
    facts = summary(history)
    filed = _file(history, resources, out)
    terms = out.terms
    made = out.head("Composition", "document", terms.meta("document"))
    made["language"] = "en"
    made["text"] = narrative(*text.overview(facts))
    made["identifier"] = out.identifier("document")[0]
    made["status"] = "final"
    made["type"] = terms.cc[TYPES[document]]
    if out.knows_client:  # what a Composition names must be in the document (R4, documents)
        made["subject"] = out.patient
    made["date"] = time
    made["author"] = [_author(history, out) or {"display": "not recorded"}]
    made["title"] = "Wound history for transfer"
    if replaces is not None:
        target = {"system": "urn:ietf:rfc:3986", "value": replaces}
        made["relatesTo"] = [{"code": "replaces", "targetIdentifier": target}]
    made["section"] = [
        s
        for section in SECTIONS
        if (s := _section(section, facts, history, filed.get(section.key, []), out)) is not None
    ]
    return made


def _section(
    section: Section, facts: Summary, history: History, entries: list[dict[str, str]], out: WriteContext
) -> Json:
    words = text.section(section.key, facts)
    empty = len(words) == 1 and words[0].text == say("document.nothing")
    said = not empty and (section.key == "also" or (section.key == "kept" and bool(facts.came)))
    if not entries and not section.required and not said:
        return None
    terms = out.terms
    made: dict[str, Json] = {"title": section.title}
    made["code"] = {"coding": [terms.coding(code).fhir() for code in section.codes], "text": section.title}
    drawn = text.series(history) if section.key == "course" else []
    made["text"] = narrative(*words, *drawn)
    if entries:
        made["entry"] = entries
    elif section.required:
        made["emptyReason"] = terms.cc[text.empty_reason(section.key, facts)]
    return made


def _author(history: History, out: WriteContext) -> dict[str, str] | None:
    """The author of the newest note."""
    from woundfhir.record.canonical import as_json

    note = next((one for one in reversed(open_record(history).counted) if one.by), None)
    return None if note is None else out.authors.get(as_json(note.by))


def _file(history: History, resources: Iterable[Resource], out: WriteContext) -> dict[str, list[dict[str, str]]]:
    """Put each resource into its section; the newest plan of each wound stands first too."""
    filed: dict[str, list[dict[str, str]]] = {}
    newest: dict[str, tuple[int, dict[str, str]]] = {}
    order = {visit.id: visit.nth for visit in open_record(history).counted}
    for resource in resources:
        kind = resource["resourceType"]
        if kind in _FOLLOWED:
            continue
        reference = {"reference": f"{kind}/{resource['id']}"}
        place = _place(resource, out)
        section = _section_of(place) or _BY_TYPE.get(kind, "kept")
        filed.setdefault(section, []).append(reference)
        if kind == "CarePlan" and len(place) == 3 and place[0] in order:
            plan = (order[place[0]], reference)
            newest[place[1]] = max(newest.get(place[1], plan), plan, key=itemgetter(0))
    if newest:
        filed["next"] = [newest[wound][1] for wound in sorted(newest)]
    return filed


def _section_of(place: list[str]) -> str | None:
    """The section that the entry of a resource's concept names; None where its place names no concept."""
    known = catalogue()
    for part in place[1:]:
        if part in _OWN:
            return _OWN[part]
        for group in ("assessment", "care", "client", "plan"):
            if part in known.groups[group]:
                return known.sections[known.groups[group][part].page.section].document
    return None


def _place(resource: Mapping[str, Json], out: WriteContext) -> list[str]:
    """The parts of our own place of a resource: visit, wound or concept, ..."""
    named = resource.get("identifier") or []
    for identifier in named if isinstance(named, list) else [named]:
        if identifier.get("system") == out.system:
            return [unescape(part) for part in str(identifier.get("value", "")).split("/")]
    return []
