"""Safety: one answer that names a hazard asks what was done about it. The tags of the answer lists say which do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart.conditions import all_hold
from woundfhir.chart.leaves import Leaf
from woundfhir.chart.views import EntryView, VisitView
from woundfhir.chart.words import entry_of, flag_of, held
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, registered, rule
from woundfhir.checklist.rules.helpers import opened
from woundfhir.record.shapes import shape_of

_TAG = "hazard:"
#: Hazards that stay as they are for weeks: asked until somebody has answered once since the wound opened.
LASTING = frozenset(("bone", "exposed", "cancer", "circulation"))


@rule("SF01", "hazard-named", severity="caution", scope="entry", group="safety")
def hazard_named(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    named = {key: path for leaf in entry.leaves() if _may_name(leaf.concept) for key, path in _named(leaf)}
    for key, path in sorted(named.items(), key=lambda one: catalogue().hazards[one[0]].rank):
        hazard = catalogue().hazards[key]
        if _asked_elsewhere(entry, policy, hazard.rules) or _settled(entry, key):
            continue
        since = opened(entry) if key in LASTING else entry.visit
        yield Problem(path, about=(key,), since=since, source=hazard.source, hazard=hazard.title, ask=hazard.ask)


@rule("SF02", "client-may-be-ill", severity="caution", scope="visit", group="safety")
def client_may_be_ill(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    # Where a wound was looked at, FU06 asks with it.
    if not visit.entries and "systemic" in visit.tags("client.systemic_signs"):
        yield Problem(visit.path("client.systemic_signs"))


@lru_cache(maxsize=65536)
def _may_name(concept: Concept) -> bool:
    """Whether any word of its answers names a hazard; most answers of a note are numbers and words that cannot."""
    lists = (one.answers for one in (concept, *concept.fields.values()))
    words = (word for answers in lists if answers is not None for word in answers.words)
    return bool(concept.page.hazards) or any(tag.startswith(_TAG) for word in words for tag in word.tags)


def _named(leaf: Leaf) -> Iterator[tuple[str, str]]:
    """Yield (hazard, place) for each word of an answer that names one."""
    if leaf.value is None or isinstance(leaf.value, dict):
        return
    for concept, word in shape_of(leaf.concept).named(leaf.concept, leaf.value):
        for key in _hazards(concept, word):
            yield key, leaf.path
    if isinstance(leaf.value, str) and leaf.concept.page.hazards:
        answer = {True: "yes", False: "no", None: leaf.value}[flag_of(leaf.concept, leaf.value)]
        if answer in leaf.concept.page.hazards:
            yield leaf.concept.page.hazards[answer], leaf.path


@lru_cache(maxsize=65536)
def _hazards(concept: Concept, word: str) -> tuple[str, ...]:
    """The hazards that a word names."""
    known = entry_of(concept, word)
    # Words that no list knows may hold one that names a hazard: "femoral artery", "screamed, stopped early".
    entries = held(concept, word) if known is None else (known,)
    # A refusal has questions of its own (RF01).
    tags = (tag for one in entries if "refused" not in one.tags for tag in sorted(one.tags))
    return tuple(tag.removeprefix(_TAG) for tag in tags if tag.startswith(_TAG))


def _asked_elsewhere(entry: EntryView, policy: Policy, codes: tuple[str, ...]) -> bool:
    """Whether another rule asks the same of this note."""
    known: Mapping[str, object] = registered()
    rules = [registered()[code] for code in codes if code in known]
    return any(
        next(iter(one.body(entry, policy)), None) is not None
        for one in rules
        if one.scope == "entry" and one.code != "SF01" and all_hold(entry, one.when)
    )


def _settled(entry: EntryView, key: str) -> bool:
    """Whether the note itself says how it ended."""
    if key == "bleeding" and entry.flag("care.response.bleeding_stopped"):
        return "heavy" not in entry.tags("assessment.bleeding")
    return False
