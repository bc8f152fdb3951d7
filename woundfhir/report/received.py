"""Findings about FHIR that came in: does it keep to R4, and are its computed values those of the record?

These are rules about resources, not about the record, and so they stand here and not in the checklist; their
pages and their findings have the checklist's form, so that every report and ``explain`` can show them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from woundfhir.catalogue import per_catalogue
from woundfhir.chart.defaults import filled
from woundfhir.checklist import Finding, Rule, Verdict, judge
from woundfhir.checklist.one_note import of_note
from woundfhir.checklist.pages import ONLY, cited, page
from woundfhir.checklist.policy import Policy
from woundfhir.checklist.rule import Problem
from woundfhir.checklist.site import Checklist
from woundfhir.fhir.fates import kind_of
from woundfhir.intake.formats import FORMATS
from woundfhir.intake.inputs import DIFFERS, Input
from woundfhir.messages import translated
from woundfhir.report.came import with_what_came
from woundfhir.report.judged import Judged
from woundfhir.texts import Slot

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any


def _never(view: Any, policy: Any) -> Iterator[Problem]:
    """These rules look at resources; nothing of a record breaks them."""
    return iter(())


def _rule(code: str, name: str) -> Rule:
    text = page(code, caution=False, package="woundfhir.report")
    return Rule(code, name, "sense", "record", "sense", _never, (), text)


R4, COMPUTED, NOT_COUNTED, CONFLICT, NOT_READ = "FH01", "FH02", "FH03", "FH04", "FH05"
_NAMES = {
    R4: "keeps-to-r4",
    COMPUTED: "computed-value-differs",
    NOT_COUNTED: "came-and-does-not-count",
    CONFLICT: "two-values-for-one-place",
    NOT_READ: "came-and-is-not-read",
}


@per_catalogue()
def fhir_rules() -> Mapping[str, Rule]:
    """Return the rules about FHIR that came in by their codes, their pages in the language that holds."""
    return {code: _rule(code, name) for code, name in _NAMES.items()}


#: Fates of an item that is no fact: each has its message on the page of FH03.
_NOT_FACTS = frozenset(("withdrawn", "negated", "not-understood"))
#: Asked of people's narrative, not of a note: every resource we write leaves it to the document's sections.
_QUIET = frozenset(("dom-6",))


def judged(
    one: Input,
    *,
    checklist: Checklist,
    policy: Policy,
    ignore: Mapping[str, str] | None = None,
    today: date | None = None,
    show_values: bool = False,
    visit: str | None = None,
    defaults: str | Path | None = None,
) -> Judged:
    """Return what reports are made from: the verdict on one input, what its FHIR breaks included.

    Parameters
    ----------
    one
        The input.
    checklist, policy, ignore, today, show_values
        As for ``judge``.
    visit
        Only this note (its id, or ``last``).
    defaults
        A file with what never changes at the site, and is asked for in no note.

    Raises
    ------
    InputError
        For a note that there is not, and for what ``judge`` refuses.
    """
    history = one.history if defaults is None else filled(one.history, defaults)
    found = judge(history, checklist=checklist, policy=policy, ignore=ignore, today=today, show_values=show_values)
    found = with_fhir(found, one, show_values=show_values)
    if visit is not None:
        found = of_note(found, one.history, visit)
    name = one.name.encode("utf-8", "replace").decode()
    return Judged(name, found, one.history, one.kind, one.content)


def with_fhir(verdict: Verdict, one: Input, *, show_values: bool = False) -> Verdict:
    """Return a verdict with what its FHIR input breaks; of a plain record, what it carries and is no fact.

    Parameters
    ----------
    verdict
        The verdict of the checklist.
    one
        The input.
    show_values
        Put offending values beside the findings.
    """
    rules = fhir_rules()
    verdict = with_what_came(verdict, one.history, rules[NOT_READ])
    if not FORMATS[one.kind].media:
        more = list(_kept_not_facts(one))
        return (
            replace(verdict, findings=(*verdict.findings, *more), rules=(*verdict.rules, *rules.values()))
            if more
            else verdict
        )
    more = [*_structure(one, show_values), *_computed(one), *_not_facts(one)]
    return replace(verdict, findings=(*verdict.findings, *more), rules=(*verdict.rules, *rules.values()))


def _structure(one: Input, show_values: bool) -> Iterator[Finding]:
    from woundfhir.intake.validation import issues

    undefined: list[Unknown] = []
    came = FORMATS[one.kind].resources(one.content, one.name, undefined)
    for issue in issues(came, undefined, show_values=show_values):
        if issue.severity != "information" and issue.key not in _QUIET:
            slots = {"key": issue.key, "expected": translated(issue.expected), "found": translated(issue.found)}
            why, _, standard = issue.why.rpartition(". Source: ")
            source = cited(f"{translated(why)}. {standard}", "published standard")
            yield _finding(R4, issue.severity, issue.path, ONLY, slots, source)


def _computed(one: Input) -> Iterator[Finding]:
    for item in one.report.items if one.report is not None else ():
        if item.why == DIFFERS:
            yield _finding(COMPUTED, "error", item.where, ONLY)


def _not_facts(one: Input) -> Iterator[Finding]:
    for item in one.report.items if one.report is not None else ():
        yield from _not_fact(item.kind, item.why, item.where)


def _kept_not_facts(one: Input) -> Iterator[Finding]:
    """What a record carries, and why it is no fact, stands in its reason."""
    for number, item in enumerate(one.history.extra):
        why = item.get("why", "")
        yield from _not_fact(kind_of(why), why, f"extra[{number}]")


def _not_fact(kind: str, why: str, path: str) -> Iterator[Finding]:
    if kind in _NOT_FACTS:
        yield _finding(NOT_COUNTED, "warning", path, kind, {"why": translated(why.partition(": ")[2])})
    elif kind == "conflict":
        yield _finding(CONFLICT, "error", path, ONLY)


def _finding(
    code: str, level: Any, path: str, key: str, slots: Mapping[str, Slot] = MappingProxyType({}), source: str = ""
) -> Finding:
    rule = fhir_rules()[code]
    page = rule.page
    return Finding(
        rule.code,
        rule.name,
        rule.severity,
        level,
        path,
        page.message(key, slots),
        page.fix,
        page.why,
        source or page.source,
        None,
        None,
        part=rule.part,
    )
