"""Kill woundfhir's writing verbs at bad moments and look at what is left.

    python tools/kill_trial.py RECORD.yaml WORK [--random N] [--steps N] [--seconds S] [--seed S]

Two kinds of trial, each with SIGKILL and a clean folder:
  step    the process kills itself before its n-th file-changing call (open for writing, rename, chmod, mkdir, unlink),
          for every n: exhaustive and repeatable (an audit hook in a forked child)
  random  killed from outside at a random moment of its run

``send`` and ``fetch`` have a server that outlives what is killed: after the same command again it stores everything
once, and what is fetched from there reads the same. A run over many clients makes a checkpoint after each client or
so; with --resume the same command goes on from it.

After each kill: every file that is there holds the old bytes or the new bytes, whole; running the verb again ends
in the same state as one that was never killed; left-over files are counted, with the mode they have.
Prints one JSON line a verb; exit code 1 when something was half-written, lost, or not repaired.
"""

# ruff: noqa: B023, PTH100  (a function made in a round of a loop is called in that round)

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import shutil
import signal
import stat
import sys
import time
from collections import Counter
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
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


class Verb:
    """A verb: its arguments (or a function that does something else), and what stands there before.

    ``opens`` is of what is not the same when it is done again, as the journal of a draft: what hinders opening it.
    """

    def __init__(self, name, args, before=lambda folder: None, opens=None):
        self.name, self.args, self.before, self.opens = name, args, before, opens


class Server:
    """The server that the tests play, in a thread: what is stored there, and what is wrong with it."""

    def __init__(self, client):
        from http.server import ThreadingHTTPServer

        from tests.server.played import playing

        ThreadingHTTPServer.handle_error = lambda *_: None  # whoever asked was killed
        self.open, self.client = playing(), client
        self.played = self.open.__enter__()
        self.whole = None

    def clear(self):
        """Let nothing be stored there."""
        with self.played.lock:
            self.played.resources, self.played.asked = {}, []

    def state(self):
        """What is stored: how often each resource, by what names it, and the record that is fetched from there."""
        from woundfhir.errors import WoundfhirError
        from woundfhir.server.connection import Connection, base_of
        from woundfhir.server.fetching import fetch

        with self.played.lock:
            named = [
                (one["resourceType"], json.dumps(one.get("identifier"), sort_keys=True))
                for one in self.played.resources.values()
            ]
        try:
            return Counter(named), fetch(Connection(base_of(self.played.base)), self.client).history.data
        except WoundfhirError as error:  # nothing is there yet, or half a history
            return Counter(named), str(error)

    def wrong(self, receipt):
        """What hinders that it is as if nothing had been killed; "" for nothing."""
        named, record = self.state()
        if max(named.values(), default=0) > 1:
            return "stored twice"
        if (named, record) != self.whole:
            return "not all is stored, or it reads otherwise"
        if receipt is not None and len(json.loads(receipt.read_bytes())["stored"]) != len(named):
            return "the receipt does not name what is stored"
        return ""


def on_page(folder, touch):
    """Open the page on a folder and, where asked, begin a note and touch one field."""
    from datetime import datetime, timedelta, timezone

    from starlette.testclient import TestClient

    from woundfhir.page.app import application
    from woundfhir.page.folder import Folder
    from woundfhir.page.state import Page

    page = Page(Folder(folder), now=lambda: datetime(2026, 4, 7, 9, 30, tzinfo=timezone(timedelta(hours=-4))))
    browser = TestClient(application(page), base_url="http://testserver")
    browser.get(f"/open?t={page.once}")
    client, note = "/c/note.yaml", "/c/note.yaml/d/d1/1"
    if touch:
        browser.post("/who", data={"name": "Nurse One", "designation": "RN", "id": "rn-204", "back": "/"})
        browser.post(f"{client}/start", data={"wound": "1", "purpose": "dressing change"})
        field = {"seen": "0", "do": "", "_n": ["assessment.length"], "assessment.length": "4.2 cm"}
        return 0 if browser.post(note, data=field).status_code < 500 else 2
    seen = [browser.get(client).status_code, browser.get(note).status_code]
    begun = any(Path(folder).rglob("*.draft"))
    return "" if seen == [200, 200 if begun else 400] else f"the page answers {seen}"


def run_here(args):
    """Run a verb in this process, silent; returns exit code and what it said on standard error."""
    if callable(args):
        return args(), ""
    import contextlib
    import io

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


def many(record, work, number):
    """Write as many clients, one resource a line; the record is that of each."""
    run_here(["convert", record, "--to", "ndjson", "-o", work / "one.ndjson", "--force"])
    one = (work / "one.ndjson").read_text()
    client = json.loads(one.splitlines()[0])["identifier"][0]["value"]
    path = work / "many.ndjson"
    path.write_text("".join(renumbered(one, client, f"{client}-{n}") for n in range(number)))
    return path


