"""Run every block of the guide and the README, and write what the commands answer into them.

    python tools/build_guide.py                 # write; then read the difference
    python tools/build_guide.py first-minute    # one page
    python tools/build_guide.py --pictures      # the pictures; that of the sheet in Chromium

Blocks of ``console`` hold commands behind ``$``, each with what it answers, standard error too; ``...`` stands for any
lines, and inside a line for any words: what is long, or differs from run to run. ``console running`` is a command that
goes on until the page ends. Blocks of ``python`` are run, one after the other in one namespace; a block ``output``
behind one is what it prints. A block with a file name (``yaml note.yaml``) is that file. The address of the FHIR server
in the examples is played by a server on this machine.

``tests/guide/test_blocks.py`` does the same and compares.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))  # the toolkit of this checkout, whichever is installed: before it is imported

from woundfhir.cli import run  # noqa: E402

#: The address that pages name where a FHIR server is needed.
SERVER = "https://fhir.example.org/r4"
_BLOCK = re.compile(r"^(?P<fence>```+)(?P<info>[^\n`]*)\n(?P<body>.*?)^(?P=fence)$", re.MULTILINE | re.DOTALL)
_SHELL = re.compile(r"[|<>;&$*]|^(?!woundfhir )")
#: What blocks can be besides files: commands, Python, what that prints, and text that nobody runs.
KINDS = ("console", "python", "output", "text")


@dataclass
class Block:
    """One block of a page: its kind, the rest of its first line, its lines, and where they stand."""

    kind: str
    name: str
    body: str
    start: int
    end: int


def blocks(page: str) -> list[Block]:
    """Return the blocks of a page in order."""
    found = []
    for one in _BLOCK.finditer(page):
        kind, _, name = one["info"].strip().partition(" ")
        found.append(Block(kind, name.strip(), one["body"], one.start("body"), one.end("body")))
    return found


@dataclass
class Workplace:
    """A folder in which the blocks of one page are run, in order."""

    folder: Path
    server: str = ""
    names: dict[str, Any] = field(default_factory=dict)
    printed: str = ""
    going: list[subprocess.Popen[str]] = field(default_factory=list)

    def run(self, block: Block) -> str:
        """Run a block, and return what it should say: commands with their answers, or what Python printed."""
        if block.kind == "console":
            return "".join(self._commands(block))
        if block.kind == "python":
            self._python(block.body)
        elif block.kind == "output":
            return self.printed
        elif block.name:
            path = self.folder / block.name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block.body, "utf-8")
        return block.body

    def close(self) -> None:
        """Stop what is still going, as Ctrl-C does."""
        for one in self.going:
            one.send_signal(signal.SIGINT)
            one.communicate(timeout=30)

    def _commands(self, block: Block) -> Iterator[str]:
        for line, expected in commands(block.body):
            said = self._start(line) if block.name == "running" else self.answer(line)
            yield f"$ {line}\n{expected if matches(expected, said) else said}"

    def answer(self, line: str) -> str:
        """Return what a command says; a verb runs in this process, anything else in a shell.

        Raises
        ------
        RuntimeError
            When it cannot run: a page shows no command that fails.
        """
        with self._here():
            if _SHELL.search(line):
                done = subprocess.run(
                    ["bash", "-c", self._to(line)], capture_output=True, text=True, env=self._environment(), check=False
                )
                said, code = done.stdout + done.stderr, done.returncode
            else:
                said, code = _in_process(shlex.split(self._to(line))[1:])
        if code not in (0, 1):
            raise RuntimeError(f"{line}\nexit code {code}\n{said}")
        said = said.replace(self.server, SERVER) if self.server else said
        return said if said.endswith("\n") or not said else f"{said}\n"

    def _start(self, line: str) -> str:
        one = subprocess.Popen(
            ["bash", "-c", f"exec {line}"],
            stderr=subprocess.PIPE,
            text=True,
            cwd=self.folder,
            env=self._environment(),
            start_new_session=True,
        )
        self.going.append(one)
        assert one.stderr is not None
        said = one.stderr.readline()
        time.sleep(0.2)
        if one.poll() is not None:
            raise RuntimeError(f"{line}\nit ended at once\n{said}")
        return said

    def _python(self, code: str) -> None:
        out = io.StringIO()
        self.names.setdefault("__name__", "__main__")
        with self._here(), contextlib.redirect_stdout(out):
            exec(compile(self._to(code), "<page>", "exec"), self.names)
        self.printed = out.getvalue()

    def _to(self, text: str) -> str:
        return text.replace(SERVER, self.server) if self.server else text

    @contextlib.contextmanager
    def _here(self) -> Iterator[None]:
        """In the folder of the page, with no settings of whoever runs this."""
        before = dict(os.environ)
        for name in [name for name in os.environ if name.startswith("WOUNDFHIR_") or name.endswith("_COLOR")]:
            del os.environ[name]
        try:
            with contextlib.chdir(self.folder):
                yield
        finally:
            os.environ.clear()
            os.environ.update(before)

    def _environment(self) -> dict[str, str]:
        """With a ``woundfhir`` on the path that is the one of this checkout."""
        bin_folder = self.folder.parent / f"{self.folder.name}-bin"
        if not bin_folder.exists():
            bin_folder.mkdir()
            program = bin_folder / "woundfhir"
            program.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m woundfhir "$@"\n', "utf-8")
            program.chmod(0o755)
        return {**os.environ, "PATH": f"{bin_folder}:{os.environ['PATH']}", "PYTHONPATH": str(ROOT)}


def commands(body: str) -> list[tuple[str, str]]:
    """Return the commands of a block, each with what it is to answer.

    Examples
    --------
    >>> commands("$ a\\nb\\n$ c \\\\\\n  d\\n")
    [('a', 'b\\n'), ('c \\\\\\n  d', '')]
    """
    out: list[tuple[str, str]] = []
    going_on = False
    for line in body.splitlines():
        if line.startswith("$ ") and not going_on:
            out.append((line[2:], ""))
        elif going_on:
            out[-1] = (f"{out[-1][0]}\n{line}", "")
        else:
            assert out, f"a block of commands begins with one: {line}"
            out[-1] = (out[-1][0], f"{out[-1][1]}{line}\n")
        going_on = line.endswith("\\") and not out[-1][1]
    return out


def matches(expected: str, said: str) -> bool:
    """Whether an answer is what was expected, where ``...`` alone on a line stands for any lines, else for any words.

    Examples
    --------
    >>> matches("a\\n...\\nd 1...\\n", "a\\nb\\nc\\nd 12\\n"), matches("a\\n", "b\\n"), matches("...\\n", "")
    (True, False, True)
    """
    lines = expected.splitlines()
    parts = (
        r"(?:.*\n)*" if line.strip() == "..." else re.escape(line).replace(r"\.\.\.", ".*") + r" *\n" for line in lines
    )
    return re.fullmatch("".join(parts), said) is not None


def _in_process(args: list[str]) -> tuple[str, int]:
    """Standard output and standard error of a verb in the order in which they came, and its exit code."""
    both = io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)
    with contextlib.redirect_stdout(both), contextlib.redirect_stderr(both):
        code = run(args)
    both.seek(0)
    return both.read(), code


def pages() -> dict[str, Path]:
    """Return the written pages and the README by name."""
    found = {path.stem: path for path in sorted((ROOT / "woundfhir" / "guide" / "pages").glob("*.md"))}
    return {"README": ROOT / "README.md", **found}


def filled(text: str, folder: Path) -> str:
    """Return a page with what its commands answer, run in an empty folder."""
    folder.mkdir()
    with contextlib.ExitStack() as open_:
        here = Workplace(folder, open_.enter_context(_played()) if SERVER in text else "")
        open_.callback(here.close)
        out, at = [], 0
        for block in blocks(text):
            out += [text[at : block.start], here.run(block)]
            at = block.end
    return "".join((*out, text[at:]))


@contextlib.contextmanager
def _played() -> Iterator[str]:
    from tests.server.played import playing

    with playing() as server:
        yield server.base


def chart() -> bytes:
    """Return the chart of one wound of the demo's story."""
    with tempfile.TemporaryDirectory() as name:
        here = Workplace(Path(name))
        here.answer("woundfhir demo demo")
        here.answer("woundfhir trend demo/story.yaml --wound W2 --svg w2.svg")
        return (here.folder / "w2.svg").read_bytes()


