"""``woundfhir explain``: the page of a rule, of a concept, or of a policy; without an argument the list of rules."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from importlib.resources import files
from itertools import groupby
from typing import TYPE_CHECKING

import click

from woundfhir.cli import options
from woundfhir.cli.texts import words
from woundfhir.errors import InputError
from woundfhir.language import ENGLISH, spoken

if TYPE_CHECKING:
    from woundfhir.catalogue import AnswerList, Concept, FrameKey
    from woundfhir.checklist import Rule
    from woundfhir.checklist.policy import Policy

#: A file of each kind for a site to start its own from.
_EXAMPLES = {
    "checklist": ("woundfhir.checklist", "checklists/example.toml"),
    "policy": ("woundfhir.checklist", "policies/example.toml"),
    "mapping": ("woundfhir.tables", "data/example.toml"),
    "site": ("woundfhir.site", "example.toml"),
}


#: How alike a mistyped word must be, and how many are named.
_ALIKE, _MOST = 0.7, 4


@click.command()
@click.argument("name", required=False, metavar="[RULE|CONCEPT|CODE|POLICY]")
@options.maps
@click.option("--checklist", "checklists", multiple=True, metavar="FILE")
def command(name: str | None, checklists: tuple[str, ...]) -> None:
    """Explain a rule (its code or name), a concept (as assessment.length), a condition (as "open wound"), an answer
    list (as told), a policy (as ontario), or a code of any system (as 399912005, or SYSTEM|CODE): what it is read as,
    and which map decides."""
    from woundfhir.checklist import rules_of
    from woundfhir.report.received import fhir_rules

    known = (*rules_of(checklists), *fhir_rules().values())
    lines = _list(known) if name is None else _page(name, known)
    click.echo("\n".join(lines))


def _page(name: str, known: Sequence[Rule]) -> Iterator[str]:
    from woundfhir.catalogue import catalogue
    from woundfhir.chart.conditions import CONDITIONS
    from woundfhir.checklist.policy import BUILT_IN, load
    from woundfhir.checklist.rule import successor

    wanted = name.strip().casefold()
    if wanted in _EXAMPLES:
        package, name = _EXAMPLES[wanted]
        return iter([(files(package) / name).read_text("utf-8").rstrip()])
    if wanted == "note":
        paths = (files("woundfhir.newnote") / "texts" / one / "note.txt" for one in (spoken().key, ENGLISH.key))
        return iter([next(path for path in paths if path.is_file()).read_text("utf-8").rstrip()])
    if wanted.partition(".")[0] == "tables":
        return _tables(wanted.partition(".")[2])
    if wanted in CONDITIONS:
        return _condition(wanted, known)
    rule = next((one for one in known if wanted in (one.code.casefold(), one.name.casefold())), None)
    if rule is not None:
        return _rule(rule)
    if wanted in BUILT_IN or wanted.endswith(".toml"):
        return _policy(load(name.strip()))
    if (found := _concept_named(wanted)) is not None:
        return _concept(found, known)
    if (key := _frame_key(wanted)) is not None:
        return _key(key)
    if (now := successor(wanted)) is not None:
        return _retired(name.strip(), now, known)
    if (answers := catalogue().answers.get(wanted.replace("-", "_").replace(" ", "_"))) is not None:
        return _answers(answers)
    if lines := list(_code(name.strip())):
        return iter(lines)
    expected = (
        "a rule, a concept such as assessment.length, a key such as patient.born, a condition, a policy, "
        "an answer list, a code"
    )
    raise InputError("explain", expected, _near(wanted, known))


def _tables(name: str) -> Iterator[str]:
    """The tables for analysis, all of them or one: what a row is, and each column with type, unit and source."""
    from woundfhir.flat import table_of, tables, version

    for table in [table_of(name, "explain")] if name else tables().values():
        yield f"{table.name}: {table.title} (schema {version()})"
        yield from textwrap.wrap(table.row, 96, initial_indent="  ", subsequent_indent="  ")
        for column in table.columns:
            kind = f"{column.type}, {column.unit}" if column.unit else column.type
            head = f"  {column.name} ({kind}): {column.says}. [{column.source}]"
            yield from textwrap.wrap(head, 96, subsequent_indent="      ")
        yield ""


def _code(name: str) -> Iterator[str]:
    """What a code is read as in each system that has it, and by which map."""
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


def _answers(answers: AnswerList) -> Iterator[str]:
    """An answer list: its words, how else each is written, what it asks for attention to, who asks for it."""
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


def _retired(old: str, now: str, known: Sequence[Rule]) -> Iterator[str]:
    """That a code is retired, and the page of the rule that took its place."""
    rule = next((one for one in known if one.code.casefold() == now.casefold()), None)
    if rule is None:
        yield words("explain.retired_alone", code=old)
        return
    yield words("explain.retired", code=old, now=rule.code)
    yield ""
    yield from _rule(rule)


def _near(wanted: str, known: Sequence[Rule]) -> str:
    """What may have been meant."""
    from woundfhir.catalogue import catalogue
    from woundfhir.chart.conditions import CONDITIONS

    every = _paths()
    options = {one: one for one in (*CONDITIONS, *_EXAMPLES, "tables", *catalogue().answers, *every)}
    options |= {**{one.code.casefold(): one.code for one in known}, **{one.rsplit(".", 1)[-1]: one for one in every}}
    meant = _asked_of(wanted) or [options[one] for one in get_close_matches(wanted, options, 3, _ALIKE)]
    close = list(dict.fromkeys(meant))[:_MOST]
    lists = "`woundfhir explain` lists the rules, `woundfhir catalogue` the concepts"
    return f"Did you mean {' or '.join(close)}?" if close else lists


def _asked_of(wanted: str) -> list[str]:
    """What a nurse's own word is about: what a table's header of this name means and labels with it, else answers."""
    from woundfhir.catalogue import catalogue
    from woundfhir.tables.vocabulary import meaning

    words = wanted.replace("_", " ")
    header = meaning(words)
    whole = re.compile(rf"\b{re.escape(words)}\b")
    labels = [one.path for one in catalogue().concepts(fields=True) if whole.search(one.label.casefold())]
    answers = [
        one.key
        for one in catalogue().answers.values()
        if any(whole.search(said.casefold()) for word in one.words for said in (word.word, *word.also))
    ]
    return [*(header.paths if header is not None else ()), *labels] or answers


def _paths() -> list[str]:
    """The path of every concept, and of every key of the record's frame."""
    from woundfhir.catalogue import catalogue, frame

    concepts = [one.path for one in catalogue().concepts(fields=True)]
    return list(dict.fromkeys((*concepts, *(key.path for key in frame().every_key()))))


