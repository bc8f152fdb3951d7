"""Packing: counted in, counted out, loosely laid, its end in view."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import acted, ask, filled, gaps, last_change, listed, packed_in, taken_out


def shallow(entry: EntryView, policy: Policy) -> bool:
    """Whether every depth that is written is below the depth from which packing is counted."""
    depths = [entry.measure("assessment.depth", "cm")]
    for path in ("assessment.undermining", "assessment.tunnels"):
        depths += [item.measure("depth", "cm") for item in entry.items(path)]
    return any(depth is not None for depth in depths) and not entry.holds("deep space")


@rule("PK01", "packing-count-in", severity="required", scope="entry", group="packing")
def packing_count_in(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Packing was put in, and not counted.

    Why: A piece that nobody counted is a piece that can stay behind, and is found months later.
    Wrong: packing: [{material: packing strip}]
    Right: packing: [{material: packing strip, pieces_in: 1}]
    Fix: Write pieces_in: how many pieces lie in the wound now.
    Source: BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing: count what goes in and what comes
        out of any space deeper than 1 cm (seen)
    """
    if not filled(entry) or shallow(entry, policy):
        return
    for item in entry.items("care.packing"):
        # A paste or gel is told by its amount.
        if item.has("material") and not item.written("pieces_in") and "paste" not in item.tags("material"):
            missing = ["pieces put in", *gaps(item, {"length": "length", "width": "width"})]
            yield Problem(
                item.path("pieces_in"),
                f"Packing: {listed(missing)} not written",
                "Write pieces_in, how many lie in the wound now: the next nurse must find as many. Write its size too.",
                source=policy.source("packing.depth"),
            )


@rule("PK02", "packing-count-differs", severity="caution", scope="entry", group="packing")
def packing_count_differs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Another number of pieces came out than went in at the last change.

    Why: A piece may still lie in the wound.
    Wrong: last note pieces_in: 2, this note pieces_out: 1
    Right: last note pieces_in: 2, this note pieces_out: 2
    Fix: Look and feel again before the wound is filled; write what was found and who was told. Local policy and the
        licensed practitioner decide.
    Source: BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing (the count; what follows from a
        difference is derived) (seen)
    """
    last = last_change(entry)
    put, out = packed_in(last) if last is not None else None, taken_out(entry)
    if put is not None and out is not None and put != out and not acted(entry):
        which = "Fewer" if out < put else "More"
        yield ask(
            _place(entry),
            f"{which} pieces of packing came out than went in at the last change: is one still in the wound?",
            "Write what was looked for and found, and who was told.",
        )


def _place(entry: EntryView) -> str:
    items = entry.items("care.packing")
    return items[0].path("pieces_out") if items else entry.path("care.removed")


@rule("PK03", "packing-count-out", severity="caution", scope="entry", group="packing", when=("dressing change",))
def packing_count_out(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Packing went in at the last change; not written how much came out at this one.

    Why: Packing that nobody counted out may still be in the wound.
    Wrong: last note pieces_in: 1, this note without pieces_out
    Right: packing: [{pieces_out: 1, material: packing strip, pieces_in: 1}]
    Fix: Write pieces_out; if you are not sure, look again and write who was told. Local policy and the licensed
        practitioner decide.
    Source: BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing (seen)
    """
    last = last_change(entry)
    if last is None or not filled(last) or shallow(last, policy) or taken_out(entry) is not None:
        return
    paste = all("paste" in item.tags("material") for item in last.items("care.packing"))
    if not paste and not entry.flag("care.removed.all_out"):
        yield ask(
            _place(entry),
            "Packing went in at the last change: how many pieces came out?",
            "Write pieces_out; if you are not sure, who was told.",
        )


