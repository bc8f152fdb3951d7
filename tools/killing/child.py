"""A process that is killed at a chosen moment, and what a folder holds after it."""

# ruff: noqa: PTH100  (the path of a call of the system as it was given, no link of it followed)

from __future__ import annotations

import contextlib
import io
import json
import os
import signal
import sys
import time
from pathlib import Path

FILE_EVENTS = ("os.rename", "os.chmod", "os.mkdir", "os.remove", "os.rmdir", "os.link", "os.truncate")


class Killer:
    """Counts the file-changing calls below a folder; kills its own process before call number ``step``."""

    def __init__(self, root):
        self.root, self.step, self.seen, self.on = str(root), 0, 0, False
        sys.addaudithook(self.hook)

    def hook(self, event, args):
        if not self.on:
            return
        if event == "open":
            path, _, flags = (*args, None, None)[:3]
            if (
                not isinstance(path, str)
                or not os.path.abspath(path).startswith(self.root)
                or not (flags or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            ):
                return
        elif event not in FILE_EVENTS or not any(
            isinstance(a, (str, os.PathLike)) and os.path.abspath(os.fspath(a)).startswith(self.root) for a in args
        ):
            return
        self.seen += 1
        if self.seen == self.step:
            os.kill(os.getpid(), signal.SIGKILL)


def tree(folder):
    return {
        str(p.relative_to(folder)): p.read_bytes()
        for p in sorted(Path(folder).rglob("*"))
        if p.is_file() and not p.is_symlink()
    }


def run_here(args):
    """Run a verb in this process, silent; returns exit code and what it said on standard error."""
    if callable(args):
        return args(), ""
    from woundfhir.cli import run

    said, out = io.StringIO(), io.TextIOWrapper(io.BytesIO())
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(said):
        code = run(list(map(str, args)))
    return code, said.getvalue()


def child(killer, args, step, delay=None, report=None):
    """Run a verb in a forked child; kill it at a step or after a delay; return whether it was killed, and its code."""
    pid = os.fork()
    if pid == 0:
        code = 99
        try:
            killer.step, killer.seen, killer.on = step, 0, True
            code, said = run_here(args)
            if report:
                report.write_text(json.dumps([killer.seen, said[-300:]]))
        except BaseException as error:
            if report:
                report.write_text(json.dumps([killer.seen, repr(error)]))
        os._exit(code & 255)
    if delay is not None:
        time.sleep(delay)
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    return os.WIFSIGNALED(status), os.WEXITSTATUS(status) if os.WIFEXITED(status) else None
