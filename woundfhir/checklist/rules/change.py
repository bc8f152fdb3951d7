"""Every dressing change: what came off, how the wound was cleansed, what went on, and how the client bore it."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.asking import Item, entry_of
from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import ask, covers, exudate_level, gaps, laid, listed

#: Primary dressings that hold no fluid and do not stick: something must lie over them.
_NEEDS_COVER = frozenset(("contact layer", "hydrogel", "packing", "gauze", "iodine"))
_COVERS_ITSELF = frozenset(("absorbent", "adhesive", "film", "negative pressure"))


@rule(
    "CH01",
    "removed-dressing-details",
    severity="required",
    scope="entry",
    group="every change",
    when=("dressing change",),
)
def removed_dressing_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The dressing that came off is not described.

    Why: How wet it was, whether it leaked or stuck, and how long it was on, decide the next dressing and the next day.
    Wrong: removed: {dressing: foam dressing}
    Right: removed: {dressing: foam dressing, condition: [strike-through], days_worn: 3 d}
    Fix: Write what came off, its state (intact, saturated, strike-through, leaking, stuck), and days worn.
    Source: Therapeutic Guidelines, ulcer moisture balance: assess the dressing in place and on removal (seen)
    """
    for item in entry.items("care.removed"):
        if "missing" in item.tags("condition"):
            continue
        missing = gaps(item, {"dressing": "what it was", "condition": "its state"})
        # With an earlier change in the record the days can be counted; at a first assessment nobody knows them.
        if entry.nth == 0 and not entry.holds("first assessment"):
            missing += gaps(item, {"days_worn": "days worn"})
        if missing:
            yield Problem(item.path(), f"Dressing taken off: {listed(missing)} not written")


@rule("CH02", "cleansing-details", severity="required", scope="entry", group="every change", when=("dressing change",))
def cleansing_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Cleansing is written without solution, volume, method or temperature.

    Why: "Cleansed" alone does not tell the next nurse what worked, nor whether the volume was enough.
    Wrong: cleansing: {solution: normal saline}
    Right: cleansing: {solution: normal saline, volume: 250 mL, method: irrigation, temperature: room temperature}
    Fix: Write solution, volume, method and temperature.
    Source: RNAO, Cleansing the Wound (from Assessment and Management of Pressure Injuries, 3rd edition, 2016) (seen)
    """
    words = {"solution": "solution", "volume": "volume", "method": "method", "temperature": "temperature"}
    for item in entry.items("care.cleansing"):
        if missing := gaps(item, words):
            yield Problem(item.path(), f"Cleansing: {listed(missing)} not written")


@rule("CH03", "cleansing-volume-low", severity="caution", scope="entry", group="every change")
def cleansing_volume_low(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Less fluid than published for cleansing a wound.

    Why: Too little fluid leaves debris and old dressing in the bed.
    Wrong: cleansing: {solution: normal saline, volume: 20 mL}
    Right: cleansing: {solution: normal saline, volume: 250 mL}
    Fix: Check the volume; if it is right, write why so little was enough. Local policy and the licensed practitioner
        decide.
    Source: RNAO, Cleansing the Wound: at least 100 to 150 mL (seen)
    """
    for item, volume in _volumes(entry):
        if volume < policy.number("cleansing.volume") and not item.note:
            yield ask(
                item.path("volume"),
                f"Less than {policy.says('cleansing.volume')} for cleansing: is the volume right, and was it enough?",
                "Correct the volume, or write in the note of the cleansing why so little was enough.",
                source=policy.source("cleansing.volume"),
            )


def _volumes(entry: EntryView) -> Iterator[tuple[Item, Decimal]]:
    for item in entry.items("care.cleansing"):
        volume = item.measure("volume", "mL")
        if volume is not None:
            yield item, volume


