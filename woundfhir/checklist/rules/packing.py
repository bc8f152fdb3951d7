"""Packing: counted in, counted out, loosely laid, its end in view."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import filled, gaps, last_change, packed_in, put_in, taken_out


def shallow(entry: EntryView, policy: Policy) -> bool:
    """Whether every depth that is written is below the depth from which packing is counted."""
    if entry.holds("deep space"):
        return False
    depth = entry.amount("assessment.depth", "cm")
    if depth is None:
        # Undermining and tunnels that make no deep space are measured, and shallow.
        return bool(entry.items("assessment.undermining") or entry.items("assessment.tunnels"))
    return depth.at_most(policy.number("packing.depth"))


@rule("PK01", "packing-count-in", severity="required", scope="entry", group="packing")
def packing_count_in(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not filled(entry) or shallow(entry, policy):
        return
    for item in entry.items("care.packing"):
        # A paste or gel is counted by its amount.
        if item.has("material") and not item.written("pieces_in") and "paste" not in item.tags("material"):
            missing = ["pieces_in", *gaps(item, "length", "width")]
            yield Problem(item.path("pieces_in"), missing=missing, source=policy.source("packing.depth"))


@rule("PK02", "packing-count-differs", severity="caution", scope="entry", group="packing", about=("packing",))
def packing_count_differs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = last_change(entry)
    put, out = packed_in(last) if last is not None else None, taken_out(entry)
    if put is not None and out is not None and put != out:
        yield Problem(_place(entry), "fewer" if out < put else "more")


def _place(entry: EntryView) -> str:
    items = entry.items("care.packing")
    return items[0].path("pieces_out") if items else entry.path("care.removed")


@rule("PK03", "packing-count-out", severity="caution", scope="entry", group="packing", when=("dressing change",))
def packing_count_out(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = last_change(entry)
    if last is None or not filled(last) or shallow(last, policy) or taken_out(entry) is not None:
        return
    paste = all("paste" in item.tags("material") for item in last.items("care.packing"))
    if not paste and not entry.flag("care.removed.all_out"):
        yield Problem(_place(entry))


@rule("PK04", "more-than-one-piece", severity="recommended", scope="entry", group="packing")
def more_than_one_piece(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.packing"):
        if put_in(item, 1) and not item.written("pieces_reason"):
            yield Problem(item.path("pieces_reason"))


@rule("PK05", "packing-tail-and-fill", severity="recommended", scope="entry", group="packing")
def packing_tail_and_fill(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    # Foam is counted and has no tail; a paste has neither. However many pieces there are, each thing is asked once.
    laid_in = [
        item
        for item in entry.items("care.packing")
        if item.has("material") and not {"paste", "foam"} & item.tags("material")
    ]
    hidden = next((item for item in laid_in if item.flag("tail_visible") is False), None)
    tight = next((item for item in laid_in if item.flag("loose") is False), None)
    blank = next((item for item in laid_in if gaps(item, "tail_visible", "loose")), None)
    if hidden is not None:
        yield Problem(hidden.path("tail_visible"), "no_tail")
    if tight is not None:
        yield Problem(tight.path("loose"), "tight")
    if hidden is tight is None and blank is not None:
        yield Problem(blank.path(), "missing", missing=gaps(blank, "tail_visible", "loose"))


@rule("PK07", "packing-details", severity="required", scope="entry", group="packing")
def packing_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("care.packing"):
        if not item.has("material") and not put_in(item):
            continue
        # Where the count is missing, PK01 names the size with it.
        counted = item.written("pieces_in") or "paste" in item.tags("material") or shallow(entry, policy)
        if not counted:
            continue
        wanted: tuple[str, ...] = ("material", "length", "width")
        if "paste" in item.tags("material"):
            # In a tunnel the amount is a safety prompt (DR13).
            wanted = () if entry.has("assessment.tunnels") else ("amount",)
        if missing := gaps(item, *wanted):
            yield Problem(item.path(), missing=missing)


def _has_healability(entry: EntryView) -> bool:
    return entry.written("plan.healability")


@rule(
    "PK08",
    "packing-a-non-healable-wound",
    severity="caution",
    scope="entry",
    group="packing",
    about=("packing", "dressing"),
)
def packing_a_non_healable_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    judged = entry if _has_healability(entry) else entry.in_episode(_has_healability)
    lost = judged is not None and "non-healable" in judged.tags("plan.healability")
    dry = "dry" in entry.tags("assessment.bed_moisture") or entry.none("assessment.exudate_amount")
    irrigated = any("irrigation" in item.tags("method") for item in entry.items("care.cleansing"))
    if lost and dry and (filled(entry) or irrigated):
        if filled(entry):
            yield Problem(entry.path("care.packing"), "packed", about=("packing",))
        else:
            yield Problem(entry.path("care.cleansing"), "irrigated", about=("dressing",))
