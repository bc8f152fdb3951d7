"""First assessment: what the catalogue cannot ask by itself."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.catalogue import nothing
from woundfhir.chart.views import PatientView, VisitView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import honey_used


@rule("FA01", "allergies-not-written", severity="required", scope="patient", group="first assessment")
def allergies_not_written(client: PatientView, policy: Policy) -> Iterator[Problem]:
    if not client.record.judged:
        return
    # With honey on a wound a reason why nobody asked is no answer.
    honey = honey_used(client.record)
    if client.given("allergies") is None or (honey and client.says_absent("allergies")):
        yield Problem(client.path("allergies"), "honey" if honey else "blank")


@rule("SE55", "none-beside-an-allergy", severity="sense", scope="patient", group="sense")
def none_beside_an_allergy(client: PatientView, policy: Policy) -> Iterator[Problem]:
    active = client.active_allergies
    denials = [
        path
        for path, name in active
        if nothing.none_known(name) or nothing.of_drugs(name) or nothing.names_nothing(name, alone=False)
    ]
    if denials and len(active) > len(denials):
        yield Problem(denials[0])


@rule("FA02", "risk-score-details", severity="required", scope="visit", group="first assessment")
def risk_score_details(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not visit.has("client.risk_score"):
        return
    # The tool is asked for by the catalogue's own rule at the first assessment of a pressure injury.
    asked = visit.holds("pressure injury") and visit.holds("first assessment")
    missing = [] if visit.written("client.risk_tool") or asked else ["tool"]
    missing += [] if visit.written("client.risk_date") else ["date"]
    if missing:
        yield Problem(visit.path("client.risk_score"), missing=missing)


@rule("FA03", "wound-status", severity="recommended", scope="wound", group="first assessment")
def wound_status(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    if wound.status is None:
        yield Problem(wound.path("status"))
