"""Pressure injury: does the stage fit what is charted, and is pressure taken off? Section M of the MDS 3.0 manual.

The manual stages by the deepest tissue lost that can be seen or felt. Where stage and findings differ the rules ask;
they never stage.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from functools import cache

from woundfhir.chart.views import EntryView, VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import dead_tissue, seen_tissues, tissues

_STAGE = "assessment.pressure_injury_stage"
_OPEN_TISSUE = frozenset(("granulation", "slough", "necrotic", "eschar", "fat", "hypergranulation", "fibrin"))


def staged(entry: EntryView) -> int | None:
    """Return the stage 1 to 4 of this note, None for any other word and for words that name two of them."""
    stages = [int(tag[6:]) for tag in entry.tags(_STAGE) if tag.startswith("stage:")]
    return stages.pop() if len(stages) == 1 else None


@cache
def _staged_from(stage: int) -> Callable[[EntryView], bool]:
    """Return the test whether an entry has this stage or a higher one."""

    def test(entry: EntryView) -> bool:
        found = staged(entry)
        return found is not None and found >= stage

    return test


def _tissues(entry: EntryView) -> frozenset[str]:
    """The tissues whose share is not zero."""
    return frozenset(word for word, _ in seen_tissues(entry))


def _covered(entry: EntryView) -> bool:
    """Whether slough, necrosis and eschar cover the whole bed."""
    dead = dead_tissue(entry)
    return dead is not None and dead >= 100


def _deepest_exposed(entry: EntryView) -> bool:
    return "stage:4" in entry.tags("assessment.exposed")


@rule(
    "PI01", "stage-2-with-slough", severity="caution", scope="entry", group="pressure injury", when=("pressure injury",)
)
def stage_2_with_slough(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    dead = _tissues(entry) & {"slough", "eschar", "necrotic", "granulation", "hypergranulation"}
    if staged(entry) == 2 and dead and not _deepest_exposed(entry):
        yield Problem(entry.path(_STAGE), value=", ".join(sorted(dead)))


@rule(
    "PI02",
    "covered-bed-with-a-stage",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def covered_bed_with_a_stage(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if staged(entry) in (3, 4) and _covered(entry) and not _deepest_exposed(entry):
        yield Problem(entry.path(_STAGE))


@rule(
    "PI03",
    "deep-structure-below-stage-4",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def deep_structure_below_stage_4(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    stage = staged(entry)
    if _deepest_exposed(entry) and ((stage is not None and stage < 4) or "unstageable" in entry.tags(_STAGE)):
        yield Problem(entry.path(_STAGE))


@rule(
    "PI04",
    "unstageable-with-the-bed-in-view",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def unstageable_with_the_bed_in_view(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    found = _tissues(entry)
    hidden = found & {"slough", "eschar", "necrotic", "fibrin"}
    # A dressing or device that stays on hides the rest of the bed: the shares that are seen do not make up the whole.
    partly = 0 < sum(share for _, _, share in tissues(entry) if share is not None) < 100
    if "unstageable" in entry.tags(_STAGE) and found and not (hidden or partly) and not _deepest_exposed(entry):
        yield Problem(entry.path("assessment.tissue"))


@rule(
    "PI05",
    "closed-stage-with-open-wound",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def closed_stage_with_open_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    if staged(entry) != 1 and "deep tissue" not in entry.tags(_STAGE):
        return
    depth = entry.amount("assessment.depth", "cm")
    if (depth is not None and depth.above(Decimal(0))) or _tissues(entry) & _OPEN_TISSUE:
        yield Problem(entry.path(_STAGE))


@rule(
    "PI06",
    "mucosal-injury-staged",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def mucosal_injury_staged(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    mucosal = entry.flag("assessment.mucosal") or "mucosal" in entry.wound.tags("wound.site")
    if mucosal and entry.has(_STAGE) and "mucosal" not in entry.tags(_STAGE):
        yield Problem(entry.path(_STAGE))


@rule(
    "PI07",
    "present-on-admission-after-rise",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
    about=("worse",),
)
def present_on_admission_after_rise(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    stage = staged(entry)
    if stage is None or not entry.wound.flag("wound.present_on_admission"):
        return
    # Asked once, at the note in which it rose.
    if entry.comparable(staged) is not None and entry.comparable(_staged_from(stage)) is None:
        yield Problem(entry.path(_STAGE))


@rule(
    "PI08",
    "seating-and-turning-plan",
    severity="recommended",
    scope="visit",
    group="pressure injury",
    when=("pressure injury", "first assessment"),
)
def seating_and_turning_plan(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    missing = [key for key in ("turning_plan", "seating") if not visit.written(f"client.{key}")]
    if missing:
        yield Problem(visit.path("client.turning_plan"), missing=missing)


@rule("PI09", "at-risk-without-a-plan", severity="recommended", scope="visit", group="pressure injury")
def at_risk_without_a_plan(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    score = visit.amount("client.risk_score")
    if score is None or visit.word("client.risk_tool") != "Braden scale" or visit.holds("pressure injury"):
        return
    relief = any(visit.written(path) for path in ("client.support_surface", "client.turning_plan"))
    if score.at_most(policy.number("pressure_injury.risk_score")) and not relief:
        yield Problem(visit.path("client.support_surface"), source=policy.source("pressure_injury.risk_score"))