def renumbered(lines, old, new):
    """The same resources of another client: every id, and the client's number, are others."""
    found = lines.replace(f'"value":"{old}"', f'"value":"{new}"')
    for name in {json.loads(line)["id"] for line in lines.splitlines()}:
        found = found.replace(name, str(uuid5(NAMESPACE_URL, f"{new}/{name}")))
    return found


def sends(record, d, killer):
    """``send`` with and without a receipt, and ``fetch``: with a server that outlives what is killed."""
    client = f"{(one := client_of(record))['system']}|{one['value']}"
    server = Server(client)
    address = server.played.base

    def whole(args):
        server.clear()
        run_here(args)
        server.whole = server.state()

    def judged(args, receipt):
        time.sleep(0.1)  # what was asked is done, whoever asked it
        child(killer, args, 0)
        return server.wrong(receipt)

    receipt = d / "receipt.json"
    plain = ["send", record, "--to", address, "--chunk", "8"]
    kept = [*plain, "--receipt", receipt]
    yield Verb("send", plain, lambda f: server.clear(), lambda: judged(plain, None))
    yield Verb("send --receipt", kept, lambda f: server.clear(), lambda: judged(kept, receipt))
    d.mkdir(exist_ok=True)
    whole(plain)
    there = dict(server.played.resources)

    def stored(folder):
        server.played.resources = dict(there)
        (folder / "f.yaml").write_bytes(b"old")

    yield Verb("fetch -o --force", ["fetch", address, "--patient", client, "-o", d / "f.yaml", "--force"], stored)


def client_of(record):
    from woundfhir.intake.source import read_all

    return next(iter(read_all([str(record)]))).history.patient["identifiers"][0]


