"""The README's commands are those of the tool, and its Python runs."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from tests.paths import ROOT
from woundfhir.cli import VERBS, cli
from woundfhir.demo import story

TEXT = (ROOT / "README.md").read_text("utf-8")


def test_it_holds_exactly_the_two_commands_for_a_fresh_machine() -> None:
    assert TEXT.count("python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/woundfhir demo\n") == 1
    assert TEXT.count('.venv/bin/pip install ".[test]" && .venv/bin/pytest\n') == 1


def test_every_command_in_it_has_a_verb_and_known_options() -> None:
    lines = re.findall(r"^woundfhir ([\w-]+)(.*?)(?:#.*)?$", TEXT, re.MULTILINE)
    assert len(lines) > 10
    for verb, rest in lines:
        assert verb in VERBS
        command = cli.get_command(click.Context(cli), verb)
        if isinstance(command, click.Group):
            command = command.get_command(None, rest.split()[0])  # type: ignore[arg-type]
        assert command is not None
        options = {name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)}
        assert set(re.findall(r"(?<=\s)(--?[a-z][a-z-]*)", rest)) <= options, (verb, rest)


def test_its_python_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "notes.yaml").write_bytes(story())
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for code in re.findall(r"```python\n(.*?)```", TEXT, re.DOTALL):
        exec(compile(code, "README.md", "exec"), names)