def _concept_named(name: str) -> Concept | None:
    """A concept by its path, or by its key alone where only one has it."""
    from woundfhir.catalogue import catalogue

    name = name.replace("-", "_").replace(" ", "_")
    every = list(catalogue().concepts(fields=True))
    exact = next((one for one in every if one.path == name), None)
    alone = [one for one in every if one.key == name and one.of is None] or [one for one in every if one.key == name]
    return exact or (alone[0] if len(alone) == 1 else None)


def _frame_key(name: str) -> FrameKey | None:
    """A key of the record's frame by its path: patient.born, visit.by.name, author.name."""
    from woundfhir.catalogue import frame

    start, *steps = name.replace("-", "_").replace(" ", "_").split(".")
    return frame().at(steps, start)


def _list(known: Sequence[Rule]) -> Iterator[str]:
    width = max(len(one.code) for one in known)
    for part, members in groupby(known, key=lambda one: one.part):
        yield f"{part[0].upper()}{part[1:]}"
        for one in members:
            yield f"  {one.code:<{width}}  {one.severity:<11}  {one.page.title}"
        yield ""
    yield words("explain.rules", number=len(known))


def _rule(rule: Rule) -> Iterator[str]:
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


def _concept(concept: Concept, known: Sequence[Rule]) -> Iterator[str]:
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


def _key(key: FrameKey) -> Iterator[str]:
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


def _condition(name: str, known: Sequence[Rule]) -> Iterator[str]:
    from woundfhir.chart.conditions import CONDITIONS

    yield name
    yield from _wrap(
        "", words("explain.holds", says=CONDITIONS[name].says()) if name != "always" else words("explain.always")
    )
    yield ""
    asked = [one.code for one in known if name in one.when]
    yield from _wrap("rules_of", ", ".join(asked) or words("explain.no_rules"))


def _policy(policy: Policy) -> Iterator[str]:
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
