"""Full assessment: undermining and tunnels in detail, odour, signs of infection, warmth, photo."""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.form import filler
from woundfhir.checklist.rules.helpers import gaps, laid
from woundfhir.checklist.rules.signs import deep_infection, local_signs, sign_count, signs_of_its_own


@rule("FU01", "undermining-details", severity="required", scope="entry", group="full assessment")
def undermining_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("assessment.undermining"):
        if missing := gaps(item, "from", "to", "depth"):
            yield Problem(item.path(), missing=missing)


@rule("SE52", "undermining-without-extent", severity="sense", scope="entry", group="sense")
def undermining_without_extent(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("assessment.undermining"):
        start, end = item.number("from"), item.number("to")
        # Free words beside it say whether it goes all the way round.
        if start is not None and start == end and not item.note:
            yield Problem(item.path("to"))


@rule("FU02", "tunnel-details", severity="required", scope="entry", group="full assessment")
def tunnel_details(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("assessment.tunnels"):
        if missing := gaps(item, "clock", "depth"):
            yield Problem(item.path(), missing=missing)


@rule("FU03", "tunnel-end-not-felt", severity="caution", scope="entry", group="full assessment", about=("tunnel",))
def tunnel_end_not_felt(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    for item in entry.items("assessment.tunnels"):
        if item.flag("end_felt"):
            continue
        filled = _into(entry)
        if item.flag("end_felt") is False:
            yield Problem(item.path("end_felt"), "not_felt_and_filled" if filled else "not_felt")
        elif not item.written("end_felt"):
            yield Problem(item.path("end_felt"), "not_written_and_filled" if filled else "not_written")


def _into(entry: EntryView) -> bool:
    irrigated = any("irrigation" in item.tags("method") for item in entry.items("care.cleansing"))
    return irrigated or bool(entry.items("care.packing")) or bool(laid(entry, "paste"))


@rule("FU04", "odour-before-cleansing", severity="recommended", scope="entry", group="full assessment")
def odour_before_cleansing(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    concept, value = entry.find("assessment.odour")
    smells = entry.has("assessment.odour") and isinstance(value, str) and not filler(concept, value)
    if smells and entry.flag("assessment.odour_after_cleansing") is not True:
        yield Problem(entry.path("assessment.odour"))


@rule("FU05", "local-infection-signs", severity="caution", scope="entry", group="full assessment", about=("infection",))
def local_infection_signs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    found = local_signs(entry)
    limit = policy.number("infection.signs")
    if sign_count(entry, policy).local >= limit and not deep_infection(entry, policy):
        yield Problem(
            entry.path("assessment.infection_signs"),
            limit=limit,
            value=", ".join(sorted(found.values())),
            source=policy.source("infection.signs"),
        )


@rule("FU06", "deep-infection-signs", severity="caution", scope="entry", group="full assessment", about=("infection",))
def deep_infection_signs(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    found = deep_infection(entry, policy)
    if found:
        # What the whole client shows is answered once, under any wound.
        of_client = not signs_of_its_own(entry)
        yield Problem(
            entry.path("assessment.infection_signs"),
            value=", ".join(found),
            source=policy.source("infection.signs"),
            about=("sepsis",) if of_client else ("infection",),
        )


@rule(
    "FU07",
    "temperature-not-compared",
    severity="recommended",
    scope="entry",
    group="full assessment",
    when=("assessed", "sided"),
)
def temperature_not_compared(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    warm = "deep:T" in entry.tags("assessment.infection_signs") or entry.written("assessment.temperature_difference")
    signs = {word for word in entry.words("assessment.infection_signs") if word != "none"}
    doubt = len(signs) >= policy.number("infection.compare_signs")
    if not warm and (doubt or entry.holds("diabetic foot", "full assessment")):
        yield Problem(entry.path("assessment.temperature_difference"))
