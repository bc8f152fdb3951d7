"""Reports for programs: the contract's JSON, JUnit XML, SARIF 2.1.0, and the workflow commands of GitHub Actions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote
from xml.etree import ElementTree

import msgspec

from woundfhir._version import __version__
from woundfhir.checklist import LEVELS, Finding, Level
from woundfhir.r4 import jsonio
from woundfhir.report.judged import Judged
from woundfhir.report.text import overall, sentence, where
from woundfhir.report.words import say

Json = Any
#: SARIF calls information a note (SARIF 2.1.0, 3.27.10).
_SARIF_LEVEL = {"error": "error", "warning": "warning", "information": "note"}
_COMMAND = {"error": "error", "warning": "warning", "information": "notice"}
_USUAL_LEVEL = {"required": "error", "recommended": "warning", "sense": "error", "caution": "error"}


def as_json(reports: Sequence[Judged]) -> bytes:
    """Return ``{"version": 1, "findings": [...], "summary": {...}}``.

    A finding has ``rule``, ``severity`` (its level: ``error``, ``warning``, ``information``), ``path``, ``message`` and
    ``fix``, and besides ``name``, ``kind`` (``required``, ``recommended``, ``sense``, ``caution``), ``why``,
    ``source``, ``wound``, ``note``, ``draft`` and ``input``; ``value`` only where values were asked for,
    ``to_answer`` (how an action answers it) only where one can, and ``line`` and ``column`` where the input is the text
    of one record. ``summary.answered`` holds those that an action answers, each with ``answers``: the roles that were
    told and when; they weigh nothing.
    """
    found = [finding for one in reports for finding in one.verdict.findings]
    return jsonio.encode_readable(
        {
            "version": 1,
            "findings": [finding for one in reports for finding in findings(one)],
            "summary": {
                "verdict": overall(reports),
                "safety": sum(1 for finding in found if finding.severity == "caution"),
                "to_add": sum(1 for finding in found if finding.to_add),
                "to_look_at": sum(1 for finding in found if finding.severity == "sense"),
                "answered": [_finding(one, finding) for one in reports for finding in one.verdict.answered],
                "answered_unknown": sum(len(one.verdict.unanswered) for one in reports),
                "left_out_with_a_reason": sum(len(one.verdict.excused) for one in reports),
                "on_other_notes": sum(len(one.verdict.elsewhere) for one in reports),
                **{level: sum(one.verdict.count(level) for one in reports) for level in LEVELS},
                "inputs": [_input(one) for one in reports],
            },
        }
    )


def findings(one: Judged) -> list[Json]:
    """Return the findings on one input, as they stand in ``as_json``."""
    return [_finding(one, finding) for finding in one.verdict.findings]


def as_lines(verdict: Judged) -> bytes:
    """Return findings, one a line, each as ``woundfhir check --format json`` has it."""
    return b"".join(msgspec.json.encode(finding) + b"\n" for finding in findings(verdict))


def _finding(one: Judged, finding: Finding) -> Json:
    made: dict[str, Json] = {
        "rule": finding.rule,
        "part": finding.part,
        "severity": finding.level,
        "path": finding.path,
        "message": finding.message,
        "fix": finding.fix,
        "name": finding.name,
        "kind": finding.severity,
        "why": finding.why,
        "source": finding.source,
        "wound": finding.wound,
        "note": finding.visit,
        "draft": finding.draft,
        "input": one.name,
    }
    if (at := one.place(finding)) is not None:
        made["line"], made["column"] = at
    if finding.answers:
        made["answers"] = [{"told": list(by.who), "when": by.when} for by in finding.answers]
    elif finding.to_answer:
        made["to_answer"] = finding.to_answer
    if finding.value is not None:
        made["value"] = finding.value
    return made


def _input(one: Judged) -> Json:
    verdict = one.verdict
    left_out = [{"rule": o.code, "reason": o.reason, "findings": len(o.findings)} for o in verdict.left_out]
    return {
        "name": one.name,
        "notes": verdict.notes,
        "drafts": verdict.drafts,
        "checklist": verdict.checklist,
        "policy": verdict.policy,
        "left_out": left_out,
    }


def as_junit(reports: Sequence[Judged], fail_on: Level = "error") -> bytes:
    """Return JUnit XML: a suite for each input, a case for each rule, a failure for each finding that counts.

    Findings below ``fail_on`` stand in the case's ``system-out``; a rule that was left out is skipped, with the reason.
    The form is that of the Ant task that most tools read (common practice; there is no standard).
    """
    counting = LEVELS[: LEVELS.index(fail_on) + 1]
    root = ElementTree.Element("testsuites", name="woundfhir check")
    for one in reports:
        suite = ElementTree.SubElement(root, "testsuite", name=one.name)
        left_out = {o.code: o.reason for o in one.verdict.left_out}
        failed = 0
        for rule in one.verdict.rules:
            case = ElementTree.SubElement(suite, "testcase", classname=rule.group, name=f"{rule.code} {rule.name}")
            found = [finding for finding in one.verdict.findings if finding.rule == rule.code]
            if rule.code in left_out:
                ElementTree.SubElement(case, "skipped", message=left_out[rule.code])
            if bad := [finding for finding in found if finding.level in counting]:
                failed += 1
                first = f"{bad[0].message}" if len(bad) == 1 else f"{bad[0].message} (and {len(bad) - 1} more)"
                ElementTree.SubElement(case, "failure", message=first, type=rule.severity).text = _lines(bad)
            if rest := [finding for finding in found if finding.level not in counting]:
                ElementTree.SubElement(case, "system-out").text = _lines(rest)
        suite.set("tests", str(len(one.verdict.rules)))
        suite.set("failures", str(failed))
        suite.set("errors", "0")
        suite.set("skipped", str(len(left_out)))
    ElementTree.indent(root)
    body: str = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def _lines(findings: Sequence[Finding]) -> str:
    lines = []
    for one in findings:
        lines.append(f"{one.level}: {where(one)}{one.message}\n  {one.path}\n  {one.fix}")
        if one.value is not None:
            lines.append(f"  {say('found', value=' '.join(one.value.split()))}")
    return "\n".join(lines)


def as_sarif(reports: Sequence[Judged]) -> bytes:
    """Return a SARIF 2.1.0 log (OASIS standard): one run, every rule that was asked, every finding with its place.

    Findings of a rule that was left out are results with a suppression whose justification is the reason.
    """
    rules = {rule.code: rule for one in reports for rule in one.verdict.rules}
    index = {code: number for number, code in enumerate(rules)}
    results = []
    for one in reports:
        results += [_result(one, finding, index) for finding in one.verdict.findings]
        for left in one.verdict.left_out:
            suppression = {"kind": "external", "justification": left.reason}
            results += [{**_result(one, finding, index), "suppressions": [suppression]} for finding in left.findings]
    driver = {"name": "woundfhir", "version": __version__, "rules": [_sarif_rule(rule) for rule in rules.values()]}
    run = {"tool": {"driver": driver}, "columnKind": "unicodeCodePoints", "results": results}
    return jsonio.encode_readable(
        {
            "$schema": "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
            "version": "2.1.0",
            "runs": [run],
        }
    )


def _sarif_rule(rule: Any) -> Json:
    page = rule.page
    return {
        "id": rule.code,
        "name": "".join(part.capitalize() for part in rule.name.replace(".", "-").split("-")),
        "shortDescription": {"text": page.title},
        "fullDescription": {"text": page.why},
        "help": {"text": f"Wrong: {page.wrong}\nRight: {page.right}\nFix: {page.fix}\nSource: {page.source}"},
        "defaultConfiguration": {"level": _SARIF_LEVEL[_USUAL_LEVEL[rule.severity]]},
        "properties": {"tags": list(dict.fromkeys((rule.group, rule.severity)))},  # no tag twice (SARIF, 3.8.2)
    }


def _result(one: Judged, finding: Finding, index: dict[str, int]) -> Json:
    place: Json = {"logicalLocations": [{"fullyQualifiedName": finding.path or "record"}]}
    if one.name != "standard input":
        place["physicalLocation"] = {"artifactLocation": {"uri": quote(one.name.replace("\\", "/"))}}
        if (at := one.place(finding)) is not None:
            place["physicalLocation"]["region"] = {"startLine": at.line, "startColumn": at.column}
    value = "" if finding.value is None else f" {say('found', value=finding.value)}"
    return {
        "ruleId": finding.rule,
        "ruleIndex": index[finding.rule],
        "level": _SARIF_LEVEL[finding.level],
        "message": {"text": f"{sentence(finding)} {finding.fix}{value}"},
        "locations": [place],
    }


def as_github(reports: Sequence[Judged]) -> bytes:
    """Return a workflow command of GitHub Actions for each finding, which marks the line of the note.

    Source: "Workflow commands for GitHub Actions" (from memory): ``::LEVEL file=,line=,col=,title=::WORDS``,
    with ``%``, line ends and, in properties, ``:`` and ``,`` escaped.
    """
    lines = []
    for one in reports:
        for finding in one.verdict.findings:
            at = one.place(finding)
            where_ = {"file": one.name, **({} if at is None else {"line": str(at.line), "col": str(at.column)})}
            where_["title"] = finding.reference
            held = ",".join(f"{key}={_command_text(value, held=True)}" for key, value in where_.items())
            lines.append(f"::{_COMMAND[finding.level]} {held}::{_command_text(f'{sentence(finding)} {finding.fix}')}\n")
    return "".join(lines).encode()


def _command_text(text: str, *, held: bool = False) -> str:
    for char in ("%", "\r", "\n", *((":", ",") if held else ())):
        text = text.replace(char, f"%{ord(char):02X}")
    return text
