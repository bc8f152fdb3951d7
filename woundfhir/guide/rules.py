"""A page for each rule of the checklist, out of its texts."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

from woundfhir.guide.markdown import block, code, page, plain, table

if TYPE_CHECKING:
    from woundfhir.checklist import Rule

#: What each kind of finding asks of the nurse.
_KINDS = {
    "required": "to add",
    "recommended": "to add, expected",
    "caution": "to look at: a safety prompt",
    "sense": "to look at: a contradiction",
}


def known() -> list[Rule]:
    """Return every rule in the order of the checklist: those on the note, then those on what was received."""
    from woundfhir.checklist import rules_of
    from woundfhir.report.received import fhir_rules

    return [*rules_of(()), *fhir_rules().values()]


def pages() -> Iterator[tuple[str, str, Callable[[], str]]]:
    """Yield the name, title and maker of the list of rules and of each rule."""
    yield "rules", "Rules", _list
    for one in known():
        yield f"rules/{one.code}", f"{one.code}: {one.name}", partial(_page, one)


def _page(rule: Rule) -> str:
    from woundfhir.chart.conditions import CONDITIONS
    from woundfhir.checklist.actions import answered_by

    said = rule.page
    asked = " and ".join(f"{name} ({CONDITIONS[name].says()})" for name in rule.when if name != "always")
    facts = [
        ("Kind", plain(_KINDS[rule.severity])),
        ("Part of the checklist", plain(rule.part)),
        ("Asked when", plain(asked) or "always"),
        ("Answered by", plain(answered_by(rule.about)) if rule.about else ""),
        ("Source", plain(said.source)),
    ]
    return page(
        f"{rule.code}: {rule.name}",
        plain(said.title),
        f"**Why.** {plain(said.why)}",
        f"**Wrong**\n\n{block(said.wrong)}",
        f"**Right**\n\n{block(said.right)}",
        f"**What to write.** {plain(said.fix)}",
        table(("", ""), ((f"**{name}**", words) for name, words in facts if words)),
        f"In the terminal: {code(f'woundfhir explain {rule.code}')}. All rules: [Rules](rules.md).",
    )


def _list() -> str:
    parts = []
    for part, members in groupby(known(), key=lambda one: one.part):
        rows = ((f"[{one.code}](rules/{one.code}.md)", _KINDS[one.severity], plain(one.page.title)) for one in members)
        parts.append(f"## {part[0].upper()}{part[1:]}\n\n{table(('rule', 'kind', 'what it finds'), rows)}")
    return page(
        "Rules",
        "What `woundfhir check` looks for. A rule asks and cites; it never orders or diagnoses. Local policy and the "
        "licensed practitioner decide. `woundfhir explain` prints the same list.",
        *parts,
    )
