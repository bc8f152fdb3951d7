"""Inputs as other systems write them, with what must come of them, written down before any of them was run.

The shapes are those of published guides (R4, US Core, IPS, CA Baseline, the skin and wound guide, zib) and of servers
and interface engines (common practice, no source). Each line of ``cases.jsonl`` says of its resources:

clients, wounds   how many there are; several clients are refused. Left out: not laid down.
facts             answers that must stand in the record: concept=value
never             words that no answer may hold: withdrawn, denied, of somebody else, in another unit
pairs             site of a wound -> the sizes of that wound, and no others
reported          patterns that the report must hold
refused           a refusal is right too
"""

from __future__ import annotations

import copy
import json
import random
import re
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.intake.foreign.for_server import for_server
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.handover import bundle
from woundfhir.handover.receive import receive
from woundfhir.intake.formats import FORMATS
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.validation import issues
from woundfhir.r4 import jsonio
from woundfhir.record import History

Json = Any
CASES = {
    case["name"]: case
    for line in (Path(__file__).parent / "cases.jsonl").read_text("utf-8").splitlines()
    for case in (json.loads(line, parse_float=Decimal),)
}
READ = sorted(name for name, case in CASES.items() if case.get("clients") == 1 and not case.get("refused"))


def answers(node: Json, key: str = "", path: str = "") -> Iterator[tuple[str, str, str]]:
    """Yield key, text and path of each leaf of a record but those kept in ``extra``."""
    if isinstance(node, dict):
        for name, value in node.items():
            if name != "extra":
                yield from answers(value, name, f"{path}/{name}")
    elif isinstance(node, list):
        for value in node:
            yield from answers(value, key, path)
    elif node is not None:
        yield key, str(node), path


def same(one: str, other: str) -> bool:
    """Whether two answers are equal; numbers with a unit are compared as numbers."""
    parts = [re.fullmatch(r"([<>]?)([\d.]+) (\S+)", text) for text in (one, other)]
    if not all(parts):
        return one == other
    here, there = ((part[1], Decimal(part[2]), part[3]) for part in parts if part)
    return here == there


def loose(history: History) -> Counter[tuple[str, str]]:
    """Return what a record says, without ids and order."""
    return Counter((key, text) for key, text, _ in answers(history.data) if key not in ("id", "wound", "visit"))


def sizes(history: History, site: str) -> list[str]:
    """Return the sizes of the wound whose site and side hold all these words."""
    wounds = {w["id"]: f"{w.get('site', '')} {w.get('side', '')}".casefold() for w in history.wounds}
    return [
        f"{key}={text}"
        for visit in history.visits
        for entry in visit.get("wounds", ())
        if all(word.casefold() in wounds[entry["wound"]] for word in site.split())
        for key, text, _ in answers(entry.get("assessment", {}))
        if key in ("length", "width", "depth")
    ]


def has(found: list[str], wanted: str) -> bool:
    key, _, value = wanted.partition("=")
    return any(one.partition("=")[0] == key and same(one.partition("=")[2], value) for one in found)


@pytest.mark.parametrize("name", sorted(CASES))
def test_what_comes_of_a_strangers_input(name: str) -> None:
    case = CASES[name]
    clients = case.get("clients")
    try:
        history, losses = from_fhir(case["resources"])
    except InputError:
        assert case.get("refused") or (clients is not None and clients > 1)
        return
    assert clients is None or clients == 1, "clients were joined"
    if "wounds" in case:
        assert len(history.wounds) == case["wounds"]
    found = [f"{key}={text}" for key, text, _ in answers(history.data)]
    assert [fact for fact in case.get("facts", ()) if not has(found, fact)] == []
    for words in case.get("never", ()):
        assert [text for text in found if re.search(r"(?<![\d.])" + re.escape(words), text.partition("=")[2])] == []
    for site, wanted in case.get("pairs", {}).items():
        here = sizes(history, site)
        assert [one for one in wanted if not has(here, one)] == []
        assert [one for one in here if not has(wanted, one)] == []
    report = json.dumps(losses.json()) + "\n".join(losses.lines())
    assert [words for words in case.get("reported", ()) if not re.search(words, report)] == []


@pytest.mark.parametrize("name", READ)
def test_what_is_written_says_the_same(name: str) -> None:
    history, _ = from_fhir(CASES[name]["resources"])
    again, _ = from_fhir(to_fhir(history))
    assert loose(again) == loose(history)


AT = "2026-03-09T10:00:00Z"
KINDS: tuple[Any, ...] = ("document", "collection", "transaction")


@pytest.mark.parametrize("name", READ)
def test_every_own_output_is_read_again(name: str) -> None:
    """All formats, all kinds of Bundle, and what is received; XML cannot carry what has not the structure of R4."""
    history, _ = from_fhir(CASES[name]["resources"])
    said = loose(history)
    for form, one in FORMATS.items():
        if "convert" in one.why_not:
            continue
        try:
            content = one.write(history)
        except InputError:
            assert not to_fhir(history) or (form == "fhir-xml" and issues(CASES[name]["resources"], []))
            continue
        assert loose(one.read(content, form).history) == said, form
    # A server could not tell clients without an identifier apart, nor keep two versions: a transaction is refused.
    kinds = KINDS if for_server(history) else KINDS[:2]
    for kind in kinds if to_fhir(history) else ():
        made = bundle(history, kind, at=AT)
        assert loose(from_fhir([made])[0]) == said, kind
        assert loose(receive(jsonio.encode(made)).came) == said, kind


@pytest.mark.parametrize("name", READ)
def test_neither_order_nor_copies_change_what_is_read(name: str) -> None:
    came = CASES[name]["resources"]
    history, _ = from_fhir(came)
    turned = copy.deepcopy(came)
    holders = [one["entry"] for one in turned if one.get("resourceType") == "Bundle"] or [turned]
    for entries in holders:
        entries.extend(copy.deepcopy(entries))
        random.Random(name).shuffle(entries)
    assert loose(from_fhir(turned)[0]) == loose(history)
