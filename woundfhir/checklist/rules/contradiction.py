"""Contradictions within one note: answers to different questions that cannot both hold."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from woundfhir.chart.sides import names_other_side
from woundfhir.chart.views import EntryView, VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.bounds import above, planned_days, planned_interval, tolerance
from woundfhir.checklist.rules.signs import deep_signs, systemic_signs
from woundfhir.record import dates

#: Sites too small for a wound of a hand's length.
_SMALL = frozenset(
    (
        "finger",
        "toe",
        "great toe",
        "nose",
        "lip",
        "chin",
        "ear",
        "nail",
        "malleolus",
        "inner ankle bone",
        "outer ankle bone",
        "metatarsal head",
        "first metatarsal head",
        "second metatarsal head",
        "third metatarsal head",
        "fourth metatarsal head",
        "fifth metatarsal head",
        "around the eye",
        "umbilicus",
        "penis",
        "tongue",
        "gum",
    )
)
_SIDES = ("assessment.length", "assessment.width")
_SIZES = (*_SIDES, "assessment.depth", "assessment.area", "assessment.volume")
#: What is found by touch, with a probe, a ruler or an instrument.
_BY_HAND = (
    *_SIZES,
    "assessment.undermining",
    "assessment.tunnels",
    "assessment.pulses",
    "assessment.probe_to_bone",
    "assessment.temperature_difference",
    "assessment.sensation",
)
#: What takes a hand at the wound.
_CARE = (
    "care.removed",
    "care.cleansing",
    "care.debridement",
    "care.packing",
    "care.primary_dressing",
    "care.compression",
)
_BY_EYE = ("assessment.tissue", "assessment.edge", "assessment.exudate_amount", "assessment.periwound")
_REMOTE_SETTINGS = frozenset(("telephone", "video", "virtual"))
_REMOTE_PURPOSES = frozenset(("phone call", "advice", "video visit"))


@rule("SE40", "no-infection-beside-its-signs", severity="sense", scope="entry", group="sense")
def no_infection_beside_its_signs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if not entry.none("assessment.infection_signs"):
        return
    skin, words = entry.tags("assessment.periwound"), set(entry.words("assessment.periwound"))
    # A tumour smells, and so does what comes from the bowel, without an infection.
    of_itself = entry.holds("malignant wound") or "enteric" in entry.words("assessment.exudate_type")
    hard_or_red = "erythema" in skin or bool(words & {"indurated", "hardened tissue"})
    smells = "offensive" in entry.tags("assessment.odour")
    found = (
        ("pus", "pus" in entry.tags("assessment.exudate_type")),
        ("odour", smells and not of_itself and entry.flag("assessment.odour_after_cleansing") is not False),
        ("warm", "warm" in skin and hard_or_red),
        ("warmer", "deep:T" in deep_signs(entry, policy)),
    )
    what = [key for key, there in found if there]
    if what:
        yield Problem(entry.path("assessment.infection_signs"), what=what)


@rule("SE51", "improving-beside-spreading-infection", severity="sense", scope="entry", group="sense")
def improving_beside_spreading_infection(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if entry.word("assessment.healing_trend") == "improving" and systemic_signs(entry, policy):
        yield Problem(entry.path("assessment.healing_trend"))


@rule("SE41", "no-odour-beside-smell", severity="sense", scope="entry", group="sense")
def no_odour_beside_smell(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if entry.none("assessment.odour") and "smell" in entry.words("assessment.infection_signs"):
        yield Problem(entry.path("assessment.odour"))


@rule("SE42", "size-not-plausible", severity="sense", scope="entry", group="sense")
def size_not_plausible(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    small = entry.word("wound.site") in _SMALL
    thin = bool({"foot", "hand", "face"} & entry.wound.tags("wound.site"))
    side = "size.small_side" if small else "size.side"
    deep = "size.small_depth" if small else "size.thin_depth" if thin else "size.depth"
    for path in _SIDES:
        if above(entry, path, "cm", policy.number(side)):
            yield Problem(entry.path(path), "side", limit=policy.says(side), source=policy.source(side))
            return
    depth, length, width = (entry.measure(path, "cm") for path in ("assessment.depth", *_SIDES))
    if above(entry, "assessment.depth", "cm", policy.number(deep)):
        yield Problem(entry.path("assessment.depth"), "depth", limit=policy.says(deep), source=policy.source(deep))
    elif depth is not None and length is not None and width is not None:
        times, least = policy.number("size.depth_times"), policy.number("size.small_depth")
        # A narrow sinus may be deep; only what is deep by itself and many times its opening is asked about.
        if 0 < max(length, width) * times <= depth and depth > least:
            yield Problem(
                entry.path("assessment.depth"), "tenfold", times=times, source=policy.source("size.depth_times")
            )
    for path in ("assessment.undermining", "assessment.tunnels"):
        for item in entry.items(path):
            if above(item, "depth", "cm", policy.number("size.depth")):
                limit = policy.says("size.depth")
                yield Problem(item.path("depth"), "depth", limit=limit, source=policy.source("size.depth"))


@rule("SE43", "interval-and-next-change-differ", severity="sense", scope="entry", group="sense")
def interval_and_next_change_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    plan, days = planned_interval(entry), planned_days(entry)
    # A plan that lies behind its own visit is SE15's.
    if plan is None or days is None or days < 0 or entry.has("plan.change_reason"):
        return
    slack = tolerance(plan, policy)
    due = dates.day(entry.answer("plan.next_change"))
    if plan.weekdays and due is not None:
        if due.weekday() not in plan.weekdays:
            yield Problem(entry.path("plan.next_change"), "weekday")
    elif days < int(plan.least) - slack or days > max(Decimal(1), plan.most) + slack:
        yield Problem(entry.path("plan.next_change"), "days")


@rule("SE56", "side-and-words-differ", severity="sense", scope="entry", group="sense")
def side_and_words_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    side = entry.wound.word("wound.side")
    if entry.nth == 0:
        for key in ("kind", "site", "place"):
            text = entry.wound.answer(f"wound.{key}")
            if isinstance(text, str) and names_other_side(side, text):
                yield Problem(entry.wound.path(key), "wound")
                return
    if {one.word("wound.side") for one in entry.record.wounds if one is not entry.wound} - {side, None}:
        return  # a note may well speak of the wound on the other side
    own = [(entry.wound.data, entry.wound.path("note"))] if entry.nth == 0 else []
    for data, place in (*own, (entry.data, f"{entry.path()}.note")):
        note = data.get("note")
        if isinstance(note, str) and names_other_side(side, note, of_wound=True):
            yield Problem(place, "note")


@rule("SE44", "flap-lost-and-edges-together", severity="sense", scope="entry", group="sense", when=("skin tear",))
def flap_lost_and_edges_together(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if entry.word("assessment.skin_tear_type") == "type 3" and "approximated" in entry.words("assessment.edge"):
        yield Problem(entry.path("assessment.skin_tear_type"))


@rule("SE45", "measured-from-afar", severity="sense", scope="entry", group="sense")
def measured_from_afar(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    unseen = _remote(entry)
    if unseen is None:
        return
    touched = [path for path in _BY_HAND if entry.has(path)]
    done = [path for path in _CARE if entry.items(path)]
    seen = [path for path in _BY_EYE if entry.has(path)]
    if touched and not entry.has("assessment.remote.measured"):
        yield Problem(entry.path(touched[0]), "measured")
    elif seen and unseen and not entry.has("assessment.remote.looked"):
        yield Problem(entry.path(seen[0]), "looked")
    if done and unseen and not entry.has("assessment.remote.looked"):
        yield Problem(entry.path(done[0]), "done")


def _remote(entry: EntryView) -> bool | None:
    """Whether nobody saw the wound (by telephone); False where it was seen from afar, None for a visit in person."""
    way = entry.tags("assessment.remote.way")
    setting, purposes = entry.word("visit.setting"), entry.visit.purposes
    afar = setting in _REMOTE_SETTINGS or (setting is None and bool(purposes) and purposes <= _REMOTE_PURPOSES)
    if not afar and not entry.has("assessment.remote.way"):
        return None
    by_sight = entry.word("assessment.remote.way") in ("video", "picture sent") or setting == "video"
    return "not seen" in way or not (by_sight or setting == "virtual" or "video visit" in purposes)


@rule("SE46", "closed-with-a-size", severity="sense", scope="entry", group="sense")
def closed_with_a_size(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if entry.word("assessment.healing_trend") != "resolved":
        return
    for path in (*_SIDES, "assessment.depth", "assessment.area"):
        size = entry.number(path)
        if size is not None and size > 0:
            yield Problem(entry.path(path))
            return


@rule("SE47", "deep-structure-in-a-shallow-wound", severity="sense", scope="entry", group="sense")
def deep_structure_in_a_shallow_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    shallow = "superficial" in (entry.word("assessment.depth_words"), entry.word("assessment.burn_depth"))
    deep = "hazard:exposed" in entry.tags("assessment.exposed")
    if deep and (shallow or entry.number("assessment.depth") == 0):
        yield Problem(entry.path("assessment.exposed"))


@rule("SE49", "consent-of-somebody-not-capable", severity="sense", scope="visit", group="sense")
def consent_of_somebody_not_capable(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    for item in visit.items("client.consent_by"):
        if item.flag("capable") is False and item.word("who") == "client":
            yield Problem(item.path("capable"))
