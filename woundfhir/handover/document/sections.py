"""The sections of each kind of document, in reading order, and which section a resource stands in.

The patient summary: HL7 FHIR International Patient Summary 2.0.1 (HL7/fhir-ips). Its sections take only some types, and
only with what its profiles ask for; the slicing of sections is open, so that the wound has sections of its own beside.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from operator import itemgetter
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.chart import RecordView
from woundfhir.fhir.dialects.spoken import place_of
from woundfhir.fhir.ids import unescape
from woundfhir.fhir.write_context import WriteContext
from woundfhir.handover.texts import say

Json = Any
Resource = dict[str, Json]


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
#: Codes by which IPS slices its sections; what stands under one of these is held against its profiles.
_OF_IPS = frozenset(("section_problems", "section_allergies", "section_procedures", "section_plan"))


def _codes_of_summary(section: Section) -> tuple[str, ...]:
    """One code of IPS, or codes that are none of its: devices and function ask there for types that we do not write."""
    of_ips = tuple(code for code in section.codes if code in _OF_IPS)
    own = tuple(code for code in section.codes if code not in ("section_devices", "section_functional"))
    return of_ips or own


#: Of a patient summary: IPS requires problems, allergies and medications.
SUMMARY = tuple(
    made
    for section in SECTIONS
    for made in (
        replace(section, codes=_codes_of_summary(section)),
        *((Section("medications", ("section_medications",)),) if section.key == "wounds" else ()),
    )
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
#: What a section of IPS takes: the type, and the elements that its profile requires beside those of R4.
_TAKES: Mapping[str, Callable[[Mapping[str, Json]], bool]] = {
    "allergies": lambda one: one["resourceType"] == "AllergyIntolerance" and "code" in one,
    "wounds": lambda one: one["resourceType"] == "Condition" and "code" in one,
    "changes": lambda one: (
        one["resourceType"] == "Procedure"
        and "code" in one
        and any(key.lstrip("_").startswith("performed") for key in one)
    ),
    "plan": lambda one: one["resourceType"] == "CarePlan",
}
#: Sections of the document for these concepts alone, beside what their entries say.
_OWN = {"packing": "packing", "compression": "compression", "offloading": "surfaces"}
_FOLLOWED = frozenset(("Practitioner", "PractitionerRole", "Organization", "Patient", "Provenance", "Composition"))


def filed(
    record: RecordView, resources: Iterable[Resource], out: WriteContext, *, of_summary: bool = False
) -> dict[str, list[dict[str, str]]]:
    """Put each resource into its section, by key; the newest plan of each wound stands first too.

    Parameters
    ----------
    record, resources, out
        The record, opened; its resources, and the writer's context.
    of_summary
        Whether sections of IPS take only what its profiles allow: the rest stands under what is also charted.
    """
    found: dict[str, list[dict[str, str]]] = {}
    newest: dict[str, tuple[int, dict[str, str]]] = {}
    order = {visit.id: visit.nth for visit in record.counted}
    section_of = cache(_section_of)
    for resource in resources:
        kind = resource["resourceType"]
        if kind in _FOLLOWED:
            continue
        reference = {"reference": out.literal(kind, resource["id"])}
        visit, _, rest = (place_of(resource, out) or "").partition("/")
        section = section_of(rest) or _BY_TYPE.get(kind, "kept")
        if of_summary and section in _TAKES and not _TAKES[section](resource):
            section = "also"
        found.setdefault(section, []).append(reference)
        if kind == "CarePlan" and rest.count("/") == 1 and (visit := unescape(visit)) in order:
            plan, wound = (order[visit], reference), unescape(rest.partition("/")[0])
            newest[wound] = max(newest.get(wound, plan), plan, key=itemgetter(0))
    if newest:
        found["next"] = [newest[wound][1] for wound in sorted(newest)]
    return found


def _section_of(place: str) -> str | None:
    """The section that the entry of a resource's concept names, by its place in a visit; None where none is named."""
    known = catalogue()
    for part in map(unescape, place.split("/")):
        if part in _OWN:
            return _OWN[part]
        for group in ("assessment", "care", "client", "plan"):
            if part in known.groups[group]:
                return known.sections[known.groups[group][part].page.section].document
    return None