def pictures() -> Iterator[tuple[str, bytes]]:
    """Yield the name and bytes of each picture: the chart, the first page of the demo's sheet, a visit on the page."""
    from playwright.sync_api import sync_playwright

    yield "chart.svg", chart()
    yield "page-visit.png", (ROOT / "examples" / "page" / "en" / "visit-tablet.png").read_bytes()
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        tab = browser.new_page(viewport={"width": 816, "height": 1056})
        tab.goto((ROOT / "examples" / "leg-and-sacrum" / "sheet.html").as_uri())
        yield "sheet.png", _in_ink(tab.screenshot())
        browser.close()


def _in_ink(png: bytes) -> bytes:
    """A picture in a few greys, which is all that ink on paper has: a quarter of the size."""
    from PIL import Image

    out = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("L").quantize(16).save(out, "PNG", optimize=True)
    return out.getvalue()


def main(names: list[str]) -> int:
    """Run the command; return the exit code."""
    if "--pictures" in names:
        for name, content in pictures():
            (ROOT / "woundfhir" / "guide" / "pictures" / name).write_bytes(content)
        return 0
    for name, path in pages().items():
        if names and name not in names:
            continue
        text = path.read_text("utf-8")
        with tempfile.TemporaryDirectory() as folder:
            made = filled(text, Path(folder) / "here")
        if made != text:
            path.write_text(made, "utf-8")
            print(f"{path.relative_to(ROOT)}: answers written; read the difference")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
