"""Faults in dates and times."""

from __future__ import annotations

import json

from tests.broken.sound import Bundle, fault, resource_of, size_panel


@fault("birth", "born")
def birth_after_the_visits(b: Bundle) -> None:
    resource_of(b, "Patient")["birthDate"] = "2026-05-30"


@fault("birthDate", "born", mild=True)
def birth_in_the_nineteenth_century(b: Bundle) -> None:
    resource_of(b, "Patient")["birthDate"] = "1839"


@fault("deceased")
def deceased_before_the_visits(b: Bundle) -> None:
    resource_of(b, "Patient")["deceasedDateTime"] = "2025-12-24"


@fault("birth", "born", "effective")
def finding_before_birth(b: Bundle) -> None:
    size_panel(b)["effectiveDateTime"] = "1931-05-04T14:20:00-04:00"


@fault("future", "after today", "period")
def visit_in_the_future(b: Bundle) -> None:
    for entry in b["entry"]:
        text = json.dumps(entry["resource"]).replace("2026-05-18", "2031-05-18")
        entry["resource"] = json.loads(text)


@fault("effectiveDateTime")
def finding_years_from_its_visit(b: Bundle) -> None:
    size_panel(b)["effectiveDateTime"] = "2023-05-04T14:20:00-04:00"


@fault("period", "per-1")
def end_before_the_start(b: Bundle) -> None:
    resource_of(b, "Encounter")["period"] = {"start": "2026-05-04T14:20:00-04:00", "end": "2026-05-04T13:20:00-04:00"}


@fault("abatement", "onset", "con-")
def healed_before_it_began(b: Bundle) -> None:
    resource_of(b, "Condition", 1)["abatementDateTime"] = "2026-04-18"


@fault("effectiveDateTime")
def impossible_time_zone(b: Bundle) -> None:
    size_panel(b)["effectiveDateTime"] = "2026-05-04T14:20:00+25:00"


@fault("effectiveDateTime")
def time_without_zone(b: Bundle) -> None:
    size_panel(b)["effectiveDateTime"] = "2026-05-04T14:20:00"


@fault("birthDate")
def date_with_strokes(b: Bundle) -> None:
    resource_of(b, "Patient")["birthDate"] = "02/03/1939"


@fault("onset")
def thirtieth_of_february(b: Bundle) -> None:
    resource_of(b, "Condition", 1)["onsetDateTime"] = "2026-02-30"


@fault("timestamp")
def timestamp_is_a_date(b: Bundle) -> None:
    b["timestamp"] = "2026-05-18"


@fault("timestamp", "date", "future", mild=True)
def timestamp_before_the_visits(b: Bundle) -> None:
    b["timestamp"] = "2019-05-18T09:20:00-04:00"


@fault("Composition.date", "date", mild=True)
def document_edited_before_the_visits(b: Bundle) -> None:
    resource_of(b, "Composition")["date"] = "2019-05-18T09:20:00-04:00"


@fault("date", "timestamp", mild=True)
def document_edited_after_it_was_assembled(b: Bundle) -> None:
    resource_of(b, "Composition")["date"] = "2099-05-18T09:20:00-04:00"
