"""Full assessment: undermining and tunnels told in full, odour, signs of infection, warmth, photo."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.form import filler
from woundfhir.checklist.rules.helpers import acted, ask, gaps, laid, listed
from woundfhir.checklist.rules.signs import deep_signs, local_signs, sign_count, systemic_signs


@rule("FU01", "undermining-details", severity="required", scope="entry", group="full assessment")
def undermining_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Undermining is written without its hours or its depth.

    Why: Undermining cannot be seen. The next nurse finds it, and sees whether it closes, only by hours and depth.
    Wrong: undermining: [{depth: 3 cm}]
    Right: undermining: [{from: 2, to: 6, depth: 3 cm}]
    Fix: Write from which hour to which, head of the client at 12, and the greatest depth.
    Source: RNAO, Assessment and Management of Pressure Injuries, 3rd edition, 2016, wound assessment (seen)
    """
    for item in entry.items("assessment.undermining"):
        if missing := gaps(item, {"from": "from which hour", "to": "to which hour", "depth": "depth"}):
            yield Problem(item.path(), f"Undermining: {listed(missing)} not written")


@rule("FU02", "tunnel-details", severity="required", scope="entry", group="full assessment")
def tunnel_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A tunnel is written without its direction or its depth.

    Why: A tunnel that is not found again is not cleansed, and packing can be left in it.
    Wrong: tunnels: [{depth: 2.5 cm}]
    Right: tunnels: [{clock: 4, depth: 2.5 cm, end_felt: yes}]
    Fix: Write for each tunnel the hour, head of the client at 12, and the depth.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, 2007, recommendation 3.1a (seen)
    """
    for item in entry.items("assessment.tunnels"):
        if missing := gaps(item, {"clock": "hour", "depth": "depth"}):
            yield Problem(item.path(), f"Tunnel: {listed(missing)} not written")


@rule("FU03", "tunnel-end-not-felt", severity="caution", scope="entry", group="full assessment")
def tunnel_end_not_felt(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A tunnel whose end was not felt, or of which the note does not say so.

    Why: Fluid and packing put into a tunnel without a known end may not come back.
    Wrong: tunnels: [{clock: 4, depth: 5 cm, end_felt: no}], packing in it, nobody asked
    Right: tunnels: [{clock: 4, depth: 2.5 cm, end_felt: yes}]; or end_felt: no and plan: {escalation: surgeon called}
    Fix: Write end_felt: yes or no; if no, who was asked before anything is put in. Local policy and the licensed
        practitioner decide.
    Source: Saskatoon Health Region, policy 1030, Wound Irrigation and Packing: an unknown end point is a reason not to
        irrigate or pack, and to refer (seen)
    """
    if acted(entry):
        return
    for item in entry.items("assessment.tunnels"):
        if item.flag("end_felt"):
            continue
        where = ", with packing or fluid put in" if _into(entry) else ""
        if item.flag("end_felt") is False:
            yield ask(
                item.path("end_felt"),
                f"The end of the tunnel was not felt{where}: who was asked?",
                "Write who was asked and what was agreed before anything goes in.",
            )
        elif not item.written("end_felt"):
            yield ask(
                item.path("end_felt"),
                f"Was the end of the tunnel felt{where}? Not written",
                "Write end_felt: yes; if no, who was asked before anything goes in.",
            )


def _into(entry: EntryView) -> bool:
    irrigated = any("irrigation" in item.tags("method") for item in entry.items("care.cleansing"))
    return irrigated or bool(entry.items("care.packing")) or bool(laid(entry, "paste"))


