"""Verdicts for the tests of reports: a small checklist of four kinds, judged on one record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tests.checklist.samples import entry, record, visit
from woundfhir.checklist import Checklist, Problem, Verdict, judge
from woundfhir.checklist.pages import ONLY, Page
from woundfhir.checklist.rule import Severity, make
from woundfhir.record import History
from woundfhir.report import Judged

KINDS: tuple[tuple[str, Severity, str], ...] = (
    ("XX01", "caution", "Is this <right> & checked?"),
    ("XX02", "sense", "Two answers do not fit"),
    ("XX03", "required", "Length: not written"),
    ("XX04", "recommended", "Cause: not written"),
)


def _body(view: Any, policy: Any) -> Iterator[Problem]:
    if not view.written("assessment.length"):
        yield Problem(view.path("assessment.length"), value="<4>\n cm")


def _rules() -> Iterator[Any]:
    for code, severity, message in KINDS:
        fix = f"Write what {code} asks for."
        page = Page("A title.", "A reason.", "wrong", "right", fix, "A source 2020 (seen)", "seen", {ONLY: message})
        yield make(code, f"rule-{code.lower()}", severity, "entry", "site", _body, (), page)


FOUR = Checklist("four 1", tuple(_rules()), False, {})


def history() -> History:
    """Two wounds, a final note on both, a draft on the first."""
    wounds = [{"id": "W1", "kind": "burn"}, {"id": "Mrs Example's heel", "kind": "burn"}]
    return record(
        visit(entry("W1"), entry("Mrs Example's heel", assessment={"length": "4 cm"})),
        visit(entry("Mrs Example's heel"), status="draft"),
        wounds=wounds,
    )


def verdict(**options: Any) -> Verdict:
    """The four kinds on it."""
    return judge(history(), checklist=FOUR, **options)


def judged(**options: Any) -> Judged:
    """The same as a report takes it."""
    return Judged("a note.yaml", verdict(**options), history())


def clean() -> Judged:
    """A record in which nothing is found."""
    one = record(visit(entry(assessment={"length": "4 cm"})))
    return Judged("clean.yaml", judge(one, checklist=FOUR), one)
