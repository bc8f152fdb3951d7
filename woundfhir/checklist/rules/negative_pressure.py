"""Negative pressure: what is set, foam counted in and out like packing, and wounds on which it is asked about."""

from __future__ import annotations

import re
from collections.abc import Iterator

from woundfhir.catalogue.illness import mentions, names
from woundfhir.chart.asking import Item
from woundfhir.chart.views import EntryView, VisitView
from woundfhir.chart.words import held
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import (
    first_with,
    gaps,
    has_illness,
    in_words,
    packed_in,
    seen_tissues,
    since,
    taken_out,
)

_PATH = "care.negative_pressure"
_THINNER, _MEDICINES = "blood thinner", "client.medicines"
#: Negative pressure in the words of an order; one for a mattress that takes pressure off is another.
_SUCTION = re.compile(r"negative[ -]pressure|\bnpwt\b|pression négative|\btpn\b", re.IGNORECASE)
_EXPOSED = {"blood vessel": "vessel", "organ": "organ", "bowel": "organ", "nerve": "nerve"}


def therapy(entry: EntryView) -> Item | None:
    """Return the negative pressure that was put on at this visit, or None."""
    items = entry.items(_PATH)
    return next((one for one in items if any(one.has(key) for key in ("pressure", "mode", "filler", "foam_in"))), None)


def _changed(entry: EntryView) -> bool:
    return bool(entry.items(_PATH))


def _in(entry: EntryView) -> int | None:
    """Pieces of foam or gauze put in, under whichever of the two they are counted."""
    item = therapy(entry)
    count = None if item is None else item.number("foam_in")
    return packed_in(entry) if count is None else int(count)


def _out(entry: EntryView) -> int | None:
    for item in entry.items(_PATH):
        if (count := item.number("foam_out")) is not None:
            return int(count)
    if (found := taken_out(entry)) is not None:
        return found
    counts = [count for item in entry.items("care.removed") if (count := item.number("pieces")) is not None]
    return int(sum(counts)) if counts else None


def _last(entry: EntryView) -> EntryView | None:
    """The change before, where negative pressure was put on at it."""
    last = entry.in_episode(_changed)
    return last if last is not None and therapy(last) is not None else None


def _names_contact(entry: EntryView) -> bool:
    return any(item.written("alarm_contact") for item in entry.items(_PATH))


@rule("NP01", "negative-pressure-details", severity="required", scope="entry", group="negative pressure")
def negative_pressure_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = therapy(entry)
    if on is None:
        return
    missing = gaps(on, "pressure", "mode", "seal")
    if not on.written("foam_in") and packed_in(entry) is None:
        missing.append("foam_in")
    if entry.in_episode(_names_contact) is None:
        missing += gaps(on, "alarm_contact")
    if missing:
        yield Problem(on.path(), missing=missing)


@rule("NP02", "foam-count-differs", severity="caution", scope="entry", group="negative pressure", about=("packing",))
def foam_count_differs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    last = _last(entry)
    if last is None:
        return
    put, out = _in(last), _out(entry)
    place = entry.path(_PATH) if entry.items(_PATH) else entry.path("care.removed")
    # Where the pieces are counted under packing alone, PK02 and PK03 ask.
    if packed_in(last) is not None:
        return
    if put is not None and out is not None and put != out:
        yield Problem(place, "fewer" if out < put else "more")
    elif out is None and entry.holds("dressing change") and not entry.flag("care.removed.all_out"):
        yield Problem(place, "not_counted")


@rule("NP03", "negative-pressure-at-risk", severity="caution", scope="entry", group="negative pressure")
def negative_pressure_at_risk(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = therapy(entry)
    if on is None:
        return
    # An order answers for what its prescriber could know: the risks of the note that holds it, and of those before.
    known = [set(_risks(one)) for one in since(entry) if _ordered(one)]
    risks = {key: matter for key, matter in _risks(entry).items() if not any(key in there for there in known)}
    if risks:
        about = tuple(sorted({matter for matter in risks.values() if matter}))
        yield Problem(on.path(), about=about, since=first_with(entry, _changed), what=list(risks))


def _ordered(entry: EntryView) -> bool:
    """Whether somebody named ordered negative pressure, by the note."""
    return any(
        item.has("prescriber") and _SUCTION.search(in_words(item, "what")) is not None
        for item in entry.items("plan.order")
    )


def _risks(entry: EntryView) -> dict[str, str]:
    """What stands against negative pressure: key of its words -> the matter that an action about it names."""
    concept = entry.find("assessment.exposed")[0]
    bare = [
        one.word
        for text, known in entry.named("assessment.exposed")
        # "loop of bowel" is in no list, and holds a word that is.
        for one in ((known,) if known is not None else held(concept, text))
    ]
    found = {_EXPOSED[word]: "exposed" for word in bare if word in _EXPOSED}
    bleeding = entry.tags("assessment.bleeding")
    growth = entry.holds("malignant wound") or "suspected skin cancer" in entry.words("assessment.red_flags")
    dead = any("necrotic" in tags for _, tags in seen_tissues(entry))
    fistula = entry.wound.word("wound.kind") == "fistula" or has_illness(entry, "fistula")
    bone = entry.flag("assessment.probe_to_bone") or has_illness(entry, "bone infection")
    risks = (
        ("growth", "cancer", growth),
        ("eschar", "dressing", dead),
        ("bone", "bone", bone),
        ("fistula", "dressing", fistula),
        ("bleeding", "bleeding", bleeding & {"active", "friable"}),
        ("thinner", "bleeding", on_blood_thinner(entry)),
    )
    return found | {key: matter for key, matter, there in risks if there}


def on_blood_thinner(entry: EntryView) -> bool:
    """Whether a blood thinner is taken, by the newest note that says: its answer or its list of medicines."""
    visit = entry.visit.newest(_says)
    if visit is None:
        return False
    return names(_THINNER, in_words(visit, _MEDICINES)) or visit.flag("client.anticoagulant") is True


def _says(visit: VisitView) -> bool:
    return mentions(_THINNER, in_words(visit, _MEDICINES)) or visit.flag("client.anticoagulant") is not None


@rule(
    "NP04",
    "negative-pressure-not-holding",
    severity="caution",
    scope="entry",
    group="negative pressure",
    about=("dressing",),
)
def negative_pressure_not_holding(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    on = therapy(entry)
    if on is None:
        return
    if on.flag("seal") is False:
        yield Problem(on.path("seal"), "seal")
    pressure = on.measure("pressure", "mm[Hg]")
    low, high = policy.number("negative_pressure.low"), policy.number("negative_pressure.high")
    # A pressure may be written with or without its minus.
    if pressure is not None and not low <= abs(pressure) <= high:
        yield Problem(
            on.path("pressure"), "pressure", low=low, high=high, source=policy.source("negative_pressure.high")
        )
