"""Pressure injury: does the stage fit what is charted, and is pressure taken off? Section M of the MDS 3.0 manual.

The manual stages by the deepest tissue lost that can be seen or felt. Where stage and findings differ the rules ask;
they never stage.
"""

from __future__ import annotations

from collections.abc import Iterator

from woundfhir.chart.views import EntryView, VisitView
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem, rule
from woundfhir.checklist.rules.helpers import ask, listed, tissues

_STAGE = "assessment.pressure_injury_stage"
_OPEN_TISSUE = frozenset(("granulation", "slough", "necrotic", "eschar", "fat", "hypergranulation", "fibrin"))


def staged(entry: EntryView) -> int | None:
    """Return the stage 1 to 4 of this note, None for any other word."""
    return next((int(tag[6:]) for tag in entry.tags(_STAGE) if tag.startswith("stage:")), None)


def _tissues(entry: EntryView) -> frozenset[str]:
    """The tissues whose share is not nought."""
    return frozenset(word for word, _, share in tissues(entry) if share is None or share > 0)


def _covered(entry: EntryView) -> bool:
    """Whether slough, necrosis and eschar cover the whole bed."""
    return sum(share or 0 for _, tags, share in tissues(entry) if "devitalised" in tags) >= 100


def _deepest_exposed(entry: EntryView) -> bool:
    return "stage:4" in entry.tags("assessment.exposed")


