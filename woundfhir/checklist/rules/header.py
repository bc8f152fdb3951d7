"""Header: who the client is, when the care was given and written down, by whom, and what a correction keeps."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta

from woundfhir.chart.views import PatientView, VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.record import dates
from woundfhir.record.clients import REFERENCE, is_placeholder

#: An absolute URI (RFC 3986, 4.3) without blanks (FHIR R4, uri).
_URI = re.compile(r"[a-z][a-z0-9+.-]*:\S+", re.IGNORECASE)
_LATE = re.compile(r"\blate\b", re.IGNORECASE)


@rule("HD01", "client-two-identifiers", severity="required", scope="patient", group="header")
def client_two_identifiers(client: PatientView, policy: Policy) -> Iterator[Problem]:
    kinds = {
        # A sender's name of a resource (Patient/111) identifies nobody to the nurse.
        "record_number": any(
            not is_placeholder(one.get("value")) and one.get("system") != REFERENCE
            for one in client.given("identifiers") or ()
        ),
        "name": client.given("name"),
        "born": client.given("born"),
    }
    missing = [kind for kind, found in kinds.items() if not found]
    if len(missing) > 1:
        yield Problem(client.path(), missing=missing)


@rule("HD02", "identifier-without-system", severity="recommended", scope="patient", group="header")
def identifier_without_system(client: PatientView, policy: Policy) -> Iterator[Problem]:
    for index, one in enumerate(client.given("identifiers") or ()):
        path, system = client.path(f"identifiers[{index}]"), one.get("system")
        if system != REFERENCE and bool(system) != bool(one.get("value")):
            yield Problem(path, "system" if one.get("value") else "value")
        elif system and _URI.fullmatch(system) is None:
            yield Problem(path, "uri")


@rule("HD03", "time-of-care", severity="required", scope="visit", group="header")
def time_of_care(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if visit.at is None:
        yield Problem(visit.path("at"), "missing")
    elif dates.moment(visit.at) is not None and not dates.has_clock(visit.at):
        yield Problem(visit.path("at"), "no_time")


@rule("HD04", "time-of-writing", severity="recommended", scope="visit", group="header")
def time_of_writing(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if visit.written_at is None:
        yield Problem(visit.path("written"), "missing")
    elif dates.moment(visit.written_at) is not None and not dates.has_clock(visit.written_at):
        yield Problem(visit.path("written"), "no_time")


@rule("HD05", "author-and-designation", severity="required", scope="visit", group="header")
def author_and_designation(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    missing = [] if visit.by.get("name") or visit.by.get("id") else ["name"]
    if not visit.by.get("designation"):
        missing.append("designation")
    if missing:
        yield Problem(visit.path("by"), missing=missing)


@rule("HD06", "note-status", severity="recommended", scope="visit", group="header")
def note_status(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if visit.status is None:
        yield Problem(visit.path("status"))


@rule("HD07", "late-entry", severity="recommended", scope="visit", group="header")
def late_entry(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    at, written = dates.moment(visit.at), dates.moment(visit.written_at)
    if at is None or written is None or (at.tzinfo is None) != (written.tzinfo is None):
        return
    limit = timedelta(hours=float(policy.number("header.late_hours")))
    notes = [visit.data.get("note"), *(entry.data.get("note") for entry in visit.entries)]
    if written - at > limit and not any(_LATE.search(text) for text in notes if text):
        yield Problem(
            visit.path("written"), limit=policy.says("header.late_hours"), source=policy.source("header.late_hours")
        )


@rule("HD08", "correction-keeps-original", severity="required", scope="visit", group="header")
def correction_keeps_original(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    reason = visit.data.get("replaces_reason")
    if visit.status == "amended":
        missing = [] if visit.replaces else ["replaces"]
        missing += [] if reason else ["replaces_reason"]
        if missing:
            yield Problem(visit.path("replaces"), "missing", missing=missing)
    elif visit.replaces and not visit.draft:
        yield Problem(visit.path("status"), "not_marked")


@rule("HD09", "empty-note", severity="required", scope="visit", group="header")
def empty_note(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not (visit.entries or visit.data.get("client") or visit.data.get("note")):
        yield Problem(visit.path())


@rule("HD10", "consent-refused", severity="caution", scope="visit", group="header")
def consent_refused(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    care = any(entry.wrote("care") for entry in visit.entries)
    if visit.flag("client.consent") is False and care:
        yield Problem(visit.path("client.consent"), "care")
    photographed = any(entry.wrote("photos") or entry.has("care.photography") for entry in visit.entries)
    if photographed and _photos_refused(visit):
        yield Problem(visit.path("client.photo_consent"), "photo")


def _asks_about_photos(visit: VisitView) -> bool:
    return visit.flag("client.photo_consent") is not None


def _photos_refused(visit: VisitView) -> bool:
    """Whether the client does not agree to photos, by this note or by the newest earlier one that says."""
    said = visit.newest(_asks_about_photos)
    return said is not None and said.flag("client.photo_consent") is False
