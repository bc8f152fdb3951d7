"""Odd arguments for every verb: one clear message, an exit code as documented, no traceback, nothing changed or left.

The verbs, their arguments and their options are those of the command line itself, so that a new one is tried too.
Each option is tried with two odd values that differ from option to option, and without a value.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import click
import pytest

from tests.paths import ROOT
from woundfhir.cli import cli

#: Empty, a folder, a device, a new line, too long, not UTF-8, a number below all, a file as a folder, the input itself.
ODD = ("", ".", "/dev/null", "a\nb.json", "9" * 400, "\udcff.json", "-1", "note.yaml/x", "note.yaml", "no/such/x.json")
GOOD = {
    "file": "map.toml",
    "path": "map.toml",
    "folder": "out",
    "url": "http://127.0.0.1:9/fhir",
    "name": "W01",
    "group": "wound",
    "topic": "nurse",
    "shell": "bash",
}
REQUIRED = {"send": ["--to", "http://127.0.0.1:9/fhir"], "fetch": ["--patient", "urn:x|1"]}
#: These write much, whatever they are given.
LARGE = {("demo",), ("profiles",), ("guide",)}


def _verbs(command: click.Command, name: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    if not isinstance(command, click.Group):
        yield name, command
        return
    context = click.Context(command)
    for one in command.list_commands(context):
        inner = command.get_command(context, one)
        assert inner is not None
        yield from _verbs(inner, (*name, one))


VERBS = dict(_verbs(cli))


def _cases(name: tuple[str, ...], command: click.Command) -> Iterator[list[str]]:
    arguments = [one for one in command.params if isinstance(one, click.Argument)]
    options = [one for one in command.params if isinstance(one, click.Option) and not one.is_flag and not one.count]
    good = [GOOD.get(str(one.name), "note.yaml") for one in arguments if one.required]
    head, turn = [*name, *REQUIRED.get(name[0], [])], count()
    for place, _ in enumerate(arguments):
        for odd in ODD[:6] if name not in LARGE else ODD[4:6]:
            yield [*head, *good[:place], odd, *good[place + 1 :]]
    if good:
        yield [*head, *good, good[0]]
    for option in options:
        for _ in range(1 if name in LARGE else 2):
            yield [*head, *good, option.opts[-1], ODD[next(turn) * 3 % len(ODD)]]
        yield [*head, *good, option.opts[-1]]


@pytest.mark.parametrize("name", VERBS, ids=" ".join)
def test_an_odd_argument_is_answered(
    name: tuple[str, ...], said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("woundfhir.web.listen.listen", lambda *_: None)
    monkeypatch.setattr("woundfhir.server.connection.FIRST_WAIT", 0.0)
    story = (ROOT / "examples/skin-tear/story.yaml").read_bytes()
    for number, args in enumerate(_cases(name, VERBS[name])):
        folder = tmp_path / str(number)
        folder.mkdir()
        monkeypatch.chdir(folder)
        Path("note.yaml").write_bytes(story)
        Path("map.toml").write_text("table = 1\n")
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"")))
        code, _, err = said(*args)
        assert code in (0, 1, 2), (args, err)
        assert Path("note.yaml").read_bytes() == story, args
        if code == 2:
            assert 0 < len(err) < 1500, (args, err)
            assert sorted(one.name for one in folder.iterdir()) == ["map.toml", "note.yaml"], args
