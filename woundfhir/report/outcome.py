"""Findings as an R4 OperationOutcome, for systems that speak FHIR."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from woundfhir.checklist import Finding
from woundfhir.report.elements import Elements
from woundfhir.report.judged import Judged
from woundfhir.report.text import answers, overall, where
from woundfhir.report.words import say

Json = Any
#: Kind of finding -> IssueType (R4): what must be there and is not; what breaks a rule of the content.
_TYPE = {"required": "required", "recommended": "required", "sense": "invariant", "caution": "business-rule"}


def outcome(reports: Sequence[Judged]) -> dict[str, Json]:
    """Return one OperationOutcome for all inputs.

    Parameters
    ----------
    reports
        One verdict for each input.

    Returns
    -------
    dict
        ``issue.expression`` evaluates on the FHIR that came in. For an input that was a plain record it evaluates on
        the Bundle that ``convert --to fhir-json`` writes of it. ``diagnostics`` holds what to write, the rule's code
        and the place in the record.
    """
    issues: list[Json] = []
    for one in reports:
        if one.verdict.findings or one.verdict.answered:
            elements = Elements(one.history, one.kind, one.content)
            name = f"{one.name}, " if len(reports) > 1 else ""
            issues += [_issue(finding, elements, name) for finding in (*one.verdict.findings, *one.verdict.answered)]
    if not issues:
        issues = [{"severity": "information", "code": "informational", "details": {"text": overall(reports)}}]
    return {"resourceType": "OperationOutcome", "issue": issues}


def _issue(finding: Finding, elements: Elements, name: str) -> Json:
    value = "" if finding.value is None else f" {say('found', value=' '.join(finding.value.split()))}"
    if finding.answers:
        said, kind = f" {answers(finding)}", "informational"
    else:
        said, kind = f" {finding.to_answer}" if finding.to_answer else "", _TYPE[finding.severity]
    return {
        "severity": finding.level,
        "code": kind,
        "details": {"text": f"{where(finding)}{finding.message}"},
        "diagnostics": f"{finding.fix}{said}{value} [{finding.reference}, {name}{finding.path or 'record'}]",
        "expression": [finding.path if finding.path[:1].isupper() else elements.expression(finding.path)],
    }
