"""First assessment: what the catalogue cannot ask by itself."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import PatientView, VisitView, WoundView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import all_entries, laid, listed


@rule("FA01", "allergies-not-written", severity="required", scope="patient", group="first assessment")
def allergies_not_written(client: PatientView, policy: Policy) -> Iterator[Problem]:
    """Nothing is written about allergies and sensitive skin.

    Why: Adhesives, latex, iodine, silver and honey lie on the wound. "None known" is an answer; a blank is not.
    Wrong: no entry under patient: allergies
    Right: allergies: {none: known}, or allergies: [{to: adhesive tape, reaction: blisters}]
    Fix: Ask, and write each allergy with its reaction, or allergies: {none: known}.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011;
        Coleman S et al., J Tissue Viability 2017;26:226-240 (seen)
    """
    if client.given("allergies") is not None or not client.record.judged:
        return
    # With honey on a wound the same blank is a safety prompt (DR01): one cause, one finding.
    if not any(laid(entry, "honey") for entry in all_entries(client.record)):
        yield Problem(client.path("allergies"), "Allergies and sensitive skin: not written")


@rule("FA02", "risk-score-details", severity="required", scope="visit", group="first assessment")
def risk_score_details(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A pressure injury risk score stands without the tool, or without its date.

    Why: The same number is high risk on one scale and low on another, and an old score may no longer hold.
    Wrong: risk_score: 15
    Right: risk_tool: Braden scale, risk_score: 15, risk_date: 2026-03-02
    Fix: Write the name of the tool and the day on which it was scored.
    Source: RNAO, Assessment and Management of Pressure Injuries, 3rd edition, 2016, recommendation 1.2 (seen)
    """
    if not visit.has("client.risk_score"):
        return
    # The tool is asked for by the catalogue's own rule at the first assessment of a pressure injury.
    asked = visit.holds("pressure injury") and visit.holds("first assessment")
    missing = [] if visit.written("client.risk_tool") or asked else ["tool"]
    missing += [] if visit.written("client.risk_date") else ["date"]
    if missing:
        yield Problem(visit.path("client.risk_score"), f"Risk score without its {listed(missing)}")


@rule("FA03", "wound-status", severity="recommended", scope="wound", group="first assessment")
def wound_status(wound: WoundView, policy: Policy) -> Iterator[Problem]:
    """The record does not say whether the wound is open or closed.

    Why: The next team must know on which wounds somebody has to come. One that does not say is judged as open.
    Wrong: {id: W1, kind: skin tear}
    Right: {id: W1, status: open, kind: skin tear}
    Fix: Write status: open; or status: closed with the day.
    Source: HL7 FHIR R4, Condition.clinicalStatus (published standard)
    """
    if wound.status is None:
        yield Problem(wound.path("status"), "Open or closed? The status of the wound is not written")
