"""A third language, of which only a line in ``LANGUAGES`` and one text exist: everything else is shown in English."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

_RUN = """
import sys
from woundfhir import language
NEW = language.Language("es", "es", "es", ",", " ", ("lun.",) * 7, "%H:%M")
language.LANGUAGES["es"] = NEW
from woundfhir import texts
read = texts.read_tables
begun = {("woundfhir.report", "es"): {"report": {"counts": {"add": "{number} por escribir"}}}}
texts.read_tables = lambda package, one: begun.get((package, one)) or read(package, one)
from woundfhir.cli import run
sys.exit(run(sys.argv[1:]))
"""


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ("check story.yaml", "3 por escribir"),
        ("check story.yaml --all", "Cleansing: not written"),
        ("check none.yaml", "there is no such file"),
        ("explain note", "How a note is written"),
        ("explain assessment.odour", "Is there an odour after cleansing?"),
        ("trend story.yaml", "58 % smaller"),
        ("new --kind burn", "Fill in what you saw and did"),
        ("bundle story.yaml -o out.json --sheet out.html", "Wrote out.html"),
        ("check --help", "Check the notes in IN"),
    ],
)
def test_a_language_that_is_begun_speaks_english_where_it_has_no_words(tmp_path: Path, args: str, words: str) -> None:
    from woundfhir.demo import story

    (tmp_path / "story.yaml").write_bytes(story())
    command = [sys.executable, "-c", _RUN, *args.split(), "--lang", "es"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, timeout=120)
    assert words in done.stdout + done.stderr, done.stderr[-800:]
    assert done.returncode in (0, 1) or "none.yaml" in args
