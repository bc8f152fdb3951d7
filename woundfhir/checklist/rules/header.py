"""Header: who the client is, when the care was given and written down, by whom, and what a correction keeps."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta

from woundfhir.chart.views import PatientView, VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import ask, listed
from woundfhir.record import dates

_LATE = re.compile(r"\blate\b", re.IGNORECASE)


@rule("HD01", "client-two-identifiers", severity="required", scope="patient", group="header")
def client_two_identifiers(client: PatientView, policy: Policy) -> Iterator[Problem]:
    """The client is named by fewer than two identifiers.

    Why: A note that could belong to two people can harm both. Two identifiers tie every page to one client.
    Wrong: patient: {name: {family: Example}}
    Right: patient: {identifiers: [{system: "urn:example:clinic", value: C-1}], name: {family: Example}, born: 1948-03}
    Fix: Write at least two of: record number, name, date of birth.
    Source: US Medicare contractors' list for wound care documentation (every page identified); College of Nurses of
        Ontario, Documentation, 2025; that it is two is common practice (seen, secondary source)
    """
    kinds = {
        "record number": any(one.get("value") for one in client.given("identifiers") or ()),
        "name": client.given("name"),
        "date of birth": client.given("born"),
    }
    missing = [kind for kind, found in kinds.items() if not found]
    if len(missing) > 1:
        yield Problem(client.path(), f"The client has fewer than two identifiers: {listed(missing)} not written")


@rule("HD02", "identifier-without-system", severity="recommended", scope="patient", group="header")
def identifier_without_system(client: PatientView, policy: Policy) -> Iterator[Problem]:
    """A record number stands without the place that gave it out.

    Why: Two clinics can give the same number to two people; at the next team the number alone names nobody.
    Wrong: identifiers: [{value: C-1}]
    Right: identifiers: [{system: "urn:example:clinic", value: C-1}]
    Fix: Write who gave out the number, as a system beside the value.
    Source: HL7 FHIR R4, Identifier: the system makes the value unique (published standard)
    """
    for index, one in enumerate(client.given("identifiers") or ()):
        if bool(one.get("system")) != bool(one.get("value")):
            missing = "value" if one.get("system") else "system"
            yield Problem(client.path(f"identifiers[{index}]"), f"Record number without its {missing}")


@rule("HD03", "time-of-care", severity="required", scope="visit", group="header")
def time_of_care(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """The note does not say on which day and at what time the care was given.

    Why: Care is read in the order in which it was given; without the hour two changes on one day cannot be told apart.
    Wrong: at: 2026-03-02
    Right: at: 2026-03-02T10:05-05:00
    Fix: Write day and hour of the visit under 'at', with the offset of your time zone.
    Source: US Medicare contractors' list for wound care documentation (each visit dated); the hour: College of Nurses
        of Ontario, Documentation, 2025, from memory (seen, secondary source)
    """
    if visit.at is None:
        yield Problem(visit.path("at"), "When was the visit? Day and time not written")
    elif dates.moment(visit.at) is not None and not dates.has_clock(visit.at):
        yield Problem(visit.path("at"), "The visit has a day, but no time of day")


@rule("HD04", "time-of-writing", severity="required", scope="visit", group="header")
def time_of_writing(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """The note does not say when it was written.

    Why: Only the time of writing, beside the time of care, shows whether a note was written at once or from memory.
    Wrong: at: 2026-03-02T10:05-05:00 and nothing under 'written'
    Right: at: 2026-03-02T10:05-05:00, written: 2026-03-02T10:40-05:00
    Fix: Write day and hour of your entry under 'written'. Never change it to match the visit.
    Source: HL7 FHIR R4, Composition.date is required in a document; the hour: College of Nurses of Ontario,
        Documentation, 2025, from memory (published standard)
    """
    if visit.written_at is None:
        yield Problem(visit.path("written"), "When was the note written? Not said")
    elif dates.moment(visit.written_at) is not None and not dates.has_clock(visit.written_at):
        yield Problem(visit.path("written"), "The time of writing has a day, but no time of day")


@rule("HD05", "author-and-designation", severity="required", scope="visit", group="header")
def author_and_designation(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """The note does not say who wrote it, or with which designation.

    Why: Every nurse answers for her own entry; the reader must know who she is and in which role she acted.
    Wrong: by: {name: A. Nurse}
    Right: by: {id: rn-204, name: A. Nurse, designation: RN}
    Fix: Write name or id, and designation, of the person who gave the care and writes the note.
    Source: HL7 FHIR R4, Composition.author is required in a document; US Medicare contractors' list (legible identity
        of the author); the designation: College of Nurses of Ontario, Documentation, 2025, from memory (published
        standard)
    """
    missing = [] if visit.by.get("name") or visit.by.get("id") else ["name"]
    if not visit.by.get("designation"):
        missing.append("designation")
    if missing:
        yield Problem(visit.path("by"), f"Author of the note: {listed(missing)} not written")


@rule("HD06", "note-status", severity="recommended", scope="visit", group="header")
def note_status(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """The note does not say whether it is a draft or final.

    Why: The next nurse acts on a final note and waits for a draft. A note that does not say is judged as final.
    Wrong: no status
    Right: status: final
    Fix: Write status: draft while you are still at it, status: final when you sign.
    Source: HL7 FHIR R4, Composition.status is required: preliminary, final, amended (published standard)
    """
    if visit.status is None:
        yield Problem(visit.path("status"), "Draft or final? The note does not say")


@rule("HD07", "late-entry", severity="recommended", scope="visit", group="header")
def late_entry(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A note written long after the visit does not say that it is a late entry.

    Why: What is written days later is written from memory. Marked as late it stays honest; unmarked it looks backdated.
    Wrong: at: 2026-03-02T10:05-05:00, written: 2026-03-05T08:00-05:00, no word about it
    Right: the same times, and in the note: "Late entry: the system was down on 2 March."
    Fix: Leave both times as they are and write in the note: late entry, and why.
    Source: College of Nurses of Ontario, Documentation, 2025: late entries are marked (from memory)
    """
    at, written = dates.moment(visit.at), dates.moment(visit.written_at)
    if at is None or written is None or (at.tzinfo is None) != (written.tzinfo is None):
        return
    limit = timedelta(hours=float(policy.number("header.late_hours")))
    says = [visit.data.get("note"), *(entry.data.get("note") for entry in visit.entries)]
    if written - at > limit and not any(_LATE.search(text) for text in says if text):
        found = f"Written more than {policy.says('header.late_hours')} after the visit, and not marked as a late entry"
        yield Problem(visit.path("written"), found, source=policy.source("header.late_hours"))