@rule(
    "PI01", "stage-2-with-slough", severity="caution", scope="entry", group="pressure injury", when=("pressure injury",)
)
def stage_2_with_slough(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Stage 2 is charted beside slough, eschar or granulation.

    Why: Stage 2 is a shallow loss of part of the skin, pink or red, without slough. Dead tissue tells of more depth.
    Wrong: pressure_injury_stage: stage 2, tissue: {granulation: 70 %, slough: 30 %}
    Right: pressure_injury_stage: stage 3, tissue: {granulation: 70 %, slough: 30 %}
    Fix: Look at the deepest tissue again and write stage and tissue that fit. Local policy and the licensed
        practitioner decide.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M; granulation: Edsberg LE et al., NPUAP staging system 2016, J
        Wound Ostomy Continence Nurs 43:585, from memory (seen)
    """
    dead = _tissues(entry) & {"slough", "eschar", "necrotic", "granulation", "hypergranulation"}
    if staged(entry) == 2 and dead and not _deepest_exposed(entry):
        yield ask(
            entry.path(_STAGE),
            "Stage 2 beside slough, eschar or granulation: how deep is the loss?",
            "Look again and write stage and tissue that fit together.",
            listed(sorted(dead)),
        )


@rule(
    "PI02",
    "covered-bed-with-a-stage",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def covered_bed_with_a_stage(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """A numbered stage is charted although slough or eschar covers the whole bed.

    Why: A depth that cannot be seen cannot be staged; such an injury is called unstageable until the bed shows.
    Wrong: pressure_injury_stage: stage 3, tissue: {eschar: 100 %}
    Right: pressure_injury_stage: unstageable, tissue: {eschar: 100 %}
    Fix: Write unstageable, or the tissue that was seen beside it. Local policy and the licensed practitioner decide.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M, unstageable by slough or eschar (seen, secondary source)
    """
    if staged(entry) in (3, 4) and _covered(entry) and not _deepest_exposed(entry):
        yield ask(
            entry.path(_STAGE),
            "The whole bed is covered by dead tissue: how was the depth seen?",
            "Write unstageable, or the tissue that was seen beside it.",
        )


@rule(
    "PI03",
    "deep-structure-below-stage-4",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def deep_structure_below_stage_4(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Bone, tendon or muscle is exposed, and the stage is below 4.

    Why: The stage goes by the deepest tissue lost; with these in view it is stage 4.
    Wrong: exposed: [bone], pressure_injury_stage: stage 3
    Right: exposed: [bone], pressure_injury_stage: stage 4
    Fix: Look again and write stage and exposed structure that fit. Local policy and the licensed practitioner decide.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M: stage 4 with exposed bone, tendon or muscle (seen, secondary
        source)
    """
    stage = staged(entry)
    if _deepest_exposed(entry) and ((stage is not None and stage < 4) or "unstageable" in entry.tags(_STAGE)):
        yield ask(
            entry.path(_STAGE),
            "Bone, tendon or muscle exposed, and not charted as stage 4: which one is right?",
            "Look again and write stage and exposed structure that fit together.",
        )


@rule(
    "PI04",
    "unstageable-with-the-bed-in-view",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def unstageable_with_the_bed_in_view(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Unstageable is charted, but no slough or eschar.

    Why: Unstageable says that dead tissue hides the depth; once the bed shows, the injury is staged.
    Wrong: pressure_injury_stage: unstageable, tissue: {granulation: 100 %}
    Right: pressure_injury_stage: stage 3, tissue: {granulation: 100 %}
    Fix: Stage by the deepest tissue in view, or write what hides it. Local policy and the licensed practitioner decide.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M, unstageable by slough or eschar (seen, secondary source)
    """
    tissues = _tissues(entry)
    hidden = tissues & {"slough", "eschar", "necrotic", "fibrin"}
    if "unstageable" in entry.tags(_STAGE) and tissues and not hidden and not _deepest_exposed(entry):
        yield ask(
            entry.path(_STAGE),
            "Unstageable, but no slough or eschar in the bed: can it be staged now?",
            "Write the stage by the deepest tissue in view, or what hides it.",
        )


@rule(
    "PI05",
    "closed-stage-with-open-wound",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def closed_stage_with_open_wound(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """Stage 1 or deep tissue injury is charted beside a depth or an open bed.

    Why: Both are injuries under whole skin. One that has opened is staged anew by what can be seen.
    Wrong: pressure_injury_stage: deep tissue, depth: 0.5 cm
    Right: pressure_injury_stage: stage 3, depth: 0.5 cm
    Fix: Write the stage that fits the open wound, or correct depth and tissue. Local policy and the licensed
        practitioner decide.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M; Edsberg LE et al., NPUAP staging system 2016 (seen)
    """
    if staged(entry) != 1 and "deep tissue" not in entry.tags(_STAGE):
        return
    depth = entry.measure("assessment.depth", "cm")
    if (depth is not None and depth > 0) or _tissues(entry) & _OPEN_TISSUE:
        yield ask(
            entry.path(_STAGE),
            "A stage of whole skin beside an open bed: has the injury opened?",
            "Write the stage that fits the open wound, or correct depth and tissue.",
        )


@rule(
    "PI06",
    "mucosal-injury-staged",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def mucosal_injury_staged(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """An injury of a mucous membrane carries a stage.

    Why: The stages go by the layers of skin; a mucous membrane has others, and its injuries are not staged.
    Wrong: mucosal: yes, pressure_injury_stage: stage 2
    Right: mucosal: yes, pressure_injury_stage: mucosal, not staged
    Fix: Write pressure_injury_stage: mucosal, not staged. Local policy and the licensed practitioner decide.
    Source: Edsberg LE et al., NPUAP staging system 2016, J Wound Ostomy Continence Nurs 43:585; BC provincial guideline
        on pressure injury 2018 (seen)
    """
    mucosal = entry.flag("assessment.mucosal") or "mucosal" in entry.wound.tags("wound.site")
    if mucosal and entry.has(_STAGE) and "mucosal" not in entry.tags(_STAGE):
        yield ask(
            entry.path(_STAGE),
            "An injury of a mucous membrane with a stage: is it skin or mucosa?",
            "Write mucosal, not staged; or mucosal: no.",
        )


@rule(
    "PI07",
    "present-on-admission-after-rise",
    severity="caution",
    scope="entry",
    group="pressure injury",
    when=("pressure injury",),
)
def present_on_admission_after_rise(entry: EntryView, policy: Policy) -> Iterator[Problem]:
    """The injury is called present on admission, and its stage has risen since the first note.

    Why: An injury that came in at one stage and rose here counts, at the higher stage, as not present on admission.
    Wrong: present_on_admission: yes, first note stage 2, this note stage 3
    Right: present_on_admission: no; or the rise happened in hospital before this admission, and the note says so
    Fix: Check where it rose, and write present_on_admission and a reassessment that say so. Local policy and the
        licensed practitioner decide.
    Source: CMS, MDS 3.0 RAI Manual v1.20.1, section M0300, present on admission (seen, secondary source)
    """
    stage = staged(entry)
    if stage is None or entry.wound.flag("wound.present_on_admission") is not True:
        return
    last = entry.latest(staged)
    if last is None or stage <= (staged(last) or 0):
        return
    before = [found for one in entry.backwards() if (found := staged(one)) is not None]
    # Asked once, at the note in which it rose.
    if stage > max(before) and not entry.has("plan.reassessment"):
        yield ask(
            entry.path(_STAGE),
            "The stage has risen since admission: where did it rise?",
            "Write a reassessment that says where and why, and correct present_on_admission where needed.",
        )


@rule(
    "PI08",
    "seating-and-turning-plan",
    severity="recommended",
    scope="visit",
    group="pressure injury",
    when=("pressure injury", "first assessment"),
)
def seating_and_turning_plan(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A pressure injury, and nothing written about turning or sitting.

    Why: A mattress alone does not take pressure off; how often the client turns and sits does.
    Wrong: support_surface: mattress, and no more
    Right: turning_plan: every two hours by day, seating: cushion, two hours at a time
    Fix: Write turning_plan and seating; for a client who turns alone, write that.
    Source: RNAO, Assessment and Management of Stage I to IV Pressure Ulcers, recommendation 4.1 (seating, transfer),
        2007 and 2011 (seen)
    """
    words = {"client.turning_plan": "turning plan", "client.seating": "seating"}
    missing = [label for path, label in words.items() if not visit.written(path)]
    if missing:
        yield Problem(visit.path("client.turning_plan"), f"Pressure injury: {listed(missing)} not written")


@rule("PI09", "at-risk-without-a-plan", severity="recommended", scope="visit", group="pressure injury")
def at_risk_without_a_plan(visit: VisitView, policy: Policy) -> Iterator[Problem]:
    """A risk score that tells of risk, and nothing written about taking pressure off.

    Why: A score is taken to act on it.
    Wrong: risk_tool: Braden scale, risk_score: 12, and no more
    Right: the same, with support_surface and turning_plan
    Fix: Write support_surface or turning_plan.
    Source: RNAO, Assessment and Management of Pressure Injuries, 3rd edition, 2016, recommendation 1.2 (seen)
    """
    score = visit.number("client.risk_score")
    if score is None or visit.word("client.risk_tool") != "Braden scale" or visit.holds("pressure injury"):
        return
    said = any(visit.written(path) for path in ("client.support_surface", "client.turning_plan"))
    if score <= policy.number("pressure_injury.risk_score") and not said:
        yield Problem(
            visit.path("client.support_surface"),
            "Risk of pressure injury: what takes the pressure off is not written",
            source=policy.source("pressure_injury.risk_score"),
        )
