"""``woundfhir explain``: the page of a rule, of a concept, or of a policy; without an argument the list of rules."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from importlib.resources import files
from itertools import groupby
from typing import TYPE_CHECKING

import click

from woundfhir.cli import options
from woundfhir.errors import InputError

if TYPE_CHECKING:
    from woundfhir.catalogue import Concept, FrameKey
    from woundfhir.checklist import Rule
    from woundfhir.checklist.policy import Policy

#: A file of each kind for a site to start its own from.
_EXAMPLES = {
    "checklist": ("woundfhir.checklist", "checklists/example.toml"),
    "policy": ("woundfhir.checklist", "policies/example.toml"),
    "mapping": ("woundfhir.tables", "data/example.toml"),
    "site": ("woundfhir.site", "example.toml"),
}
_CALLED = {
    "required": "to add",
    "recommended": "to add, expected",
    "sense": "to look at",
    "caution": "to look at, safety question",
}


@click.command()
@click.argument("name", required=False, metavar="[RULE|CONCEPT|CODE|POLICY]")
@options.maps
@click.option("--checklist", "checklists", multiple=True, metavar="FILE", help="A site's own checklist, for its rules.")
def command(name: str | None, checklists: tuple[str, ...]) -> None:
    """Explain a rule (its code or name), a concept (as assessment.length), a condition (as "open wound"), a policy (as
    ontario), or a code of any system (as 399912005, or SYSTEM|CODE): what it is read as, and which map decides.

    \b
    woundfhir explain PK03                 a rule: why, wrong, right, fix, source
    woundfhir explain assessment.tunnels   a concept: its fields, answers and codes
    woundfhir explain note                 how a note is written

    `note` says how a note is written. `checklist`, `policy` and `mapping` (of a table) print a file of each kind to
    start your own from.
    Without an argument every rule is listed, one line each.
    """
    from woundfhir.checklist import rules_of
    from woundfhir.report.received import RULES

    known = (*rules_of(checklists), *RULES)
    lines = _list(known) if name is None else _page(name, known)
    click.echo("\n".join(lines))


def _page(name: str, known: Sequence[Rule]) -> Iterator[str]:
    from woundfhir.chart.conditions import CONDITIONS
    from woundfhir.checklist.policy import BUILT_IN, load
    from woundfhir.checklist.rule import successor

    wanted = name.strip().casefold()
    if wanted in _EXAMPLES:
        package, name = _EXAMPLES[wanted]
        return iter([(files(package) / name).read_text("utf-8").rstrip()])
    if wanted == "note":
        return iter([(files("woundfhir.newnote") / "data" / "note.en.txt").read_text("utf-8").rstrip()])
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
    if lines := list(_code(name.strip())):
        return iter(lines)
    expected = "a rule, a concept such as assessment.length, a key such as patient.born, a condition, a policy, a code"
    raise InputError("explain", expected, _near(wanted, known))


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
                yield from _wrap("Read as", f"nothing ({line.equivalence})")
            else:
                yield from _wrap("Read as", f"{line.target.id} ({line.target.label})")
                yield from _wrap("Fit", line.equivalence + (f": {line.comment}" if line.comment else ""))
            yield from _wrap("Map", line.where)
            if line.source:
                yield from _wrap("Source", line.source)


def _retired(old: str, now: str, known: Sequence[Rule]) -> Iterator[str]:
    """That a code is retired, and the page of the rule that took its place."""
    rule = next((one for one in known if one.code.casefold() == now.casefold()), None)
    if rule is None:
        yield f"{old} is retired; no rule took its place."
        return
    yield f"{old} is retired. The rule is now {rule.code}:"
    yield ""
    yield from _rule(rule)


def _near(wanted: str, known: Sequence[Rule]) -> str:
    """What may have been meant."""
    from woundfhir.chart.conditions import CONDITIONS

    every = _paths()
    options = {one: one for one in (*CONDITIONS, *_EXAMPLES, *every)}
    options |= {**{one.code.casefold(): one.code for one in known}, **{one.rsplit(".", 1)[-1]: one for one in every}}
    close = list(dict.fromkeys(options[one] for one in get_close_matches(wanted, options, 3)))
    lists = "`woundfhir explain` lists the rules, `woundfhir catalogue` the concepts"
    return f"Did you mean {' or '.join(close)}?" if close else lists


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
    yield f"{len(known)} rules. `woundfhir explain CODE` gives the reason and the source."


def _rule(rule: Rule) -> Iterator[str]:
    from woundfhir.chart.conditions import CONDITIONS
    from woundfhir.checklist.actions import answered_by

    page = rule.page
    yield f"{rule.part} {rule.code}: {rule.name}"
    yield from _wrap("", page.title)
    yield ""
    yield from _wrap("Kind", f"{_CALLED[rule.severity]} ({rule.severity}); looks at: {rule.scope}; part: {rule.part}")
    if rule.when:
        when = "; ".join(f"{name} ({CONDITIONS[name].says()})" for name in rule.when)
        yield from _wrap("Asked", f"when {when}")
    if rule.about:
        yield from _wrap("Answer", answered_by(rule.about))
    for heading in ("Why", "Wrong", "Right", "Fix", "Source"):
        yield from _wrap(heading, getattr(page, heading.lower()))


def _concept(concept: Concept, known: Sequence[Rule]) -> Iterator[str]:
    from woundfhir.checklist.rule import PRESENCE

    yield f"{concept.path}: {concept.label}"
    yield from _wrap("", concept.question)
    yield ""
    for language, label in concept.labels:
        yield from _wrap("Label", f"{label} ({language})")
    yield from _wrap("Shape", concept.shape + (", several" if concept.many else ""))
    if concept.units:
        yield from _wrap("Units", ", ".join(concept.units))
    if concept.low is not None or concept.high is not None:
        yield from _wrap("Range", f"{concept.low or '...'} to {concept.high or '...'}")
    if concept.answers is not None:
        other = "; other words are kept" if concept.answers.open else ""
        yield from _wrap("Answers", ", ".join(word.word for word in concept.answers.words) + other)
    if concept.fields:
        yield from _wrap("Fields", ", ".join(f"{key} ({field.shape})" for key, field in concept.fields.items()))
    when = f" when {' and '.join(concept.when)}" if concept.when else ""
    yield from _wrap("Asked", f"{concept.role}{when}")
    for coding in concept.codings:
        yield from _wrap("Code", f"{coding.system} {coding.code}" + (f" {coding.display}" if coding.display else ""))
    if concept.source:
        yield from _wrap("Source", f"of the code: {concept.source}")
    rule = next((one for one in known if one.code == f"{PRESENCE}{concept.path}"), None)
    if rule is not None:
        yield from _wrap("Why", rule.page.why)
        yield from _wrap("Example", rule.page.right)
        yield from _wrap("Rule", f"{rule.code}; source: {rule.page.source}")


def _key(key: FrameKey) -> Iterator[str]:
    from woundfhir.catalogue import catalogue, frame

    yield f"{key.path}: {key.label}"
    yield from _wrap("", key.question)
    yield ""
    yield from _wrap("Shape", key.shape + (", needed" if key.needed else ""))
    if key.words:
        other = "" if key.shape == "word" else "; other words are kept"
        yield from _wrap("Words", ", ".join(key.words) + other)
    if (part := frame().parts.get(key.of)) is not None and "part" in key.shape:
        yield from _wrap("Keys", ", ".join(f"{one.path} ({one.shape})" for one in part.keys.values()))
        if part.bare:
            yield from _wrap("", f"A text in its place is taken for '{part.bare}'.")
    elif key.of:
        yield from _wrap("Concepts", ", ".join(one.path for one in catalogue().groups[key.of].values()))


def _condition(name: str, known: Sequence[Rule]) -> Iterator[str]:
    from woundfhir.chart.conditions import CONDITIONS

    yield name
    yield from _wrap("", f"Holds when {CONDITIONS[name].says()}." if name != "always" else "Holds always.")
    yield ""
    asked = [one.code for one in known if name in one.when]
    yield from _wrap("Rules", ", ".join(asked) or "none; for a site's own rules")


def _policy(policy: Policy) -> Iterator[str]:
    yield f"{policy.name} {policy.version}: {policy.title}"
    for key, limit in policy.limits.items():
        yield ""
        yield f"{key} = {policy.says(key)}"
        yield from _wrap("", limit.meaning, "  ")
        yield from _wrap("", f"{limit.source} ({limit.mark})", "  ")
        if limit.others:
            yield from _wrap("", f"Others: {limit.others}", "  ")


def _wrap(heading: str, text: str, indent: str = "") -> list[str]:
    start = f"{heading + ':':<9}" if heading else indent
    return textwrap.wrap(
        text,
        100,
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_long_words=False,
        break_on_hyphens=False,
    )
