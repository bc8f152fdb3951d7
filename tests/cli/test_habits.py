"""What people expect of any command line: examples, suggestions, colours, settings, completion, a run that only looks.

Outside sources: the Command Line Interface Guidelines (clig.dev: examples first, suggestions, --quiet, --dry-run, -o),
no-color.org, click's own completion protocol, pre-commit's keys of a hook, SARIF's regions.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from woundfhir.cli import VERBS, cli, run
from woundfhir.cli.help import page_of
from woundfhir.cli.suggest import meant
from woundfhir.demo import story

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def call(capfdbinary: pytest.CaptureFixture[bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Call:
    """Run a command line in a folder of its own that holds the demo's story; code, output and messages."""
    (tmp_path / "story.yaml").write_bytes(story())
    monkeypatch.chdir(tmp_path)
    for name in [name for name in os.environ if name.startswith("WOUNDFHIR_") or name.endswith("_COLOR")]:
        monkeypatch.delenv(name)

    def inner(*args: str) -> tuple[int, str, str]:
        code = run(args)
        out, err = capfdbinary.readouterr()
        return code, out.decode(), err.decode()

    return inner


def _commands() -> dict[str, click.Command]:
    context = click.Context(cli)
    made = {verb: cli.get_command(context, verb) for verb in VERBS}
    return {verb: one for verb, one in made.items() if one is not None}


def test_every_help_begins_with_examples_that_name_its_own_options() -> None:
    commands = _commands()
    assert isinstance(commands["map"], click.Group)
    commands |= {f"map {part}": one for part, one in commands["map"].commands.items()}
    for verb, command in commands.items():
        _, mark, rest = page_of(verb)["text"].partition("\b\n")
        lines = [line.strip() for line in rest.split("\n\n", 1)[0].splitlines() if line.strip()]
        assert mark and "woundfhir" in lines[0], verb
        parts = command.commands.values() if isinstance(command, click.Group) else [command]
        known = {"--map", "--to"} if verb == "map table" else set()  # what the next command takes
        known |= {name for part in parts for one in part.params for name in (*one.opts, *one.secondary_opts)}
        used = {word for line in lines if "curl" not in line for word in line.split() if word[:1] == "-" != word}
        assert used <= known, verb


def test_the_command_alone_says_in_a_few_lines_what_to_write(call: Call) -> None:
    code, out, err = call()
    assert (code, out) == (2, "") and len(err.splitlines()) <= 12
    assert "woundfhir check note.yaml" in err and "woundfhir --help" in err and "woundfhir guide" in err
    assert "\n  woundfhir demo" in call("--help")[1]
    lines = [line.split("  ")[0] for text in (page_of("woundfhir")["text"], err) for line in text.splitlines()]
    assert {line.split()[1] for line in lines if line.startswith("woundfhir ")} <= {*VERBS, "COMMAND", "--help"}


def test_a_verb_without_its_input_shows_examples(call: Call) -> None:
    code, out, err = call("check")
    assert (code, out) == (2, "")
    assert "Missing argument" in err and "For example:\n  woundfhir check note.yaml" in err


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["chekc"], "Did you mean check?"),
        (["bundel", "x"], "Did you mean bundle?"),
        (["check", "-f", "jsn", "x"], "Did you mean json or ndjson?"),
        (["convert", "x", "--to", "fhirjson"], "Did you mean fhir-json?"),
        (["map", "propse", "x"], "propose"),
    ],
)
def test_a_slip_of_the_pen_is_answered_with_what_was_meant(call: Call, args: list[str], words: str) -> None:
    code, out, err = call(*args)
    assert (code, out) == (2, "") and words in err and err.count("Did you mean") <= 1


def test_what_is_near_nothing_gets_no_suggestion(call: Call) -> None:
    assert "Did you mean" not in call("zzzzzz")[2]
    assert meant(click.ClickException("something else")) == ""


def test_short_names_stand_for_the_same_options(call: Call) -> None:
    assert call("-V") == call("--version")
    assert call("check", "story.yaml", "-f", "json") == call("check", "story.yaml", "--format", "json")
    assert call("convert", "story.yaml", "-t", "csv")[:2] == call("convert", "story.yaml", "--to", "csv")[:2]


