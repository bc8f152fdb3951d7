"""Hand-over: what the next team needs to know about the client (RNAO recommendation 4.1, and continuity)."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule


def known(visit: VisitView, *paths: str) -> bool:
    """Whether this or an earlier note that counts has one of the answers, which are about the client."""
    return any(visit.written(path) or visit.answered_before(path) for path in paths)


@rule("TR01", "transfer-risk-factors", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_risk_factors(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not known(visit, "client.history", "client.risk_score") and visit.patient.given("conditions") is None:
        yield Problem(visit.path("client.history"))


@rule("TR02", "transfer-skin", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_skin(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not visit.written("client.pressure_points"):
        yield Problem(visit.path("client.pressure_points"))


@rule("TR03", "transfer-equipment", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_equipment(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    wanted = ("support_surface", "seating", "transfer_technique")
    missing = [key for key in wanted if not known(visit, f"client.{key}")]
    if missing:
        yield Problem(visit.path("client.support_surface"), missing=missing)


@rule("TR06", "transfer-laboratory", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_laboratory(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not known(visit, "client.laboratory"):
        yield Problem(visit.path("client.laboratory"))


@rule("TR07", "transfer-response", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_response(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not known(visit, "client.response_to_care"):
        yield Problem(visit.path("client.response_to_care"))


@rule("TR08", "transfer-pain", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_pain(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    here = any(entry.written("plan.pain_plan") or entry.written("care.response.analgesia") for entry in visit.entries)
    if not here and not known(visit, "client.pain_needs"):
        yield Problem(visit.path("client.pain_needs"))


@rule("TR09", "transfer-closed-wounds", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_closed_wounds(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    closed = any(wound.status == "closed" for wound in visit.record.wounds)
    if not closed and not known(visit, "client.healed_wounds"):
        yield Problem(visit.path("client.healed_wounds"))


@rule("TR10", "transfer-team", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_team(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not known(visit, "client.team"):
        yield Problem(visit.path("client.team"))


@rule("TR11", "transfer-nutrition", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_nutrition(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not known(visit, "client.nutrition_plan", "client.nutrition_screen"):
        yield Problem(visit.path("client.nutrition_plan"))


@rule("TR15", "transfer-contact", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_contact(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if visit.patient.given("contact") is None and not visit.written("client.next_contact"):
        yield Problem(visit.path("client.next_contact"))


@rule("TR17", "transfer-advance-notice", severity="recommended", scope="visit", group="transfer", when=("transfer",))
def transfer_advance_notice(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    if not known(visit, "client.advance_notice"):
        yield Problem(visit.path("client.advance_notice"))