@rule("PK04", "more-than-one-piece", severity="recommended", scope="entry", group="packing")
def more_than_one_piece(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """More than one piece of packing went in, without a reason.

    Why: One long piece comes out whole; of several, one is forgotten.
    Wrong: packing: [{material: packing strip, pieces_in: 3}]
    Right: packing: [{material: packing strip, pieces_in: 2, pieces_reason: one in each tunnel}]
    Fix: Write pieces_reason.
    Source: BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing: one piece whenever possible (seen)
    """
    for item in entry.items("care.packing"):
        if (item.number("pieces_in") or 0) > 1 and not item.written("pieces_reason"):
            yield Problem(item.path("pieces_reason"), "More than one piece of packing: reason not written")


@rule("PK05", "packing-tail-and-fill", severity="recommended", scope="entry", group="packing")
def packing_tail_and_fill(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Packing is written without whether its end is in view and whether it lies loosely.

    Why: A tail left outside is how the next nurse finds the packing. Packed tight, it presses on the tissue that heals.
    Wrong: packing: [{material: packing strip, pieces_in: 1}]
    Right: packing: [{material: packing strip, pieces_in: 1, tail_visible: yes, loose: yes}]
    Fix: Leave a tail over the edge and write tail_visible and loose.
    Source: BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing (loose fill); M. Heale, retained
        dressings, case scenarios (tail) (seen)
    """
    for item in entry.items("care.packing"):
        if not item.has("material") or "paste" in item.tags("material"):
            continue
        if item.flag("tail_visible") is False:
            yield Problem(item.path("tail_visible"), "The end of the packing is not in view: how will it be found?")
        if item.flag("loose") is False:
            yield Problem(item.path("loose"), "Packing is not loosely laid: why?")
        if missing := gaps(item, {"tail_visible": "tail left in view?", "loose": "laid loosely?"}):
            yield Problem(item.path(), f"Packing: {' '.join(missing)} Not written")


@rule("PK07", "packing-details", severity="required", scope="entry", group="packing")
def packing_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Packing is written without its material or its size.

    Why: The next nurse must know what to look for, how long it is, and what to bring.
    Wrong: packing: [{pieces_in: 1}]
    Right: packing: [{material: packing strip, length: 20 cm, width: 1 cm, pieces_in: 1}]
    Fix: Write material, length and width; for a paste or gel the amount.
    Source: BC Provincial Nursing Skin and Wound Committee, Procedure: Wound Packing (seen)
    """
    for item in entry.items("care.packing"):
        if not item.has("material") and not (item.number("pieces_in") or 0) > 0:
            continue
        # Where the count is missing, PK01 names the size with it.
        counted = item.written("pieces_in") or "paste" in item.tags("material") or shallow(entry, policy)
        if not counted:
            continue
        words = {"material": "material", "length": "length", "width": "width"}
        if "paste" in item.tags("material"):
            # In a tunnel the amount is a safety prompt (DR13).
            words = {} if entry.has("assessment.tunnels") else {"amount": "amount"}
        if missing := gaps(item, words):
            yield Problem(item.path(), f"Packing: {listed(missing)} not written")


def _says_healability(entry: EntryView) -> bool:
    return entry.written("plan.healability")


@rule("PK08", "packing-a-non-healable-wound", severity="caution", scope="entry", group="packing")
def packing_a_non_healable_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A dry wound that cannot heal was packed or irrigated.

    Why: A dry, stable wound without the blood supply to heal is kept dry; moisture opens it to infection.
    Wrong: healability: non-healable, bed_moisture: dry, packing: [{material: gauze}]
    Right: healability: non-healable, bed_moisture: dry, packing: none
    Fix: Write why it was packed or irrigated, or who was asked. Local policy and the licensed practitioner decide.
    Source: Saskatoon Health Region, policy 1030, Wound Irrigation and Packing (seen)
    """
    said = entry if _says_healability(entry) else entry.latest(_says_healability)
    lost = said is not None and "non-healable" in said.tags("plan.healability")
    dry = "dry" in entry.tags("assessment.bed_moisture") or entry.none("assessment.exudate_amount")
    irrigated = any("irrigation" in item.tags("method") for item in entry.items("care.cleansing"))
    if lost and dry and (filled(entry) or irrigated) and not acted(entry):
        what = "packed" if filled(entry) else "irrigated"
        where = "care.packing" if filled(entry) else "care.cleansing"
        yield ask(
            entry.path(where),
            f"A dry wound that cannot heal was {what}: was that meant?",
            "Write why, or who was asked.",
        )