@rule("FU04", "odour-before-cleansing", severity="recommended", scope="entry", group="full assessment")
def odour_before_cleansing(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """An odour is written, but not that it was judged after cleansing.

    Why: An old dressing, and honey, smell by themselves. Only an odour that stays after cleansing tells something.
    Wrong: odour: offensive
    Right: odour: offensive, odour_after_cleansing: yes
    Fix: Smell again after cleansing and write odour_after_cleansing: yes.
    Source: common practice; the element itself: RNAO 2007, recommendation 3.1a (common practice, no source)
    """
    concept, value = entry.find("assessment.odour")
    smells = entry.has("assessment.odour") and isinstance(value, str) and not filler(concept, value)
    if smells and entry.flag("assessment.odour_after_cleansing") is not True:
        yield Problem(entry.path("assessment.odour"), "Odour: not said whether it stayed after cleansing")


@rule("FU05", "local-infection-signs", severity="caution", scope="entry", group="full assessment")
def local_infection_signs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Three or more signs of local infection, and no word on what follows.

    Why: Any three together ask for a clinician's look. They are a prompt, not a diagnosis.
    Wrong: infection_signs: [not healing, more exudate, smell], nothing in the plan
    Right: the same signs, and plan: {escalation: wound care lead called, sees the wound on 5 March}
    Fix: Write who was told, when, and what was agreed. Local policy and the licensed practitioner decide.
    Source: Woo KY and Sibbald RG, Ostomy Wound Manage 2009;55(8):40-48, signs of increased surface bacteria (seen)
    """
    found = local_signs(entry)
    limit = policy.number("infection.signs")
    if sign_count(entry, policy).local >= limit and not _deep(entry, policy) and not acted(entry):
        yield ask(
            entry.path("assessment.infection_signs"),
            f"{limit} or more signs of local infection: who looks at the wound, and when?",
            "Write who was told, when, and what was agreed.",
            listed(sorted(found.values())),
            policy.source("infection.signs"),
        )


@rule("FU06", "deep-infection-signs", severity="caution", scope="entry", group="full assessment")
def deep_infection_signs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Three or more signs of deep infection, or a sign that it spreads, and no call the same day.

    Why: Deep and spreading infection cannot wait for the next visit. The signs are a prompt, not a diagnosis.
    Wrong: infection_signs: [fever, spreading redness, more exudate], nothing in the plan
    Right: the same signs, and plan: {escalation: physician called at 11:00, client sent in}
    Fix: Write who was called today, at what time, and what was agreed. Local policy and the licensed practitioner
        decide.
    Source: Woo KY and Sibbald RG, Ostomy Wound Manage 2009;55(8):40-48; International Wound Infection Institute,
        Wound infection in clinical practice, 2022 (seen)
    """
    found = _deep(entry, policy)
    if found and not acted(entry):
        yield ask(
            entry.path("assessment.infection_signs"),
            "Signs of deep or spreading infection: who was called today?",
            "Write who was called, at what time, and what was agreed.",
            listed(found),
            policy.source("infection.signs"),
        )


def _deep(entry: EntryView, policy: Policy) -> list[str]:
    deep, systemic = deep_signs(entry, policy), systemic_signs(entry, policy)
    if sign_count(entry, policy).deep >= policy.number("infection.signs"):
        return sorted({*deep.values(), *systemic})
    return systemic


@rule(
    "FU07",
    "temperature-not-compared",
    severity="recommended",
    scope="entry",
    group="full assessment",
    when=("assessed", "sided"),
)
def temperature_not_compared(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Infection is in question, and the skin was not compared with the other side for warmth.

    Why: Skin clearly warmer than the same place on the other side is one of the signs of deep infection.
    Wrong: infection_signs: [smell, more exudate], nothing about warmth
    Right: temperature_difference: 0.4 Cel
    Fix: Measure both sides and write temperature_difference, or temperature_difference: {absent: not performed}.
    Source: Woo KY and Sibbald RG, Ostomy Wound Manage 2009;55(8):40-48 (seen)
    """
    warm = "deep:T" in entry.tags("assessment.infection_signs") or entry.written("assessment.temperature_difference")
    doubt = any(word != "none" for word in entry.words("assessment.infection_signs"))
    if not warm and (doubt or entry.holds("diabetic foot", "full assessment")):
        yield Problem(
            entry.path("assessment.temperature_difference"),
            "Warmth against the same place on the other side: not written",
        )