def test_colours_follow_the_option_then_the_environment(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    def coloured(*more: str) -> bool:
        return "\x1b[" in call("check", "story.yaml", "--all", *more)[1]

    assert not coloured() and coloured("--color", "always")
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert coloured() and not coloured("--color", "never")
    monkeypatch.setenv("NO_COLOR", "1")
    assert not coloured() and coloured("--color", "always")


def test_quiet_leaves_out_what_went_well_and_no_gap(call: Call) -> None:
    loud = call("bundle", "story.yaml", "-o", "a.json")
    quiet = call("bundle", "story.yaml", "-o", "b.json", "--quiet")
    assert "Wrote a.json" in loud[2] and "Wrote" not in quiet[2]
    assert "Not written in this history" in quiet[2]
    assert Path("a.json").read_bytes() == Path("b.json").read_bytes()


def test_a_run_that_only_looks_writes_nothing_and_refuses_what_would_be_refused(call: Call) -> None:
    code, _, err = call("bundle", "story.yaml", "-o", "a.json", "--sheet", "a.html", "--dry-run")
    assert code == 0 and "Would write a.json" in err and "Would write a.html" in err and "Wrote" not in err
    assert not Path("a.json").exists() and not Path("a.html").exists()
    Path("a.json").write_text("mine")
    assert call("bundle", "story.yaml", "-o", "a.json", "--dry-run")[0] == 2
    assert Path("a.json").read_text() == "mine"


@pytest.mark.parametrize(
    ("args", "path"),
    [
        (("demo", "shown"), "shown/story.csv"),
        (("trend", "story.yaml", "--wound", "W1", "--svg", "w1.svg"), "w1.svg"),
        (("profiles", "profiles"), "profiles/StructureDefinition-visit.json"),
        (("receive", "story.yaml", "--into", "clients"), "clients/record.yaml"),
    ],
)
def test_every_verb_that_writes_can_only_look(call: Call, args: tuple[str, ...], path: str) -> None:
    before = sorted(Path().iterdir())
    code, out, err = call(*args, "--dry-run")
    assert code == 0 and path in out + err and "Wrote" not in out + err
    assert sorted(Path().iterdir()) == before


def test_a_report_is_parted_between_words_for_a_narrow_terminal(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    wide = call("check", "story.yaml", "--all")[1]
    monkeypatch.setattr("woundfhir.cli.narrow.width", lambda: 40)
    for colour in ("never", "always"):
        narrow = call("check", "story.yaml", "--all", "--color", colour)[1]
        plain = [click.unstyle(line) for line in narrow.splitlines()]
        assert max(len(line) for line in plain if " " in line.strip()) <= 40
        assert " ".join(plain).split() == wide.split()
    assert "length cm" in call("trend", "story.yaml")[1]


@pytest.mark.parametrize(
    ("name", "begins"),
    [("a.json", "{"), ("a.html", "<!doctype"), ("a.sarif", "{"), ("a.xml", "<?xml"), ("a.txt", "1 ")],
)
def test_the_ending_of_the_file_chooses_the_report(call: Call, name: str, begins: str) -> None:
    call("check", "story.yaml", "-o", name)
    assert Path(name).read_text().lower().startswith(begins)


def test_the_command_line_wins_over_the_environment_and_that_over_the_file(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert call("check", "story.yaml")[0] == 1
    Path("woundfhir.toml").write_text('[check]\nfail-on = "never"\n')
    assert call("check", "story.yaml")[0] == 0
    monkeypatch.setenv("WOUNDFHIR_CHECK_FAIL_ON", "error")
    assert call("check", "story.yaml")[0] == 1
    assert call("check", "story.yaml", "--fail-on", "never")[0] == 0


def test_settings_are_found_above_and_in_a_shared_file(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("pyproject.toml").write_text('[tool.woundfhir.check]\nfail-on = "never"\nall = true\n')
    below = Path("a") / "b"
    below.mkdir(parents=True)
    monkeypatch.chdir(below)
    code, out, _ = call("check", "../../story.yaml")
    assert code == 0 and len(out.splitlines()) > 7
    found = json.loads(call("config", "--format", "json")[1])
    assert [(one["verb"], one["option"], one["value"]) for one in found] == [
        ("check", "fail-on", "never"),
        ("check", "all", True),
    ]
    monkeypatch.setenv("WOUNDFHIR_CONFIG", "none.toml")
    assert call("check", "../../story.yaml")[0] == 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('polcy = "ontario"', "Did you mean policy"),
        ('[chek]\nfail-on = "never"', "Did you mean check"),
        ("[check]\nfail_on = 1", "Did you mean fail-on"),
        ("[check]\nforce = true", "each time"),
        ("[receive]\nsame-client = true", "each time"),
        ("[bundle]\nnewest = 1", "each time"),
        ("[bundle]\nattested-by = 'N1'", "each time"),
        ("[convert]\npatient = '2'", "each time"),
        ("[check]\ntoday = '2026-03-01'", "each time"),
        ("[receive]\nkeep-whole = true", "each time"),
        ("[receive]\naccept-unsigned = true", "each time"),
        ("force = true", "each time"),
        ("[check]\nshow-values = true", "each time"),
        ("[check", "TOML"),
    ],
)
def test_a_setting_that_cannot_hold_is_refused_with_what_to_do(call: Call, text: str, words: str) -> None:
    Path("woundfhir.toml").write_text(text)
    verb = next((one for one in ("receive", "bundle", "convert") if one in text), "check")
    for args in (("config",), (verb, "story.yaml")):
        code, out, err = call(*args)
        assert code == 2 and words in err and out == "" and "Traceback" not in err


def test_the_file_of_another_project_does_not_matter(call: Call) -> None:
    Path("pyproject.toml").write_text("[tool.other]\nx = ")
    assert call("check", "story.yaml", "--fail-on", "never")[0] == 0
    assert "No settings" in call("config")[1]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_can_complete(call: Call, shell: str) -> None:
    code, out, _ = call("completion", shell)
    assert code == 0 and "_WOUNDFHIR_COMPLETE" in out
    if shell == "bash":
        subprocess.run(["bash", "-n"], input=out, text=True, check=True)
    words = {
        "COMP_WORDS": "woundfhir ch",
        "COMP_CWORD": "ch" if shell == "fish" else "1",
        "_WOUNDFHIR_COMPLETE": f"{shell}_complete",
    }
    program = "import sys; sys.argv[0] = 'woundfhir'; from woundfhir.cli import main; main()"
    asked = subprocess.run(
        [sys.executable, "-c", program], env={**os.environ, **words}, capture_output=True, text=True, check=False
    )
    assert "check" in asked.stdout and "Traceback" not in asked.stderr


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("check no", {"file,no"}),
        ("check --policy ont", {"plain,ontario"}),
        ("check --policy ./own", {"file,./own"}),
        ("compare a.yaml b", {"file,b"}),
        ("explain PK03", {"plain,PK03"}),
        ("guide how-si", {"plain,how-sign"}),
        ("catalogue woun", {"plain,wound"}),
        ("check -f sar", {"plain,sarif"}),
    ],
)
def test_values_are_completed_by_names_that_we_know_and_by_files(line: str, offered: set[str]) -> None:
    """As the protocol of click has it; the scripts were tried in bash 5.2, zsh 5.9 and fish 3.6 by hand."""
    words = f"woundfhir {line}".split()
    asked = {"COMP_WORDS": " ".join(words), "COMP_CWORD": str(len(words) - 1), "_WOUNDFHIR_COMPLETE": "bash_complete"}
    program = "import sys; sys.argv[0] = 'woundfhir'; from woundfhir.cli import main; main()"
    ran = subprocess.run(
        [sys.executable, "-c", program], env={**os.environ, **asked}, capture_output=True, text=True, check=False
    )
    assert set(ran.stdout.split()) == offered, ran.stderr


