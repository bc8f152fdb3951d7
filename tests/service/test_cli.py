"""``woundfhir serve`` on the command line: what is wrong is named before it listens; other verbs load none of it."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.paths import ROOT
from woundfhir.cli import run


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--host", "0.0.0.0"], "--host: expected a token"),
        (["--policy", "none"], "policy"),
        (["--checklist", "none"], "checklist"),
        (["--defaults", "none"], "none"),
        (["--map", "none"], "none"),
        (["--site", "none"], "none"),
        (["--certificate", "none"], "--certificate: expected a certificate in PEM"),
        (["--port", "70000"], "70000 is not in the range"),
        (["--token", "x"], "No such option"),
    ],
)
def test_what_is_wrong_is_reported_first(
    options: list[str], words: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("WOUNDFHIR_SERVE_TOKEN", "WOUNDFHIR_SERVE_TOKEN_FILE"):
        monkeypatch.delenv(name, raising=False)
    assert run(["serve", *options]) == 2
    out, err = capsys.readouterr()
    assert out == "" and words in err and "Traceback" not in err


def test_other_verbs_load_no_web() -> None:
    code = (
        "import sys; from woundfhir.cli import run; "
        "run(['check', '-', '--all']); run(['--help']); run(['convert', '--help']); "
        "print([one for one in sys.modules if one.split('.')[0] in ('starlette', 'uvicorn', 'anyio', 'httpx')])"
    )
    note = '{"woundfhir": 1, "patient": {"born": "1948-03"}}'
    done = subprocess.run(
        [sys.executable, "-c", code], input=note, capture_output=True, text=True, cwd=ROOT, timeout=120
    )
    assert done.stdout.splitlines()[-1] == "[]", done.stderr
