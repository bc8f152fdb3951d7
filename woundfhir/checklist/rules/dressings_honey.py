"""Honey dressings: allergy, bleeding, stinging, blood sugar, form and grade. Prompts ask and cite; none is advice."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import diabetic, gaps, honey_since, laid


@rule("DR02", "honey-allergy-recorded", severity="caution", scope="entry", group="dressings", about=("allergy",))
def honey_allergy_recorded(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if laid(entry, "honey") and entry.patient.allergic_to("honey"):
        yield Problem(entry.path("care.primary_dressing"))


@rule("DR03", "bee-sting-allergy-recorded", severity="caution", scope="entry", group="dressings", about=("allergy",))
def bee_sting_allergy_recorded(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    stings = entry.patient.allergic_to("bee venom") and not entry.patient.allergic_to("honey")
    if stings and laid(entry, "honey"):
        yield Problem(entry.path("care.primary_dressing"), since=honey_since(entry))


@rule("DR04", "honey-on-a-bleeding-bed", severity="caution", scope="entry", group="dressings", about=("bleeding",))
def honey_on_a_bleeding_bed(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    bleeds = entry.tags("assessment.bleeding")
    for item in entry.items("care.debridement"):
        bleeds |= item.tags("bleeding")
    if not bleeds & {"active", "friable"} or not laid(entry, "honey") or entry.flag("care.response.bleeding_stopped"):
        return
    key = "heavily" if "heavy" in bleeds else "easily" if "active" not in bleeds else "actively"
    yield Problem(entry.path("care.response.bleeding_stopped"), key)


@rule("DR10", "stinging-not-asked", severity="required", scope="entry", group="dressings", when=("dressing change",))
def stinging_not_asked(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if laid(entry, "honey") and not entry.written("care.response.stinging"):
        yield Problem(entry.path("care.response.stinging"))


@rule("DR11", "stinging-not-bearable", severity="caution", scope="entry", group="dressings", about=("pain",))
def stinging_not_bearable(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if "not bearable" in entry.tags("care.response.stinging"):
        yield Problem(entry.path("care.response.stinging_action"))


@rule("DR12", "honey-and-blood-glucose", severity="recommended", scope="entry", group="dressings")
def honey_and_blood_glucose(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not laid(entry, "honey") or not diabetic(entry):
        return
    # Once planned it holds for the notes that follow.
    if not _glucose_charted(entry) and entry.in_episode(_glucose_charted) is None:
        yield Problem(entry.path("plan.glucose_plan"))


def _glucose_charted(entry: EntryView) -> bool:
    return entry.written("client.glucose_check") or entry.written("plan.glucose_plan")


@rule(
    "DR13",
    "honey-in-a-tunnel",
    severity="caution",
    scope="entry",
    group="dressings",
    when=("dressing change",),
    about=("packing",),
)
def honey_in_a_tunnel(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not entry.has("assessment.tunnels"):
        return
    for item in laid(entry, "paste"):
        missing = gaps(item, "amount")
        back = "tail_visible" in item.concept.fields and item.flag("tail_visible")
        missing += [] if back else ["removal"]
        if missing:
            yield Problem(item.path(), missing=missing)
            return


@rule("DR14", "form-not-named", severity="required", scope="entry", group="dressings")
def form_not_named(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in laid(entry, "form not named"):
        yield Problem(item.path("dressing"))


@rule("DR15", "medical-grade-honey", severity="required", scope="entry", group="dressings")
def medical_grade_honey(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.primary_dressing"):
        if "honey" not in item.tags("dressing") or item.flag("medical_grade"):
            continue
        if item.flag("medical_grade") is False:
            yield Problem(item.path("medical_grade"), "not_medical")
        elif not _on_the_pack(entry) and {"paste", "form not named"} & item.tags("dressing"):
            yield Problem(item.path("medical_grade"), "not_written")


def _on_the_pack(entry: EntryView) -> bool:
    return any(one.get("lot") and one.get("expires") for one in entry.data.get("supplies", ()))