def test_a_line_of_help_is_whole_in_fish(call: Call) -> None:
    assert 'string split -m 1 ","' in call("completion", "fish")[1]
    assert "\\t" not in call("completion")[2]


def test_build_reports_name_line_and_column(call: Call) -> None:
    Path("small.yaml").write_text(
        "woundfhir: 1\npatient: {name: A}\nwounds:\n- id: W1\n  kind: skin tear\n"
        "visits:\n- id: V1\n  wounds:\n  - wound: W1\n"
        "    care: {packing: [{material: rope, pieces_in: 2}]}\n"
    )
    lines = Path("small.yaml").read_text().splitlines()
    found = json.loads(call("check", "small.yaml", "-f", "json")[1])["findings"]
    assert found and all("line" in one for one in found if one["path"])
    for one in found:
        if one["path"].endswith("care.packing[0].pieces_in"):
            assert lines[one["line"] - 1][one["column"] - 1 :].startswith("pieces_in")
    commands = call("check", "small.yaml", "-f", "github")[1].splitlines()
    assert len(commands) == len(found) and all(line.startswith("::") for line in commands)
    first = next(one for one in found if one["path"])
    assert any(f"file=small.yaml,line={first['line']},col={first['column']}," in line for line in commands)
    sarif = json.loads(call("check", "small.yaml", "-f", "sarif")[1])["runs"][0]["results"]
    regions = [one["locations"][0]["physicalLocation"]["region"]["startLine"] for one in sarif]
    assert regions == [one["line"] for one in found]


def test_a_fault_shows_its_traceback_only_when_asked(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("woundfhir.intake.source.read_all", broken)
    assert "Traceback" not in call("check", "story.yaml")[2]
    assert "Traceback" in call("check", "story.yaml", "--debug")[2]
    assert "Traceback" not in call("check", "story.yaml")[2]


def test_verbose_says_what_holds_and_no_value_of_a_client(call: Call, tmp_path: Path) -> None:
    """clig.dev: an option for more detail; it goes to standard error, and what is piped stays the same."""
    (tmp_path / "woundfhir.toml").write_text('[check]\nformat = "json"\n', "utf-8")
    plain = call("check", "story.yaml")
    code, out, err = call("check", "story.yaml", "--verbose", "--policy", "ontario", "--patient", "0000000000")
    assert (code, out) != plain[:2]  # the client that was named is not there
    assert "Policy: ontario" in err and "0000000000" not in err.partition("story.yaml")[0]
    code, out, err = call("check", "story.yaml", "-v", "--lang", "fr")
    assert (code, err.count("langue fr-CA"), "Réglage --format json" in err) == (plain[0], 1, True)
    assert json.loads(out) and not call("check", "story.yaml", "-v", "-q")[2].startswith("woundfhir ")
