"""The verbs that write, each with what stands in its folder before."""

from __future__ import annotations

import json
import shutil
import time
from dataclasses import dataclass
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from killing.child import child, run_here
from killing.there import Server, on_page

OLD = b"old content that somebody still needs\n" * 2000


class Verb:
    """A verb: its arguments (or a function that does something else), and what stands there before.

    ``opens`` is of what is not the same when it is done again, as the journal of a draft: what hinders opening it.
    """

    def __init__(self, name, args, before=lambda folder: None, opens=None):
        self.name, self.args, self.before, self.opens = name, args, before, opens


@dataclass(frozen=True)
class Given:
    """What the verbs are given: a record, Bundles of it, a client's folder, many clients, a nurse's words; ``d`` is
    the folder into which they write."""

    record: Path
    second: Path
    known: Path
    several: Path
    words: Path
    d: Path


def made(record, work):
    """Make what the verbs are given, from one record."""
    first, second, known, words = work / "first.json", work / "second.json", work / "known", work / "words.txt"
    run_here(["bundle", record, "--newest", "1", "-o", first, "--force"])
    run_here(["bundle", record, "-o", second, "--force"])
    shutil.rmtree(known, ignore_errors=True)
    run_here(["receive", first, "--into", known])
    words.write_text("L heel 4.2 x 3.1 x 0.5 cm, moderate serous exudate, no odour, pain 3/10.\n")
    return Given(record, second, known, many(record, work, 4), words, work / "D")


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


def put(folder, *names):
    """Let files stand there with something else in them."""
    for name in names:
        (folder / name).write_bytes(OLD)


def handing_over(given):
    """Yield what takes a history in, and what makes one for the next team."""
    yield Verb("receive, new folder", ["receive", given.second, "--into", given.d / "c"])
    yield Verb(
        "receive, known client",
        ["receive", given.second, "--into", given.d / "c"],
        lambda f: shutil.copytree(given.known, f / "c"),
    )
    yield Verb("bundle -o --sheet", ["bundle", given.record, "-o", given.d / "b.json", "--sheet", given.d / "s.html"])
    yield Verb(
        "bundle -o --sheet --force",
        ["bundle", given.record, "-o", given.d / "b.json", "--sheet", given.d / "s.html", "--force"],
        lambda f: put(f, "b.json", "s.html"),
    )


def converting(given):
    """Yield what writes a record, or many, in another form."""
    yield Verb(
        "convert -o --force",
        ["convert", given.record, "--to", "fhir-xml", "-o", given.d / "b.xml", "--force"],
        lambda f: put(f, "b.xml"),
    )
    yield Verb(
        "check -o --force",
        ["check", given.record, "--format", "html", "-o", given.d / "b.html", "--force"],
        lambda f: put(f, "b.html"),
    )
    yield Verb(
        "convert, many clients",
        ["convert", given.several, "--to", "ndjson", "--by-type", "--force", "-o", given.d / "out"],
        lambda f: (f / "out").mkdir(),
    )
    yield Verb(
        "convert, tables",
        ["convert", given.record, "-t", "parquet", "--force", "-o", given.d / "t"],
        lambda f: (f / "t").mkdir(),
    )


def charting(given):
    """Yield what counts, begins, reads and joins notes, and what shows them."""
    yield Verb(
        "audit -o",
        ["audit", given.record, "--format", "html", "-o", given.d / "a.html", "--force"],
        lambda f: put(f, "a.html"),
    )
    yield Verb("new -o", ["new", given.record, "--wound", "W1", "-o", given.d / "n.yaml"])
    yield Verb("read-text -o", ["read-text", given.words, "-o", given.d / "draft.yaml"])
    yield Verb("rebuild -o", ["rebuild", given.known, "-o", given.d / "r.yaml", "--force"], lambda f: put(f, "r.yaml"))
    yield Verb("guide", ["guide", "--html", given.d / "site"])
    yield Verb(
        "page, a touch",
        lambda: on_page(given.d, True),
        lambda f: shutil.copy(given.record, f / "note.yaml"),
        lambda: on_page(given.d, False),
    )


def of_many(given):
    """Yield runs over many clients: those that go on where they were stopped, and those in several processes."""
    yield Verb(
        "convert --resume", ["convert", given.several, "-t", "record-ndjson", "--resume", "-o", given.d / "r.ndjson"]
    )
    yield Verb(
        "convert --resume --by-type",
        ["convert", given.several, "-t", "ndjson", "--by-type", "--pack", "gz", "--resume", "-o", given.d / "out"],
        lambda f: (f / "out").mkdir(),
    )
    yield Verb(
        "convert --workers", ["convert", given.several, "-t", "ndjson", "--workers", "2", "-o", given.d / "w.ndjson"]
    )
    yield Verb(
        "check, many clients",
        [
            "check",
            given.several,
            "-f",
            "ndjson",
            "--workers",
            "2",
            "--errors",
            given.d / "e",
            "-o",
            given.d / "c.ndjson",
            "--force",
        ],
        lambda f: put(f, "c.ndjson"),
    )


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
    d.mkdir(exist_ok=True)
    whole(plain)
    there = dict(server.played.resources)
    yield Verb("send", plain, lambda f: server.clear(), lambda: judged(plain, None))
    yield Verb("send --receipt", kept, lambda f: server.clear(), lambda: judged(kept, receipt))

    def stored(folder):
        server.played.resources = dict(there)
        (folder / "f.yaml").write_bytes(b"old")

    yield Verb("fetch -o --force", ["fetch", address, "--patient", client, "-o", d / "f.yaml", "--force"], stored)


def client_of(record):
    from woundfhir.intake.source import read_all

    return next(iter(read_all([str(record)]))).history.patient["identifiers"][0]


def verbs(record, work, killer):
    """Yield every verb that writes."""
    given = made(record, work)
    for group in (handing_over, converting, charting, of_many):
        yield from group(given)
    yield Verb("form -o", ["form", given.record, "--visit", "V1", "--wound", "W1", "-o", given.d / "form.json"])
    yield from sends(record, given.d, killer)
    yield Verb("demo", ["demo", given.d / "demo"])
    yield Verb("profiles", ["profiles", given.d / "p", "--package", given.d / "p.tgz"])
