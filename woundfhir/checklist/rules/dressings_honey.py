"""Honey dressings: allergy, bleeding, stinging, blood sugar, form and grade. Prompts ask and cite; none is advice."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView, PatientView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import acted, all_entries, ask, diabetic, gaps, honey_asked_about, laid, listed

_BEE_PRODUCTS = ("honey", "bee product", "propolis", "royal jelly", "beeswax", "bee pollen")
_BEE_STINGS = ("bee sting", "bee venom", "bee-sting", "bee-venom", "bees", "wasp")


@rule("DR01", "honey-allergy-not-asked", severity="caution", scope="patient", group="dressings")
def honey_allergy_not_asked(client: PatientView, policy: Policy) -> Iterator[Problem]:
    """Honey lies on a wound, and nothing is written about allergies.

    Why: Known allergy to honey or bee products is the reason not to use it; it must have been asked before.
    Wrong: primary_dressing: [{dressing: honey alginate}], no entry under patient: allergies
    Right: allergies: {none: known}
    Fix: Ask about honey, bee products and bee stings, and write the answer. Local policy and the licensed practitioner
        decide.
    Source: a hospice's wound products chart: hypersensitivity to honey (seen, secondary source)
    """
    blank = client.given("allergies") is None or client.says_absent("allergies")
    if blank and any(laid(entry, "honey") for entry in all_entries(client.record)):
        yield ask(
            client.path("allergies"),
            "Honey on the wound: was the client asked about honey, bee products and bee stings?",
            "Write each allergy, or allergies: {none: known}.",
        )


@rule("DR02", "honey-allergy-recorded", severity="caution", scope="entry", group="dressings")
def honey_allergy_recorded(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Honey lies on the wound of a client whose record holds an allergy to honey or a bee product.

    Why: Hypersensitivity to honey is named as the contraindication for honey dressings.
    Wrong: allergies: [{to: honey}], primary_dressing: [{dressing: honey paste}]
    Right: another dressing; or plan: {escalation: prescriber called, allergy found not to be true}
    Fix: Check dressing and allergy before it stays on, and write who was asked. Local policy and the licensed
        practitioner decide.
    Source: a hospice's wound products chart: hypersensitivity to honey (seen, secondary source)
    """
    if laid(entry, "honey") and entry.patient.allergic_to(*_BEE_PRODUCTS) and not acted(entry):
        yield ask(
            entry.path("care.primary_dressing"),
            "The record holds an allergy to honey or a bee product, and honey was put on: who was asked?",
            "Write what was checked, what was done, and who was called.",
        )