def verbs(record, work, killer):
    first, second = work / "first.json", work / "second.json"
    run_here(["bundle", record, "--newest", "1", "-o", first, "--force"])
    run_here(["bundle", record, "-o", second, "--force"])
    known = work / "known"
    shutil.rmtree(known, ignore_errors=True)
    run_here(["receive", first, "--into", known])
    several, words = many(record, work, 4), work / "words.txt"
    words.write_text("L heel 4.2 x 3.1 x 0.5 cm, moderate serous exudate, no odour, pain 3/10.\n")
    old = b"old content that somebody still needs\n" * 2000
    d = work / "D"

    def put(folder, *names):
        for name in names:
            (folder / name).write_bytes(old)

    return [
        Verb("receive, new folder", ["receive", second, "--into", d / "c"]),
        Verb(
            "receive, known client", ["receive", second, "--into", d / "c"], lambda f: shutil.copytree(known, f / "c")
        ),
        Verb("bundle -o --sheet", ["bundle", record, "-o", d / "b.json", "--sheet", d / "s.html"]),
        Verb(
            "bundle -o --sheet --force",
            ["bundle", record, "-o", d / "b.json", "--sheet", d / "s.html", "--force"],
            lambda f: put(f, "b.json", "s.html"),
        ),
        Verb(
            "convert -o --force",
            ["convert", record, "--to", "fhir-xml", "-o", d / "b.xml", "--force"],
            lambda f: put(f, "b.xml"),
        ),
        Verb(
            "check -o --force",
            ["check", record, "--format", "html", "-o", d / "b.html", "--force"],
            lambda f: put(f, "b.html"),
        ),
        Verb(
            "convert, many clients",
            ["convert", several, "--to", "ndjson", "--by-type", "--force", "-o", d / "out"],
            lambda f: (f / "out").mkdir(),
        ),
        Verb(
            "convert, tables",
            ["convert", record, "-t", "parquet", "--force", "-o", d / "t"],
            lambda f: (f / "t").mkdir(),
        ),
        Verb(
            "audit -o", ["audit", record, "--format", "html", "-o", d / "a.html", "--force"], lambda f: put(f, "a.html")
        ),
        Verb("new -o", ["new", record, "--wound", "W1", "-o", d / "n.yaml"]),
        Verb("read-text -o", ["read-text", words, "-o", d / "draft.yaml"]),
        Verb("rebuild -o", ["rebuild", known, "-o", d / "r.yaml", "--force"], lambda f: put(f, "r.yaml")),
        Verb("guide", ["guide", "--html", d / "site"]),
        Verb(
            "page, a touch",
            lambda: on_page(d, True),
            lambda f: shutil.copy(record, f / "note.yaml"),
            lambda: on_page(d, False),
        ),
        Verb("convert --resume", ["convert", several, "-t", "record-ndjson", "--resume", "-o", d / "r.ndjson"]),
        Verb(
            "convert --resume --by-type",
            ["convert", several, "-t", "ndjson", "--by-type", "--pack", "gz", "--resume", "-o", d / "out"],
            lambda f: (f / "out").mkdir(),
        ),
        Verb("convert --workers", ["convert", several, "-t", "ndjson", "--workers", "2", "-o", d / "w.ndjson"]),
        Verb(
            "check, many clients",
            ["check", several, "-f", "ndjson", "--workers", "2", "--errors", d / "e", "-o", d / "c.ndjson", "--force"],
            lambda f: put(f, "c.ndjson"),
        ),
        Verb("form -o", ["form", record, "--visit", "V1", "--wound", "W1", "-o", d / "form.json"]),
        *sends(record, d, killer),
        Verb("demo", ["demo", d / "demo"]),
        Verb("profiles", ["profiles", d / "p", "--package", d / "p.tgz"]),
    ]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("record", type=Path)
    parser.add_argument("work", type=Path)
    parser.add_argument("--random", type=int, default=30, help="so many kills a verb that came in time")
    parser.add_argument("--steps", type=int, default=60, help="at most this many step kills a verb")
    parser.add_argument("--seconds", type=float, default=60, help="bound for each verb and kind")
    parser.add_argument("--seed", default="1")
    parser.add_argument("--verb")
    args = parser.parse_args()
    rng = random.Random(args.seed)
    work = args.work.resolve()
    work.mkdir(parents=True, exist_ok=True)
    killer, report, total, bad = Killer(work / "D"), work / "report.json", 0, 0
    from woundfhir.bulk import converting

    converting.EVERY = 50_000  # a checkpoint after each client or so
    for verb in verbs(args.record.resolve(), work, killer):
        if args.verb and args.verb not in verb.name:
            continue

        def fresh():
            folder = work / "D"
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            verb.before(folder)
            return folder

        folder = fresh()
        run_here(verb.args)  # warms the imports, so that the children start with them
        folder = fresh()
        old = tree(folder)
        began = time.monotonic()
        _, code = child(killer, verb.args, 0, report=report)
        length, steps = time.monotonic() - began, json.loads(report.read_text())[0]
        new = tree(folder)
        told = {
            "verb": verb.name,
            "code": code,
            "seconds": round(length, 2),
            "steps": steps,
            "step_kills": 0,
            "random_kills": 0,
            "late": 0,
            "half_written": 0,
            "lost": 0,
            "partial_sets": 0,
            "not_repaired": 0,
            "leftover_runs": 0,
            "leftover_after_rerun": 0,
            "modes": {},
            "leftover_modes": {},
            "notes": [] if code in (0, 1) else [json.loads(report.read_text())[1]],
        }
        for name in sorted(new):
            mode = oct(stat.S_IMODE((folder / name).stat().st_mode))
            told["modes"][mode] = told["modes"].get(mode, 0) + 1

        def judge(where):
            here = tree(folder)
            left = [n for n in here if n not in new and n not in old]
            for name in left:
                mode = oct(stat.S_IMODE((folder / name).stat().st_mode))
                told["leftover_modes"][mode] = told["leftover_modes"].get(mode, 0) + 1
            for name, content in here.items():
                if verb.opens is None and name not in left and content not in (old.get(name), new.get(name)):
                    told["half_written"] += 1
                    told["notes"].append(f"{where}: half {name}")
            for name in old:
                if name not in here:
                    told["lost"] += 1
                    told["notes"].append(f"{where}: lost {name}")
            wanted = [n for n in new if old.get(n) != new[n]]
            changed = [n for n in wanted if here.get(n) == new[n]]
            told["partial_sets"] += bool(changed) and len(changed) < len(wanted)
            told["leftover_runs"] += bool(left)
            if verb.opens is not None:
                said = verb.opens()
                told["not_repaired"] += bool(said)
                told["notes"] += [f"{where}: {said}"] if said else []
                return
            _, again = child(killer, verb.args, 0, report=report)
            after = tree(folder)
            if {n: c for n, c in after.items() if n not in left} != new:
                told["not_repaired"] += 1
                if len(told["notes"]) < 4:
                    told["notes"].append(f"{where}: run again: rc {again} {json.loads(report.read_text())[1][-150:]!r}")
            told["leftover_after_rerun"] += any(n in after for n in left)

        until = time.monotonic() + args.seconds
        order = list(range(1, steps + 1))
        rng.shuffle(order)
        for step in order[: args.steps]:
            if time.monotonic() > until:
                break
            folder = fresh()
            killed, _ = child(killer, verb.args, step)
            told["late"] += not killed
            told["step_kills"] += killed
            judge(f"step {step}")
        until = time.monotonic() + args.seconds
        while told["random_kills"] < args.random and time.monotonic() < until:
            folder = fresh()
            killed, _ = child(killer, verb.args, 0, delay=rng.uniform(0.05, 1.0) * length)
            told["late"] += not killed
            told["random_kills"] += killed
            judge("random")
        total += told["step_kills"] + told["random_kills"]
        print(json.dumps(told), flush=True)
        bad += told["half_written"] + told["lost"] + told["not_repaired"]
    print(json.dumps({"kills": total}))
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
