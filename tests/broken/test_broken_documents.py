"""Does whoever checks or receives a broken document hear of it? One fault a document; see ``variants``."""

from __future__ import annotations

import json
from contextlib import redirect_stderr, redirect_stdout
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.broken.variants import MARK, VARIANTS, Variant, sound
from woundfhir.cli import run

#: Variants that are not yet spoken of, by verb. They are named here so that the list can only shrink.
SILENT: dict[str, frozenset[str]] = {"check": frozenset(), "receive": frozenset()}
_VERBS = {"check": ["--all", "--today", "2026-12-01"], "receive": []}
#: What the document says of people, and what stands in a fault: none of it in a message.
_VALUES = (MARK, "Example-Alder", "C-0532", "C-9999", "02/03/1939", "1e+30", "10000000000", "72514-4", "428220002")


class _Said(NamedTuple):
    code: int
    lines: frozenset[str]


def _run(verb: str, content: bytes, folder: Path) -> _Said:
    path = folder / "document.json"
    path.write_bytes(content)
    kept = BytesIO()
    out = TextIOWrapper(kept, "utf-8", write_through=True)
    with redirect_stdout(out), redirect_stderr(out):
        code = run([verb, str(path), *_VERBS[verb]])
    text = kept.getvalue().decode().replace(str(path), "document")
    assert code in (0, 1, 2) and "Traceback" not in text, text
    return _Said(code, frozenset(text.splitlines()))


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> dict[str, _Said]:
    folder = tmp_path_factory.mktemp("sound")
    return {verb: _run(verb, json.dumps(sound()).encode(), folder) for verb in _VERBS}


def _spoken(variant: Variant, said: _Said, before: _Said) -> bool:
    new = "\n".join(sorted(said.lines - before.lines))
    return any(word in new for word in variant.words)


def test_there_are_enough_and_the_list_of_silent_ones_names_variants() -> None:
    assert len(VARIANTS) >= 64
    assert all(names <= VARIANTS.keys() for names in SILENT.values())


@pytest.mark.parametrize("verb", _VERBS)
@pytest.mark.parametrize("name", VARIANTS)
def test_a_broken_document_is_spoken_of(name: str, verb: str, before: dict[str, _Said], tmp_path: Path) -> None:
    variant = VARIANTS[name]
    said = _run(verb, variant.content(), tmp_path)
    new = "\n".join(sorted(said.lines - before[verb].lines))
    assert not [value for value in _VALUES if value in new], new
    assert _spoken(variant, said, before[verb]) == (name not in SILENT[verb]), new or "nothing is said"
    if verb == "check" and name not in SILENT[verb] and not variant.mild:
        assert said.code in (1, 2), new
