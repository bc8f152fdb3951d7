"""Invariants of the clinical resources that a wound record uses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.r4.structure.invariants.registry import codings, has, has_choice, holds, invariant, many, one
from woundfhir.r4.structure.walk import Node

Json = Any
Breaks = Iterator[tuple[str, str]]

_CONDITION = "http://terminology.hl7.org/CodeSystem/condition-clinical"
_CONDITION_ERROR = ("http://terminology.hl7.org/CodeSystem/condition-ver-status", "entered-in-error")
_ALLERGY_ERROR = ("http://terminology.hl7.org/CodeSystem/allergyintolerance-verification", "entered-in-error")
_VERIFIED = "verificationStatus.coding.where(system='http://terminology.hl7.org/CodeSystem/condition-ver-status' and "
_ALLERGY = (
    "verificationStatus.coding.where(system = 'http://terminology.hl7.org/CodeSystem/allergyintolerance-verification' "
    "and code = 'entered-in-error')"
)


def _in_error(value: Mapping[str, Json], code: tuple[str, str]) -> bool:
    return code in codings(one(value, "verificationStatus"))


# -- Observation -----------------------------------------------------------------------------------


@holds(
    "obs-3",
    "Observation.referenceRange",
    expression="low.exists() or high.exists() or text.exists()",
    text="a low, a high or a text",
    found="none of them",
)
def obs_3(value: Mapping[str, Json]) -> bool:
    """A reference range says something."""
    return has(value, "low") or has(value, "high") or has(value, "text")


@holds(
    "obs-6",
    "Observation",
    expression="dataAbsentReason.empty() or value.empty()",
    text="either a value or the reason for having none",
    found="both",
)
def obs_6(value: Mapping[str, Json]) -> bool:
    """A value that is there is not absent."""
    return not (has(value, "dataAbsentReason") and has_choice(value, "value"))


@invariant(
    "obs-7",
    "Observation",
    expression="value.empty() or component.code.where(coding.intersect(%resource.code.coding).exists()).empty()",
    text="no value where a component has the same code as the observation",
)
def obs_7(node: Node) -> Breaks:
    """One code has one value. Codings are compared by system and code."""
    if not has_choice(node.value, "value"):
        return
    own = {coding for coding in codings(one(node.value, "code")) if coding[1] is not None}
    for number, component in enumerate(many(node.value, "component")):
        if own & codings(one(component, "code")):
            yield f".component[{number}].code", "the code of the observation, which has a value"


# -- Condition -------------------------------------------------------------------------------------


@holds(
    "con-1",
    "Condition.stage",
    expression="summary.exists() or assessment.exists()",
    text="a summary or an assessment",
    found="neither",
)
def con_1(value: Mapping[str, Json]) -> bool:
    """A stage says something."""
    return has(value, "summary") or has(value, "assessment")


@holds(
    "con-2",
    "Condition.evidence",
    expression="code.exists() or detail.exists()",
    text="a code or a detail",
    found="neither",
)
def con_2(value: Mapping[str, Json]) -> bool:
    """Evidence says something."""
    return has(value, "code") or has(value, "detail")


@invariant(
    "con-3",
    "Condition",
    expression=(
        f"clinicalStatus.exists() or {_VERIFIED}code = 'entered-in-error').exists() or "
        "category.select($this='problem-list-item').empty()"
    ),
    text="a clinical status on what stands in a problem list and is not entered in error",
    severity="warning",
)
def con_3(node: Node) -> Breaks:
    """As R4's words have it: its expression compares a concept with a text, and so asks it of every category."""
    listed = any(code == "problem-list-item" for item in many(node.value, "category") for _, code in codings(item))
    if listed and not has(node.value, "clinicalStatus") and not _in_error(node.value, _CONDITION_ERROR):
        yield ".clinicalStatus", "none"


@invariant(
    "con-4",
    "Condition",
    expression=(
        "abatement.empty() or clinicalStatus.coding.where(system="
        "'http://terminology.hl7.org/CodeSystem/condition-clinical' and "
        "(code='resolved' or code='remission' or code='inactive')).exists()"
    ),
    text="inactive, resolved or remission once a condition has ended",
)
def con_4(node: Node) -> Breaks:
    """What has ended is not active."""
    ended = {(_CONDITION, code) for code in ("resolved", "remission", "inactive")}
    if has_choice(node.value, "abatement") and not ended & codings(one(node.value, "clinicalStatus")):
        yield ".clinicalStatus", "another status" if has(node.value, "clinicalStatus") else "none"


@invariant(
    "con-5",
    "Condition",
    expression=f"{_VERIFIED}code='entered-in-error').empty() or clinicalStatus.empty()",
    text="no clinical status on what was entered in error",
)
def con_5(node: Node) -> Breaks:
    """What never was has no course."""
    if _in_error(node.value, _CONDITION_ERROR) and has(node.value, "clinicalStatus"):
        yield ".clinicalStatus", "a status"


# -- AllergyIntolerance ----------------------------------------------------------------------------


@invariant(
    "ait-1",
    "AllergyIntolerance",
    expression=f"{_ALLERGY}.exists() or clinicalStatus.exists()",
    text="a clinical status on what is not entered in error",
)
def ait_1(node: Node) -> Breaks:
    """A reader must know whether an allergy still holds."""
    if not _in_error(node.value, _ALLERGY_ERROR) and not has(node.value, "clinicalStatus"):
        yield ".clinicalStatus", "none"


@invariant(
    "ait-2",
    "AllergyIntolerance",
    expression=f"{_ALLERGY}.empty() or clinicalStatus.empty()",
    text="no clinical status on what was entered in error",
)
def ait_2(node: Node) -> Breaks:
    """What never was has no course."""
    if _in_error(node.value, _ALLERGY_ERROR) and has(node.value, "clinicalStatus"):
        yield ".clinicalStatus", "a status"


# -- the rest --------------------------------------------------------------------------------------


@holds(
    "cpl-3",
    "CarePlan.activity",
    expression="detail.empty() or reference.empty()",
    text="either a detail or a reference",
    found="both",
)
def cpl_3(value: Mapping[str, Json]) -> bool:
    """An activity is described once."""
    return not (has(value, "detail") and has(value, "reference"))


@holds(
    "gol-1",
    "Goal.target",
    expression="(detail.exists() and measure.exists()) or detail.exists().not()",
    text="a measure beside the detail of a target",
    found="a detail alone",
)
def gol_1(value: Mapping[str, Json]) -> bool:
    """A target value is one of something."""
    return not has_choice(value, "detail") or has(value, "measure")


@holds(
    "org-1",
    "Organization",
    expression="(identifier.count() + name.count()) > 0",
    text="a name or an identifier",
    found="neither",
)
def org_1(value: Mapping[str, Json]) -> bool:
    """An organisation can be told from others."""
    return has(value, "identifier") or has(value, "name")


@holds(
    "lst-1",
    "List",
    expression="emptyReason.empty() or entry.empty()",
    text="a reason for emptiness only in an empty list",
    found="both",
)
def lst_1(value: Mapping[str, Json]) -> bool:
    """A list is empty or it is not."""
    return not (has(value, "emptyReason") and has(value, "entry"))


@holds(
    "qrs-1",
    "QuestionnaireResponse.item",
    expression="(answer.exists() and item.exists()).not()",
    text="inner items beneath the item or beneath its answer",
    found="beneath both",
)
def qrs_1(value: Mapping[str, Json]) -> bool:
    """An item has one place for what is inside it."""
    return not (has(value, "answer") and has(value, "item"))
