"""The Composition of a transfer document: sections in reading order, everything reachable from it.

R4 (documents): a document holds the Composition and what can be reached forwards from it, and Provenance
that targets what is in it. An assessment that only points at its wound is not reachable from the wound, so
every resource is listed in the section it belongs to. A section without data says why (emptyReason).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.chart import RecordView, open_record
from woundfhir.errors import InputError
from woundfhir.fhir.unread import unread
from woundfhir.fhir.write_context import WriteContext
from woundfhir.handover.document import text
from woundfhir.handover.document.around import attester, author, confidentiality, custodian
from woundfhir.handover.document.sections import SECTIONS, SUMMARY, Section, filed
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.texts import say
from woundfhir.language import spoken
from woundfhir.r4.narrative import narrative
from woundfhir.record import History

Json = Any
Resource = dict[str, Json]


@dataclass(frozen=True, slots=True)
class Type:
    """One kind of document.

    Attributes
    ----------
    code
        In the table of codes.
    place
        Its place: the identifier of its Composition, and what its id grows from. Each kind has its own.
    title, sections
        Of the Composition: the key of its title among the texts, and its sections.
    claims
        The profiles of others that it follows: of the Composition, of the Bundle.
    """

    code: str
    place: str
    title: str
    sections: tuple[Section, ...] = SECTIONS
    claims: tuple[str, str] | None = None


_IPS = "http://hl7.org/fhir/uv/ips/StructureDefinition/"
#: Kinds of document: transfer summary for everybody, nurse transfer note for nurses, patient summary (HL7's IPS).
TYPES = {
    "transfer": Type("doc_transfer_summary", "document", "title"),
    "nurse": Type("doc_nurse_transfer", "document/nurse", "title_nurse"),
    "ips": Type(
        "doc_patient_summary",
        "document/ips",
        "title_ips",
        SUMMARY,
        (f"{_IPS}Composition-uv-ips", f"{_IPS}Bundle-uv-ips"),
    ),
}


@dataclass(frozen=True, slots=True)
class Head:
    """What describes a document as a whole.

    Attributes
    ----------
    type
        Its kind; see ``TYPES``.
    time
        Of the newest note; of a record without one, the instant that was given.
    replaces
        ``urn:uuid`` of the Bundle that it replaces.
    attested_by
        Id or name of an author of the record who attests to it, and when.
    confidentiality
        The least of v3-Confidentiality that is asked for.
    """

    type: Type
    time: str
    replaces: str | None = None
    attested_by: tuple[str, str] | None = None
    confidentiality: str = "N"


def composition(history: History, resources: list[Resource], out: WriteContext, head: Head) -> Resource:
    """Return the Composition over the resources of a history.

    Parameters
    ----------
    history, resources, out
        The history, its resources, and the writer's context.
    head
        What describes the document as a whole.

    Raises
    ------
    InputError
        For somebody who attests and is no author; for a patient summary of a client without name or birth.
    """
    kind = head.type
    of_summary = kind.claims is not None
    if of_summary:
        _need_for_summary(history)
    record = open_record(history)
    facts = Summary(record, unread(history))
    found = filed(record, resources, out, of_summary=of_summary)
    terms = out.terms
    meta = terms.meta("document") if kind.claims is None else {"source": BASE, "profile": [kind.claims[0]]}
    made = out.head("Composition", kind.place, meta)
    made["language"] = spoken().code
    made["text"] = narrative(*text.overview(facts), language=spoken().code)
    made["identifier"] = out.identifier(kind.place)[0]
    made["status"] = "final"
    made["type"] = terms.cc[kind.code]
    if out.knows_client:  # what a Composition names must be in the document (R4, documents)
        made["subject"] = out.patient
    made["date"] = head.time
    made["author"] = [author(record, out) or {"display": say("document.no_author")}]
    made["title"] = say(f"document.{kind.title}")
    made["confidentiality"] = confidentiality(resources, head.confidentiality)
    if head.attested_by is not None:
        made["attester"] = attester(record, out, *head.attested_by)
    if (house := custodian(record, out, resources)) is not None:
        made["custodian"] = house
    if head.replaces is not None:
        target = {"system": "urn:ietf:rfc:3986", "value": head.replaces}
        made["relatesTo"] = [{"code": "replaces", "targetIdentifier": target}]
    made["section"] = [
        s
        for section in kind.sections
        if (s := _section(section, facts, record, found.get(section.key, []), out)) is not None
    ]
    return made


def _need_for_summary(history: History) -> None:
    """IPS 2.0.1, Patient: a name with given, family or text (ips-pat-1), and a birth date."""
    patient = history.patient
    lacks = [
        key
        for key, has in (
            ("patient.name", isinstance(patient.get("name"), dict) and "absent" not in patient["name"]),
            ("patient.born", isinstance(patient.get("born"), str)),
        )
        if not has
    ]
    if lacks:
        expected = "the client's name and birth date: a patient summary (IPS) requires both"
        raise InputError(lacks[0], expected, "Write it, or make a document of another kind")


def _section(
    section: Section, facts: Summary, record: RecordView, entries: list[dict[str, str]], out: WriteContext
) -> Json:
    words = text.section(section.key, facts)
    empty = len(words) == 1 and words[0].text == say("document.nothing")
    said = not empty and (section.key == "also" or (section.key == "kept" and bool(facts.came)))
    if not entries and not section.required and not said:
        return None
    terms = out.terms
    made: dict[str, Json] = {"title": section.title}
    made["code"] = {"coding": [terms.coding(code).fhir() for code in section.codes], "text": section.title}
    drawn = text.series(facts, record) if section.key == "course" else []
    made["text"] = narrative(*words, *drawn, language=spoken().code)
    if entries:
        made["entry"] = entries
    elif section.required:
        made["emptyReason"] = terms.cc[text.empty_reason(section.key, facts)]
    return made
