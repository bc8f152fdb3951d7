"""Hand-over: what the next team needs to know about the client (RNAO recommendation 4.1, and continuity)."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import listed


def known(visit: VisitView, *paths: str) -> bool:
    """Whether this or an earlier note that counts answers one of the paths: the history travels with the client."""
    return any(visit.written(path) or visit.answered_before(path) for path in paths)


@rule("TR01", "transfer-risk-factors", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_risk_factors(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without the client's risk factors.

    Why: The next team must know what slows healing and what makes new wounds.
    Wrong: no history, no conditions, no risk score in the record
    Right: conditions: [diabetes mellitus]; or client: {history: ..., risk_score: 15}
    Fix: Write history or conditions, and the risk score where one was taken.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    if not known(visit, "client.history", "client.risk_score") and visit.patient.given("conditions") is None:
        yield Problem(visit.path("client.history"), "Hand-over: risk factors not written")


@rule("TR02", "transfer-skin", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_skin(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without pressure points and the state of the skin before leaving.

    Why: What the skin was like on leaving shows what is new on arrival.
    Wrong: client: {} on the day of leaving
    Right: client: {pressure_points: heels intact, sacrum red and blanching}
    Fix: Look at the pressure points on the day of leaving and write pressure_points.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    if not visit.written("client.pressure_points"):
        yield Problem(
            visit.path("client.pressure_points"), "Hand-over: pressure points and skin before leaving not written"
        )


@rule("TR03", "transfer-equipment", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_equipment(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without bed, seat and the way the client is moved.

    Why: Without the mattress there tonight, pressure is back tonight.
    Wrong: no support_surface, seating or transfer_technique in the record
    Right: client: {support_surface: ..., seating: ..., transfer_technique: slide sheet, two people}
    Fix: Write support_surface, seating and transfer_technique; "none needed" is an answer.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    words = {
        "client.support_surface": "bed or mattress",
        "client.seating": "seating",
        "client.transfer_technique": "way of moving",
    }
    missing = [label for path, label in words.items() if not known(visit, path)]
    if missing:
        yield Problem(visit.path("client.support_surface"), f"Hand-over: {listed(missing)} not written")


@rule("TR06", "transfer-laboratory", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_laboratory(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without laboratory results, or a word that there are none.

    Why: A swab that is still growing, or a low albumin, changes what the next team does.
    Wrong: no laboratory in the record
    Right: client: {laboratory: swab of 1 March outstanding}; or laboratory: no results outstanding
    Fix: Write laboratory: results, what is outstanding, or that there are none.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    if not known(visit, "client.laboratory"):
        yield Problem(
            visit.path("client.laboratory"), "Hand-over: laboratory results, or that there are none, not written"
        )


@rule("TR07", "transfer-response", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_response(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without how client and family take part.

    Why: A plan that was not kept here will not be kept there, unless somebody says why.
    Wrong: no response_to_care in the record
    Right: client: {response_to_care: keeps legs up, sister puts stockings on}
    Fix: Write response_to_care.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    if not known(visit, "client.response_to_care"):
        yield Problem(visit.path("client.response_to_care"), "Hand-over: how client and family take part not written")


@rule("TR08", "transfer-pain", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_pain(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without what the client needs against pain.

    Why: The first change at the new place hurts most when nobody knew.
    Wrong: no pain_needs, pain_plan or analgesia in this note
    Right: client: {pain_needs: own tablets 30 minutes before each change}
    Fix: Write pain_needs; "none needed" is an answer.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    here = any(entry.written("plan.pain_plan") or entry.written("care.response.analgesia") for entry in visit.entries)
    if not here and not known(visit, "client.pain_needs"):
        yield Problem(visit.path("client.pain_needs"), "Hand-over: what is needed against pain not written")


@rule("TR09", "transfer-closed-wounds", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_closed_wounds(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without the wounds that have closed.

    Why: A scar of an old pressure injury is the place where the next one opens.
    Wrong: no healed_wounds, and no closed wound in the record
    Right: client: {healed_wounds: left heel, stage 2, closed in January}; or healed_wounds: none
    Fix: Write healed_wounds; "none" is an answer.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    closed = any(wound.status == "closed" for wound in visit.record.wounds)
    if not closed and not known(visit, "client.healed_wounds"):
        yield Problem(
            visit.path("client.healed_wounds"), "Hand-over: closed wounds, or that there are none, not written"
        )


@rule("TR10", "transfer-team", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_team(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without the other professions that go on helping.

    Why: What dietitian and therapist began stops on the day of leaving, unless it is asked for again.
    Wrong: no team in the record
    Right: client: {team: dietitian, occupational therapist, vascular clinic in May}
    Fix: Write team: who is involved, and what is still to come.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, 2007 and 2011 (seen)
    """
    if not known(visit, "client.team"):
        yield Problem(visit.path("client.team"), "Hand-over: other professions involved not written")


@rule("TR11", "transfer-nutrition", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_nutrition(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without the need for help with food.

    Why: A wound does not close on an empty plate.
    Wrong: no nutrition_plan or nutrition_screen in the record
    Right: client: {nutrition_plan: two supplements a day, dietitian in two weeks}
    Fix: Write nutrition_plan or nutrition_screen; "no need" is an answer.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, earlier texts (seen)
    """
    if not known(visit, "client.nutrition_plan", "client.nutrition_screen"):
        yield Problem(visit.path("client.nutrition_plan"), "Hand-over: need for help with food not written")


@rule("TR15", "transfer-contact", severity="required", scope="visit", group="transfer", when=("transfer",))
def transfer_contact(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without whom to call with a question.

    Why: The question comes on the first evening.
    Wrong: no contact of the client, no next_contact
    Right: patient: {contact: {name: wound care lead on call, phone: ...}}; or client: {next_contact: ...}
    Fix: Write next_contact: name or role, telephone, and when.
    Source: common practice (common practice, no source)
    """
    if visit.patient.given("contact") is None and not visit.written("client.next_contact"):
        yield Problem(visit.path("client.next_contact"), "Hand-over: whom to call with a question not written")


@rule("TR17", "transfer-told-in-advance", severity="recommended", scope="visit", group="transfer", when=("transfer",))
def transfer_told_in_advance(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A hand-over without who was told in advance.

    Why: A mattress and a compression bandage are not in every cupboard; they must be ordered before the client comes.
    Wrong: no advance_notice
    Right: client: {advance_notice: wound nurse of the new team called on 3 April, mattress ordered}
    Fix: Write advance_notice: who was told, when, and which equipment was asked for.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1, earlier texts (advance
        notice of equipment) (seen)
    """
    if not known(visit, "client.advance_notice"):
        yield Problem(visit.path("client.advance_notice"), "Hand-over: who was told in advance not written")