@rule("CH04", "part-of-a-container", severity="recommended", scope="entry", group="every change")
def part_of_a_container(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Part of a container of solution was used.

    Why: An opened container does not stay sterile; the whole of it is used, or the rest is thrown away.
    Wrong: cleansing: {volume: 100 mL, whole_container: no}
    Right: cleansing: {volume: 250 mL, whole_container: yes}
    Fix: Use the whole container; if not, write in the note of the cleansing what became of the rest.
    Source: common practice (common practice, no source)
    """
    for item in entry.items("care.cleansing"):
        if item.flag("whole_container") is False and not item.note:
            yield Problem(item.path("whole_container"), "Part of a container was used: what became of the rest?")


@rule("CH06", "irrigation-pressure", severity="caution", scope="entry", group="every change")
def irrigation_pressure(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The wound was irrigated at a pressure outside the published range.

    Why: Too little pressure does not cleanse; too much can harm the bed and drive bacteria in.
    Wrong: cleansing: {method: irrigation, pressure: 25 psi}
    Right: cleansing: {method: irrigation, pressure: 8 psi}
    Fix: Check the pressure, or write syringe and needle that were used. Local policy and the licensed practitioner
        decide.
    Source: NPUAP and EPUAP, Prevention and Treatment of Pressure Ulcers, 2009: 4 to 15 psi (seen)
    """
    low, high = policy.number("cleansing.pressure_low"), policy.number("cleansing.pressure_high")
    for item in entry.items("care.cleansing"):
        pressure = item.number("pressure")
        if pressure is not None and not low <= pressure <= high and _psi(item):
            yield ask(
                item.path("pressure"),
                f"Irrigation pressure outside {low} to {high} psi: is the number right?",
                "Correct it, or write what was used and why.",
                source=policy.source("cleansing.pressure_high"),
            )


def _psi(item: Item) -> bool:
    found = item.quantity("pressure")
    return found is not None and found.unit is not None and "psi" in found.unit.casefold()


@rule(
    "CH07",
    "irrigation-fluid-returned",
    severity="caution",
    scope="entry",
    group="every change",
    when=("undermined or tunnelling",),
)
def irrigation_fluid_returned(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A tunnel or undermined wound was irrigated; not written whether all fluid came back.

    Why: Fluid that stays in a blind space carries bacteria with it.
    Wrong: tunnels: [{clock: 4, depth: 5 cm}], cleansing: {method: irrigation, volume: 250 mL}
    Right: the same, with fluid_returned: yes
    Fix: Write fluid_returned: yes or no; if no, who was asked. Local policy and the licensed practitioner decide.
    Source: Saskatoon Health Region, policy 1030, Wound Irrigation and Packing; RNAO, Cleansing the Wound: tunnels that
        do not drain are not irrigated (seen)
    """
    for item in entry.items("care.cleansing"):
        if "irrigation" in item.tags("method") and not item.flag("fluid_returned"):
            if item.flag("fluid_returned") is False:
                question = "Not all irrigation fluid came back: who was asked?"
            else:
                question = "Did all the irrigation fluid come back out of the tunnel or undermined area?"
            yield ask(item.path("fluid_returned"), question, "Write fluid_returned: yes; if no, who was asked.")


@rule("CH08", "skin-protection", severity="recommended", scope="entry", group="every change", when=("dressing change",))
def skin_protection(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Much exudate, or macerated skin, and nothing written about protecting the skin around the wound.

    Why: Fluid on sound skin softens it and makes the wound larger.
    Wrong: exudate_amount: large, no periwound_protection
    Right: periwound_protection: [{product: barrier film, area: 2 cm round the wound}]; or periwound_protection: none
    Fix: Write the product and where it went, or periwound_protection: none with the reason in the note.
    Source: Therapeutic Guidelines, ulcer moisture balance (seen)
    """
    much = (exudate_level(entry) or 0) >= 3
    wet = much or "maceration" in entry.tags("assessment.periwound")
    why = "Much exudate" if much else "Macerated skin"
    # Under honey and gelling dressings the same blank is asked for by DR09.
    if wet and not entry.written("care.periwound_protection") and not laid(entry, "honey", "gelling"):
        yield Problem(entry.path("care.periwound_protection"), f"{why}: skin protection not written")


@rule("CH09", "dressing-size", severity="required", scope="entry", group="every change")
def dressing_size(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A dressing is written without its size, or a paste or gel without its amount.

    Why: The next nurse brings what is written; size and number also show whether supplies will last.
    Wrong: primary_dressing: [{dressing: foam dressing}]
    Right: primary_dressing: [{dressing: foam dressing, size: 10 x 10 cm}]
    Fix: Write the size of each dressing; for a paste or gel the amount or how thick it lies.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1 (type of dressing),
        2007 and 2011; that size belongs to it is common practice (seen)
    """
    missing, first = [], None
    for item in (*entry.items("care.primary_dressing"), *covers(entry)):
        loose = {"paste", "hydrogel"} & item.tags("dressing")
        if item.written("amount" if loose and "amount" in item.concept.fields else "size") or item.written("size"):
            continue
        if item.has("dressing"):
            first = first or item
            # A word of the list may be said again; words outside it may hold anything, and are not.
            known = entry_of(item.concept.fields["dressing"], str(item.answer("dressing")))
            what = "how much" if loose else "size"
            missing.append(what if known is None else f"{what} of the {known.word}")
    if first is not None:
        yield Problem(first.path(), f"Dressing: {listed(dict.fromkeys(missing))} not written")


@rule("CH10", "no-cover", severity="recommended", scope="entry", group="every change", when=("dressing change",))
def no_cover(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A dressing that holds no fluid lies on the wound, and no cover is written.

    Why: A contact layer, gel, gauze or strip needs something over it that takes up fluid and keeps it in place.
    Wrong: primary_dressing: [{dressing: low-adherent contact layer}], no secondary dressing
    Right: secondary_dressing: [{dressing: foam dressing, size: 12 x 12 cm}]; or no_secondary_reason: ...
    Fix: Write the cover and its size, or no_secondary_reason with the clinical reason.
    Source: common practice (common practice, no source)
    """
    tags = frozenset(tag for item in entry.items("care.primary_dressing") for tag in item.tags("dressing"))
    if not tags & _NEEDS_COVER or tags & _COVERS_ITSELF or entry.has("care.secondary_dressing"):
        return
    # A gelling or honey dressing without a cover is a safety prompt (DR07).
    if not entry.has("care.no_secondary_reason") and not tags & {"gelling", "honey"}:
        yield Problem(entry.path("care.secondary_dressing"), "No cover over the dressing, and no reason written")
