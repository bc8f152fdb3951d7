"""What needs an extra that is not installed: one message with the line that installs it, and all the rest runs."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.jose import vectors
from tests.paths import ROOT
from woundfhir.extras import EXTRAS

STORY = str(ROOT / "examples" / "skin-tear" / "story.yaml")
#: Before the command line is imported: modules that cannot be.
HIDDEN = (
    "import sys; sys.modules.update(dict.fromkeys(sys.argv.pop(1).split(','))); from woundfhir.cli import main; main()"
)
#: Extra -> what is asked for; ``{key}``: a private key.
ASKED = {
    "page": ["page", "{folder}"],
    "pdf": ["bundle", STORY, "-o", "{folder}/out.json", "--sheet", "{folder}/out.pdf"],
    "server": ["serve", "--port", "0"],
    "signatures": ["bundle", STORY, "-o", "{folder}/out.json", "--sign", "{key}"],
    "tables": ["convert", STORY, "--to", "parquet", "--table", "sizes", "-o", "{folder}/out.parquet"],
}
MORE = [
    ("server", ["send", STORY, "--to", "http://localhost:9/fhir", "--dry-run"]),
    ("server", ["fetch", "http://localhost:9/fhir", "--patient", "x|y", "-o", "{folder}/out.json"]),
    ("server", ["check", STORY, "--terminology", "http://localhost:9/fhir"]),
    ("signatures", ["receive", "{folder}/key.pem", "--key", "{key}", "--into", "{folder}/out"]),
    ("signatures", ["page", "{folder}", "--sign", "{key}"]),
]


def hidden(extras: list[str], line: list[str], folder: Path, language: str = "en") -> subprocess.CompletedProcess[str]:
    """Run a command line in a Python where nothing of some extras can be imported."""
    modules = ",".join(sorted({module for extra in extras for module in EXTRAS[extra].values()}))
    environment = os.environ | {"WOUNDFHIR_LANG": language, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-c", HIDDEN, modules, *line],
        cwd=folder,
        capture_output=True,
        text=True,
        env=environment,
        timeout=120,
        check=False,
    )


@pytest.mark.parametrize("language", ["en", "fr"])
@pytest.mark.parametrize(
    ("extra", "line"), [*ASKED.items(), *MORE], ids=lambda one: one if isinstance(one, str) else one[0]
)
def test_one_message_says_what_is_missing_and_how_to_install_it(
    extra: str, line: list[str], language: str, tmp_path: Path
) -> None:
    key = tmp_path / "key.pem"
    key.write_bytes(vectors.certificate()[0])
    key.chmod(0o600)
    ran = hidden([extra], [part.format(folder=tmp_path, key=key) for part in line], tmp_path, language)
    assert (ran.returncode, ran.stdout) == (2, ""), ran.stderr
    assert ran.stderr.count("\n") == 1 and ran.stderr.startswith("woundfhir: ")
    assert f"pip install 'woundfhir[{extra}]'" in ran.stderr
    assert all(package in ran.stderr for package in EXTRAS[extra])
    assert re.search("missing|needs" if language == "en" else "il manque", ran.stderr)
    assert {path.name for path in tmp_path.iterdir()} == {"key.pem"}


def test_without_any_extra_the_rest_runs(tmp_path: Path) -> None:
    def run(*line: str) -> str:
        ran = hidden(sorted(EXTRAS), list(line), tmp_path)
        assert ran.returncode in (0, 1) and ran.stderr.count("a fault of ours") == 0, (line, ran.stderr)
        return ran.stdout

    assert "\x1b[" in run("check", STORY, "--all", "--color", "always")
    run("convert", STORY, "-o", "story.fhir.xml")
    run("convert", "story.fhir.xml", "-o", "again.csv")
    run("bundle", STORY, "-o", "sent.json", "--sheet", "sheet.html")
    run("receive", "sent.json", "--into", "client")
    run("profiles", "definitions")
    assert "PK03" in run("guide", "PK03")
    assert (tmp_path / "sheet.html").stat().st_size > 10_000


def test_the_extras_are_those_of_the_package() -> None:
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"]
    for extra, packages in EXTRAS.items():
        names = {re.split(r"[<>=\[]", one)[0] for one in declared[extra]}
        assert set(packages) <= names, extra