@rule("HD08", "correction-keeps-original", severity="required", scope="visit", group="header")
def correction_keeps_original(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """An amended note does not say which note it replaces, or why.

    Why: A correction must leave the first entry readable and show who changed it, when and why.
    Wrong: status: amended
    Right: status: amended, replaces: V7, replaces_reason: wrong side written
    Fix: Write replaces with the id of the first note, which stays in the record, and replaces_reason.
    Source: HL7 EHR System Functional Model R2 (ISO 10781), RI.1.3.2, amend, correct and augment (published standard)
    """
    reason = visit.data.get("replaces_reason")
    if visit.status == "amended":
        missing = [] if visit.replaces else ["the note that it replaces"]
        missing += [] if reason else ["the reason"]
        if missing:
            yield Problem(visit.path("replaces"), f"Amended note: {listed(missing)} not written")
    elif visit.replaces and not visit.draft:
        yield Problem(visit.path("status"), "The note replaces another one, but is not marked as amended")


@rule("HD09", "empty-note", severity="required", scope="visit", group="header")
def empty_note(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A note says nothing about the client or a wound.

    Why: An empty note looks like a visit at which nothing was seen.
    Wrong: a visit with a time and an author only
    Right: a visit with at least one wound, something about the client, or words in 'note'
    Fix: Write what was seen and done, or mark the note as entered in error.
    Source: common practice (common practice, no source)
    """
    if not (visit.entries or visit.data.get("client") or visit.data.get("note")):
        yield Problem(visit.path(), "The note holds nothing about the client or a wound")


@rule("HD10", "consent-refused", severity="caution", scope="visit", group="header")
def consent_refused(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """Consent is written as "no", and care or a photo is charted all the same.

    Why: Care and photos need the client's agreement. If it was given later, or by somebody else, the note says so.
    Wrong: client: {photo_consent: no}, and photos in the same note
    Right: client: {photo_consent: no}, and no photo
    Fix: Write what was agreed, with whom and when. Local policy and the licensed practitioner decide.
    Source: teaching on documentation in Ontario (consent to care and to photos) (low-quality source)
    """
    care = any(entry.wrote("care") for entry in visit.entries)
    if visit.flag("client.consent") is False and care:
        yield ask(
            visit.path("client.consent"),
            "Consent to care is written as no, and care is charted: what was agreed?",
            "Write what was agreed, with whom and when.",
        )
    if visit.flag("client.photo_consent") is False and any(entry.wrote("photos") for entry in visit.entries):
        yield ask(
            visit.path("client.photo_consent"),
            "Consent to photos is written as no, and a photo is in the note: what was agreed?",
            "Write what was agreed, or take the photo out.",
        )
