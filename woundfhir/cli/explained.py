"""The pages that ``woundfhir explain`` prints, line by line: of rules, concepts, keys, conditions, lists, codes."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from woundfhir.cli.texts import words

if TYPE_CHECKING:
    from woundfhir.catalogue import AnswerList, Concept, FrameKey
    from woundfhir.checklist import Rule
    from woundfhir.checklist.policy import Policy


def rules_list(known: Sequence[Rule]) -> Iterator[str]:
    """List the rules by part, each with its severity and title."""
    width = max(len(one.code) for one in known)
    for part, members in groupby(known, key=lambda one: one.part):
        yield f"{part[0].upper()}{part[1:]}"
        for one in members:
            yield f"  {one.code:<{width}}  {one.severity:<11}  {one.page.title}"
        yield ""
    yield words("explain.rules", number=len(known))


def rule_page(rule: Rule) -> Iterator[str]:
    """Explain a rule: when it is asked, why, what is wrong and what is right."""
    from woundfhir.chart.conditions import CONDITIONS
    from woundfhir.checklist.actions import answered_by

    page = rule.page
    yield f"{rule.part} {rule.code}: {rule.name}"
    yield from _wrap("", page.title)
    yield ""
    called = words(f"explain.called_{rule.severity}")
    slots = {"called": called, "severity": rule.severity, "scope": rule.scope, "part": rule.part}
    yield from _wrap("kind", words("explain.kind_words", **slots))
    if rule.when:
        names = ((CONDITIONS[name].label(), CONDITIONS[name].says()) for name in rule.when)
        when = "; ".join(words("explain.when_one", name=name, says=says) for name, says in names)
        yield from _wrap("asked", words("explain.when", words=when))
    if rule.about:
        yield from _wrap("answer", answered_by(rule.about))
    for heading in ("why", "wrong", "right", "fix", "source"):
        yield from _wrap(heading, getattr(page, heading))


def retired_page(old: str, now: str, known: Sequence[Rule]) -> Iterator[str]:
    """Say that a code is retired, and print the page of the rule that took its place."""
    rule = next((one for one in known if one.code.casefold() == now.casefold()), None)
    if rule is None:
        yield words("explain.retired_alone", code=old)
        return
    yield words("explain.retired", code=old, now=rule.code)
    yield ""
    yield from rule_page(rule)


def concept_page(concept: Concept, known: Sequence[Rule]) -> Iterator[str]:
    """Explain a concept: its question, shape and answers, its codes, and the rule that asks for it."""
    from woundfhir.chart.conditions import CONDITIONS
    from woundfhir.checklist.rule import PRESENCE

    yield f"{concept.path}: {concept.label}"
    yield from _wrap("", concept.question)
    yield ""
    for language, label in concept.labels:
        yield from _wrap("label", f"{label} ({language})")
    yield from _wrap("shape", concept.shape + (words("explain.several") if concept.many else ""))
    if concept.units:
        yield from _wrap("units", ", ".join(concept.units))
    if concept.low is not None or concept.high is not None:
        yield from _wrap("range", words("explain.range_words", low=concept.low or "...", high=concept.high or "..."))
    if concept.answers is not None:
        other = words("explain.open") if concept.answers.open else ""
        yield from _wrap("answers", ", ".join(word.shown for word in concept.answers.words) + other)
    if concept.fields:
        yield from _wrap("fields", ", ".join(f"{key} ({field.shape})" for key, field in concept.fields.items()))
    role = words(f"explain.{concept.role}")
    if concept.when:
        names_ = words("explain.and").join(CONDITIONS[name].label() for name in concept.when)
        role = words("explain.when_asked", role=role, conditions=names_)
    yield from _wrap("asked", role)
    for coding in concept.codings:
        yield from _wrap("code", f"{coding.system} {coding.code}" + (f" {coding.display}" if coding.display else ""))
    if concept.source:
        yield from _wrap("source", words("explain.of_code", source=concept.source))
    rule = next((one for one in known if one.code == f"{PRESENCE}{concept.path}"), None)
    if rule is not None:
        yield from _wrap("why", rule.page.why)
        yield from _wrap("example", rule.page.right)
        yield from _wrap("rule", words("explain.rule_source", code=rule.code, source=rule.page.source))


def key_page(key: FrameKey) -> Iterator[str]:
    """Explain a key of the record's frame."""
    from woundfhir.catalogue import catalogue, frame

    yield f"{key.path}: {key.label}"
    yield from _wrap("", key.question)
    yield ""
    yield from _wrap("shape", key.shape + (words("explain.needed") if key.needed else ""))
    if key.words:
        other = "" if key.shape == "word" else words("explain.open")
        yield from _wrap("words", ", ".join(key.words) + other)
    if (part := frame().parts.get(key.of)) is not None and "part" in key.shape:
        yield from _wrap("keys", ", ".join(f"{one.path} ({one.shape})" for one in part.keys.values()))
        if part.bare:
            yield from _wrap("", words("explain.bare", name=part.bare))
    elif key.of:
        yield from _wrap("concepts", ", ".join(one.path for one in catalogue().groups[key.of].values()))


