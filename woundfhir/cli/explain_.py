"""``woundfhir explain``: the page of a rule, of a concept, or of a policy; without an argument the list of rules."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from importlib.resources import files
from typing import TYPE_CHECKING

import click

from woundfhir.cli import options
from woundfhir.cli.explained import (
    answers_page,
    code_page,
    concept_page,
    condition_page,
    key_page,
    policy_page,
    retired_page,
    rule_page,
    rules_list,
    tables_page,
)
from woundfhir.errors import InputError
from woundfhir.language import ENGLISH, spoken

if TYPE_CHECKING:
    from woundfhir.catalogue import Concept, FrameKey
    from woundfhir.checklist import Rule

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
    lines = rules_list(known) if name is None else _page(name, known)
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
        return tables_page(wanted.partition(".")[2])
    if wanted in CONDITIONS:
        return condition_page(wanted, known)
    rule = next((one for one in known if wanted in (one.code.casefold(), one.name.casefold())), None)
    if rule is not None:
        return rule_page(rule)
    if wanted in BUILT_IN or wanted.endswith(".toml"):
        return policy_page(load(name.strip()))
    if (found := _concept_named(wanted)) is not None:
        return concept_page(found, known)
    if (key := _frame_key(wanted)) is not None:
        return key_page(key)
    if (now := successor(wanted)) is not None:
        return retired_page(name.strip(), now, known)
    if (answers := catalogue().answers.get(wanted.replace("-", "_").replace(" ", "_"))) is not None:
        return answers_page(answers)
    if lines := list(code_page(name.strip())):
        return iter(lines)
    expected = (
        "a rule, a concept such as assessment.length, a key such as patient.born, a condition, a policy, "
        "an answer list, a code"
    )
    raise InputError("explain", expected, _near(wanted, known))


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
