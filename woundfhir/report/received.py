"""Findings about FHIR that came in: does it keep to R4, and are its computed values those of the record?

These are rules about resources, not about the record, and so they stand here and not in the checklist; their
pages and their findings have the checklist's form, so that every report and ``explain`` can show them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from woundfhir.checklist import Finding, Rule, Verdict
from woundfhir.checklist.rule import Page, Problem
from woundfhir.intake.formats import FORMATS
from woundfhir.intake.inputs import DIFFERS, Input

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
_R4 = "HL7 FHIR R4 4.0.1 (published standard)"


def _never(view: Any, policy: Any) -> Iterator[Problem]:
    """These rules look at resources; nothing of a record breaks them."""
    return iter(())


R4 = Rule(
    "FH01",
    "keeps-to-r4",
    "sense",
    "record",
    "sense",
    _never,
    (),
    Page(
        "FHIR that came in breaks a rule of R4.",
        "A reader that relies on the standard will refuse it, or read it otherwise than it was meant.",
        "status: done",
        "status: final",
        "Correct it in the system that sent it; what was understood is in the record all the same.",
        _R4,
    ),
)
COMPUTED = Rule(
    "FH02",
    "computed-value-differs",
    "sense",
    "record",
    "sense",
    _never,
    (),
    Page(
        "A computed value that came in is not what the record gives.",
        "A percentage or rate that does not follow from the sizes beside it misleads the next reader.",
        "68 per cent smaller beside sizes that give 27",
        "27 per cent smaller beside sizes that give 27",
        "Look at the sizes; the computed value is not used.",
        "recomputed from the sizes in the record (arithmetic)",
    ),
)
NOT_COUNTED = Rule(
    "FH03",
    "came-and-does-not-count",
    "sense",
    "record",
    "sense",
    _never,
    (),
    Page(
        "Something that came in does not count: withdrawn, denied, or not understood as a fact.",
        "What was entered in error, refuted or cancelled, and what an unknown modifier may turn round, is no fact; who "
        "reads the record must know that it is kept and not shown.",
        "status: entered-in-error, read as a length of today",
        "kept under 'extra' with its reason, in no summary and no trend",
        "Look at it in the sender's system; where it should count, ask the sender to correct it and send it again.",
        _R4,
    ),
)
CONFLICT = Rule(
    "FH04",
    "two-values-for-one-place",
    "sense",
    "record",
    "sense",
    _never,
    (),
    Page(
        "Two different values came for one place, and neither was chosen.",
        "A value that was chosen silently may be the wrong one.",
        "length 4 cm and length 9 cm of one wound at one visit",
        "one of them corrected by whoever measured",
        "Look at both under 'extra', and write the one that is right.",
        "one value for one place of a record (arithmetic)",
    ),
)
RULES = (R4, COMPUTED, NOT_COUNTED, CONFLICT)
_NOT_FACTS = {
    "withdrawn": "What came was withdrawn, and is not read as a fact",
    "negated": "What came says that it is not so, or was not done, and is not read as a fact",
    "not-understood": "What came has a modifier or words that are not understood, and is not read as a fact",
}
#: Asked of people's narrative, not of a note: every resource we write leaves it to the document's sections.
_QUIET = frozenset(("dom-6",))


def with_fhir(verdict: Verdict, one: Input, *, show_values: bool = False) -> Verdict:
    """Return a verdict with what its FHIR input breaks; a plain record's verdict comes back as it was.

    Parameters
    ----------
    verdict
        What the checklist said.
    one
        The input.
    show_values
        Put offending values beside the findings.
    """
    if not FORMATS[one.kind].media:
        return verdict
    more = [*_structure(one, show_values), *_computed(one), *_not_facts(one)]
    return replace(verdict, findings=(*verdict.findings, *more), rules=(*verdict.rules, *RULES))


def _structure(one: Input, show_values: bool) -> Iterator[Finding]:
    from woundfhir.r4.structure import check_resource, check_resources
    from woundfhir.r4.structure.issue import Issues

    undefined: list[Unknown] = []
    came = FORMATS[one.kind].resources(one.content, one.name, undefined)
    found = Issues()
    for item in undefined:
        found.undefined(item.path)
    issues = (
        check_resource(came[0], show_values=show_values)
        if len(came) == 1
        else check_resources(came, show_values=show_values)
    )
    for issue in (*found.items, *issues):
        if issue.severity != "information" and issue.key not in _QUIET:
            message = f"{issue.key}: expected {issue.expected}, found {issue.found}"
            source = f"{issue.why.replace(' Source:', '')} (published standard)"
            yield _finding(R4, issue.severity, issue.path, message, source)


def _computed(one: Input) -> Iterator[Finding]:
    for item in one.history.extra:
        if item.get("why") == DIFFERS:
            yield _finding(
                COMPUTED, "error", item["from"], "A computed value is not what the sizes give", COMPUTED.page.source
            )


def _not_facts(one: Input) -> Iterator[Finding]:
    for number, item in enumerate(one.report.items if one.report is not None else ()):
        path = item.path if item.path == item.source else f"{item.path} ({number + 1})"
        if item.kind in _NOT_FACTS:
            message = f"{_NOT_FACTS[item.kind]} ({item.why.partition(': ')[2]})"
            yield _finding(NOT_COUNTED, "warning", path, message, NOT_COUNTED.page.source)
        elif item.kind == "conflict":
            message = "Two different values came for one place, and neither was chosen"
            yield _finding(CONFLICT, "error", path, message, CONFLICT.page.source)


def _finding(rule: Rule, level: Any, path: str, message: str, source: str) -> Finding:
    page = rule.page
    return Finding(rule.code, rule.name, rule.severity, level, path, message, page.fix, page.why, source, None, None)