def condition_page(name: str, known: Sequence[Rule]) -> Iterator[str]:
    """Explain a condition: when it holds, and which rules ask it."""
    from woundfhir.chart.conditions import CONDITIONS

    yield name
    yield from _wrap(
        "", words("explain.holds", says=CONDITIONS[name].says()) if name != "always" else words("explain.always")
    )
    yield ""
    asked = [one.code for one in known if name in one.when]
    yield from _wrap("rules_of", ", ".join(asked) or words("explain.no_rules"))


def answers_page(answers: AnswerList) -> Iterator[str]:
    """Explain an answer list: its words, how else each is written, what it asks for attention to, who asks for it."""
    from woundfhir.catalogue import catalogue

    yield f"{answers.key}: {answers.title}" + (words("explain.open") if answers.open else "")
    yield ""
    for word in answers.words:
        also = words("explain.also", words=", ".join(word.also)) if word.also else ""
        yield from textwrap.wrap(word.word + also, 96, subsequent_indent="    ")
        hazards = (catalogue().hazards[tag.partition(":")[2]].title for tag in word.tags if tag.startswith("hazard:"))
        for title in sorted(hazards):
            yield words("explain.attention", hazard=title)
    yield ""
    yield from _wrap(
        "asked", ", ".join(one.path for one in catalogue().concepts(fields=True) if one.answers is answers)
    )
    yield from _wrap("source", answers.source)


def code_page(name: str) -> Iterator[str]:
    """Say what a code is read as in each system that has it, and by which map."""
    from woundfhir.catalogue import catalogue
    from woundfhir.maps import in_force

    table, short = in_force(), catalogue().systems
    system, bar, code = name.rpartition("|")
    for one in [short.get(system, system)] if bar else table.systems_of(code):
        for line in table.meaning(one, code):
            yield f"{one}|{code}" + (f": {line.label}" if line.label else "")
            if not line.read or line.target is None:
                yield from _wrap("read_as", words("explain.nothing", fit=line.equivalence))
            else:
                yield from _wrap("read_as", f"{line.target.id} ({line.target.label})")
                yield from _wrap("fit_of", line.equivalence + (f": {line.comment}" if line.comment else ""))
            yield from _wrap("map", line.where)
            if line.source:
                yield from _wrap("source", line.source)


def tables_page(name: str) -> Iterator[str]:
    """Explain the tables for analysis, all or one: what a row is, each column with type, unit and source."""
    from woundfhir.flat import table_of, tables, version

    for table in [table_of(name, "explain")] if name else tables().values():
        yield f"{table.name}: {table.title} (schema {version()})"
        yield from textwrap.wrap(table.row, 96, initial_indent="  ", subsequent_indent="  ")
        for column in table.columns:
            kind = f"{column.type}, {column.unit}" if column.unit else column.type
            head = f"  {column.name} ({kind}): {column.says}. [{column.source}]"
            yield from textwrap.wrap(head, 96, subsequent_indent="      ")
        yield ""


def policy_page(policy: Policy) -> Iterator[str]:
    """Print the numbers of a policy, each with its meaning and source."""
    from woundfhir.checklist.pages import marked

    yield f"{policy.name} {policy.version}: {policy.title}"
    for key, limit in policy.limits.items():
        yield ""
        yield f"{key} = {policy.says(key)}"
        yield from _wrap("", limit.meaning, "  ")
        yield from _wrap("", marked(limit.source, limit.mark), "  ")
        if limit.others:
            yield from _wrap("", words("explain.others", words=limit.others), "  ")


def _wrap(heading: str, text: str, indent: str = "") -> list[str]:
    start = f"{words('explain.heading', label=words(f'explain.{heading}')):<8} " if heading else indent
    return textwrap.wrap(
        text,
        100,
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_long_words=False,
        break_on_hyphens=False,
    )
