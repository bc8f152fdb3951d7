"""Burns that a burn service should hear of: by size and age, cause and place, time. BU01 looks at depth and site."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from decimal import Decimal

from woundfhir.catalogue.denial import undenied
from woundfhir.chart.views import EntryView
from woundfhir.checklist.free_words import note_about
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.bounds import above, age_below
from woundfhir.checklist.rules.helpers import area, first_with, opened
from woundfhir.checklist.rules.tear_burn import burn_for_a_burn_service
from woundfhir.measures.timing import days_between
from woundfhir.record.units import MeasureError

#: Words of the wound's cause and place, as nurses write them.
_IN_WORDS = {
    "chemical": (
        r"chemical|\bacid\b|alkali|\blye\b|bleach|caustic|cement|ammonia|oven cleaner|drain cleaner"
        r"|chimique|\bacide\b|alcalin|soude|javel|caustique|ciment|ammoniaque"
    ),
    "electrical": r"electric|lightning|high voltage|\boutlet\b|power line|électri|electri|foudre|haute tension",
    "inhalation": r"inhal|smoke|house fire|closed space|soot|fumée|incendie|espace clos|suie",
    "circumferential": r"circumferential|all (?:a)?round the|right round|circonférentiel|tout le tour|tout autour",
    "joint": (
        r"\bjoints?\b|over the (?:knee|elbow|wrist|ankle|shoulder)"
        r"|articulation|sur (?:le (?:genou|coude|poignet)|la cheville|l.épaule)"
    ),
    "friction": r"friction|frost|\bcold injury|gelure|engelure",
}


@rule(
    "BU10",
    "burn-size-and-age",
    severity="caution",
    scope="entry",
    group="burn",
    when=("burn", "open wound"),
    about=("burn",),
)
def burn_size_and_age(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    # More than the whole body is a slip of the pen (SE18).
    if _asked(entry, policy) or above(entry, "assessment.burn_surface", "%", Decimal(100)):
        return
    child = age_below(entry, int(policy.number("burn.child_years")))
    key = "burn.child_percent" if child else "burn.adult_percent"
    limit = policy.number(key)
    share = entry.amount("assessment.burn_surface", "%")
    if share is not None and share.at_least(limit):
        yield Problem(
            entry.path("assessment.burn_surface"),
            "size",
            since=opened(entry),
            from_onset=True,
            limit=policy.says(key),
            source=policy.source(key),
        )
    elif child:
        yield Problem(
            entry.path("assessment.burn_surface"),
            "child",
            since=opened(entry),
            from_onset=True,
            source=policy.source("burn.child_years"),
        )


@rule("SE53", "burnt-surface-and-size-differ", severity="sense", scope="entry", group="sense", when=("burn",))
def burnt_surface_and_size_differ(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    percent, size = entry.measure("assessment.burn_surface", "%"), area(entry)
    others = (one for one in entry.record.wounds if one is not entry.wound and not one.in_error)
    alone = not any("burn" in one.tags("wound.kind") for one in others)
    # The percentage is of all burns; with several, or with words about others, one of them may be small.
    if percent is None or not size or not 0 < percent <= 100 or note_about(entry, "burns"):
        return
    child = age_below(entry, int(policy.number("burn.child_years")))
    least = policy.number("burn.percent_least" if child else "burn.percent_least_grown")
    most, times = policy.number("burn.percent_most"), policy.number("burn.surface_times")
    # A small burn heals, and its percentage stays what it was.
    small = alone and percent > policy.number("burn.percent_asked") and size * times < percent * least
    if small or size > percent * most * times:
        yield Problem(entry.path("assessment.burn_surface"), source=policy.source("burn.surface_times"))


def _asked(entry: EntryView, policy: Policy) -> bool:
    """Whether BU01 asks for the burn service already, by depth or site."""
    return next(burn_for_a_burn_service(entry, policy), None) is not None


@rule(
    "BU11",
    "burn-cause-and-place",
    severity="caution",
    scope="entry",
    group="burn",
    when=("burn", "open wound"),
    about=("burn",),
)
def burn_cause_and_place(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if _asked(entry, policy):
        return
    kind = entry.wound.word("wound.kind") or ""
    written = [str(entry.answer(path) or "") for path in ("wound.cause", "wound.place")]
    text = " | ".join(undenied(one) for one in (kind, *written))
    what = [key for key, words in _IN_WORDS.items() if re.search(words, text)]
    if what:
        yield Problem(entry.path("assessment"), since=opened(entry), from_onset=True, what=what)


@rule(
    "BU12",
    "burn-not-healed-in-time",
    severity="caution",
    scope="entry",
    group="burn",
    when=("burn", "open wound"),
    about=("burn",),
)
def burn_not_healed_in_time(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    weeks = policy.number("burn.weeks")
    longer = _open_longer(weeks * 7)
    if longer(entry):
        # An answer from before that day was about something else.
        since = first_with(entry, longer)
        yield Problem(entry.path("assessment"), since=since, weeks=weeks, source=policy.source("burn.weeks"))


def _open_longer(days: Decimal) -> Callable[[EntryView], bool]:
    """Return the test whether the burn is certainly more than so many days old at an entry."""

    def test(entry: EntryView) -> bool:
        onset = entry.answer("wound.onset")
        try:
            return isinstance(onset, str) and entry.at is not None and days_between(onset, entry.at).least > days
        except MeasureError:
            return False

    return test
