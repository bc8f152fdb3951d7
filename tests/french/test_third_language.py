"""A third language, of which only a line in ``LANGUAGES`` and one text exist: everything else is shown in English."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

_RUN = """
import contextlib, io, json, sys
from woundfhir import language
NEW = language.Language("es", "es", "es", ",", " ", ("lun.",) * 7, "%H:%M")
language.LANGUAGES["es"] = NEW
from woundfhir import texts
read = texts.read_tables
begun = {("woundfhir.report", "es"): {"report": {"counts": {"add": "{number} por escribir"}}}}
texts.read_tables = lambda package, one: begun.get((package, one)) or read(package, one)
from woundfhir.cli import run
def answer(asked):
    out = io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        code = run([*asked.split(), "--lang", "es"])
    return code, out.buffer.getvalue().decode()
print(json.dumps({asked: answer(asked) for asked in sys.argv[1:]}))
"""


#: What is asked for in the language that is begun, and what stands in the answer.
ASKED = {
    "check story.yaml": "3 por escribir",
    "check story.yaml --all": "Cleansing: not written",
    "check none.yaml": "there is no such file",
    "explain note": "How a note is written",
    "explain assessment.odour": "Is there an odour after cleansing?",
    "trend story.yaml": "58 % smaller",
    "new --kind burn": "Fill in what you saw and did",
    "bundle story.yaml -o out.json --sheet out.html": "Wrote out.html",
    "check --help": "Check the notes in IN",
}


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[int, str]]:
    """Exit code and words of each command, in one process of its own: the languages of this one stay as they are."""
    from woundfhir.demo import story

    folder = tmp_path_factory.mktemp("begun")
    (folder / "story.yaml").write_bytes(story())
    command = [sys.executable, "-c", _RUN, *ASKED]
    done = subprocess.run(command, capture_output=True, text=True, cwd=folder, timeout=300)
    assert done.returncode == 0, done.stderr[-800:]
    return dict(json.loads(done.stdout))


@pytest.mark.parametrize("asked", ASKED)
def test_a_language_that_is_begun_speaks_english_where_it_has_no_words(
    answers: dict[str, tuple[int, str]], asked: str
) -> None:
    code, said = answers[asked]
    assert ASKED[asked] in said, said[-800:]
    assert code in (0, 1) or "none.yaml" in asked