@rule("DR03", "bee-sting-allergy-recorded", severity="caution", scope="entry", group="dressings")
def bee_sting_allergy_recorded(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Honey lies on the wound of a client who is allergic to bee stings; the sources differ.

    Why: One chart says that venom allergy does not matter for honey, a supplier's page lists it as a reason not to
        use it.
    Wrong: allergies: [{to: bee venom}], honey on the wound, nothing written
    Right: the same, and plan: {referral: prescriber asked on 2 March, honey agreed}
    Fix: Write that the prescriber was asked, and the answer. Local policy and the licensed practitioner decide.
    Source: a hospice's wound products chart against a supplier's page of questions; they conflict (low-quality source)
    """
    stings = entry.patient.allergic_to(*_BEE_STINGS) and not entry.patient.allergic_to(*_BEE_PRODUCTS)
    if stings and laid(entry, "honey") and not honey_asked_about(entry):
        yield ask(
            entry.path("care.primary_dressing"),
            "Bee-sting allergy and honey on the wound: was the prescriber asked? (sources differ)",
            "Write who was asked, and the answer.",
        )


@rule("DR04", "honey-on-a-bleeding-bed", severity="caution", scope="entry", group="dressings")
def honey_on_a_bleeding_bed(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The bed bleeds or is friable, and honey was put on.

    Why: Bleeding is brought to a stop before a dressing that draws fluid goes on.
    Wrong: bleeding: heavy, primary_dressing: [{dressing: honey paste}]
    Right: bleeding: heavy, response: {bleeding_stopped: yes}
    Fix: Write whether the bleeding had stopped, how, and who was told. Local policy and the licensed practitioner
        decide.
    Source: common practice (common practice, no source)
    """
    bleeds = entry.tags("assessment.bleeding")
    for item in entry.items("care.debridement"):
        bleeds |= item.tags("bleeding")
    if not bleeds & {"active", "friable"} or not laid(entry, "honey") or entry.flag("care.response.bleeding_stopped"):
        return
    if not acted(entry):
        how = "heavily" if "heavy" in bleeds else "easily" if "active" not in bleeds else "actively"
        yield ask(
            entry.path("care.response.bleeding_stopped"),
            f"The bed bleeds {how}: had it stopped before honey went on?",
            "Write bleeding_stopped: yes or no, how it was stopped, and who was told.",
        )


@rule("DR10", "stinging-not-asked", severity="required", scope="entry", group="dressings", when=("dressing change",))
def stinging_not_asked(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Honey was put on, and not written whether it stings.

    Why: Honey can sting when it goes on. Asked for, most stinging is bearable or passes; not asked, it is borne in
        silence.
    Wrong: primary_dressing: [{dressing: honey alginate}], response: {tolerated: well}
    Right: response: {tolerated: well, stinging: bearable}
    Fix: Ask once it is on, and write stinging: none, bearable, or not bearable.
    Source: J Wound Ostomy Continence Nurs 2009;36:60, stinging after honey (seen)
    """
    if laid(entry, "honey") and not entry.written("care.response.stinging"):
        yield Problem(entry.path("care.response.stinging"), "Honey is on: does it sting? Not written")


@rule("DR11", "stinging-not-bearable", severity="caution", scope="entry", group="dressings")
def stinging_not_bearable(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The dressing stings more than the client can bear, and nothing is written about it.

    Why: A dressing that cannot be borne comes off, the area is washed, and the prescriber hears of it.
    Wrong: response: {stinging: not bearable}
    Right: response: {stinging: not bearable, stinging_action: taken off, washed with saline, foam put on,
        prescriber told}
    Fix: Write whether it was taken off and the area washed, and what lies there now. Local policy and the licensed
        practitioner decide.
    Source: common practice (common practice, no source)
    """
    if "not bearable" in entry.tags("care.response.stinging") and not entry.has("care.response.stinging_action"):
        yield ask(
            entry.path("care.response.stinging_action"),
            "Stinging could not be borne: was the dressing taken off and the area washed?",
            "Write stinging_action: what was done, what lies there now, who was told.",
        )


@rule("DR12", "honey-and-blood-glucose", severity="recommended", scope="entry", group="dressings")
def honey_and_blood_glucose(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Honey on the wound of a client with diabetes, and no word on blood glucose.

    Why: No case of raised glucose by a honey dressing is known to us; following it is advised by suppliers only.
    Wrong: conditions: [diabetes mellitus], honey on the wound, nothing about glucose
    Right: client: {glucose_check: 7.2 mmol/L this morning}; or plan: {glucose_plan: usual checks go on}
    Fix: Write glucose_check or glucose_plan.
    Source: suppliers' pages of questions; clinical evidence not seen (low-quality source)
    """
    if not laid(entry, "honey") or not diabetic(entry):
        return
    # Once planned it holds for the notes that follow.
    if not _glucose_said(entry) and entry.latest(_glucose_said) is None:
        yield Problem(
            entry.path("plan.glucose_plan"), "Diabetes and honey: how blood glucose is followed is not written"
        )


def _glucose_said(entry: EntryView) -> bool:
    return entry.written("client.glucose_check") or entry.written("plan.glucose_plan")


@rule("DR13", "honey-in-a-tunnel", severity="caution", scope="entry", group="dressings", when=("dressing change",))
def honey_in_a_tunnel(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Honey paste or gel lies in a wound with a tunnel, without amount or a way to get it out.

    Why: What goes into a tunnel must come out again; pieces that stay behind cause infection.
    Wrong: tunnels: [{clock: 4, depth: 3 cm}], packing: [{material: honey paste}]
    Right: packing: [{material: honey paste, amount: 3 mL, note: comes out with irrigation, strip with tail in it}]
    Fix: Write amount, where it went, and how it comes out again. Local policy and the licensed practitioner decide.
    Source: BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing: pieces retained cause infection
        (seen)
    """
    if not entry.has("assessment.tunnels"):
        return
    for item in laid(entry, "paste"):
        missing = gaps(item, {"amount": "how much went in"})
        back = item.note or ("tail_visible" in item.concept.fields and item.flag("tail_visible"))
        missing += [] if back else ["how it comes out again"]
        if missing:
            yield ask(
                item.path(),
                f"Honey paste or gel and a tunnel: {listed(missing)}?",
                "Write the amount, where it went, and how it comes out again.",
            )
            return


@rule("DR14", "form-not-named", severity="required", scope="entry", group="dressings")
def form_not_named(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A dressing is named "honey" or "silver", but not in which form.

    Why: Paste, alginate and hydrocolloid behave differently: one drains, one is cut, one is used whole.
    Wrong: primary_dressing: [{dressing: honey dressing}]
    Right: primary_dressing: [{dressing: honey alginate}]
    Fix: Name the form: alginate, adhesive or non-adhesive hydrocolloid, paste, gel, foam, contact layer.
    Source: a hospice's wound products chart: available as alginate, hydrocolloid, paste, gel (seen, secondary source)
    """
    for item in laid(entry, "form not named"):
        yield Problem(
            item.path("dressing"), "Dressing written without its form (alginate, hydrocolloid, paste, gel ...)"
        )


@rule("DR15", "medical-grade-honey", severity="required", scope="entry", group="dressings")
def medical_grade_honey(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Honey is on the wound, and not written that it is medical grade, sterile and in date.

    Why: Honey from the table is not sterile. Honey for wounds is sterilised by gamma rays and registered.
    Wrong: primary_dressing: [{dressing: honey paste}]
    Right: primary_dressing: [{dressing: honey paste, medical_grade: yes}]; or supplies: with its lot and expiry date
    Fix: Write medical_grade: yes after a look at the pack, or its lot and expiry date under supplies.
    Source: Wound Healing and Management Node Group, evidence summary on honey, Wound Practice and Research 2016;25(2)
        (seen)
    """
    for item in entry.items("care.primary_dressing"):
        if "honey" not in item.tags("dressing") or item.flag("medical_grade"):
            continue
        if item.flag("medical_grade") is False:
            yield Problem(
                item.path("medical_grade"),
                "Honey on the wound that is not medical grade, sterile and in date",
                "Write what it was, why, and who was told.",
            )
        elif not _on_the_pack(entry) and {"paste", "form not named"} & item.tags("dressing"):
            yield Problem(
                item.path("medical_grade"), "Honey: not written that it is medical grade, sterile and in date"
            )


def _on_the_pack(entry: EntryView) -> bool:
    return any(one.get("lot") and one.get("expires") for one in entry.data.get("supplies", ()))
