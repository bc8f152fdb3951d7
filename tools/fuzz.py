"""Fuzz every way in with hostile variants of good inputs: trees (JSON, YAML), tables, XML, forms, text and bytes.

    python tools/fuzz.py OUT [--entrance NAME ... ] [--seconds N | --runs N] [--seed S] [--deep P]
                             [--corpus FOLDER] [--memory MB] [--hang SECONDS]

What counts as a failure, told apart by type and innermost frame of ours, the smallest input kept in OUT:
  crash     an exception that is not a WoundfhirError, or an answer 500
  hang      more than --hang seconds of processor time for one input
  leak      the text of an error holds a marker that was put into a value
  loss      (a share P of the accepted inputs) read, written in each form and read again it is not the same

With --corpus an input that is refused in a way, or accepted at an entrance, that was not seen before is kept there,
is varied from then on, and is tried first by the next run. Exit code 1 when anything failed. Prints one JSON line for
each entrance: runs, runs/s, accepted, refused, ways of refusing, slowest, peak memory, failures.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import random
import re
import resource
import signal
import sys
import time
import traceback
import zipfile
from contextlib import suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from fuzzing.entrances import Fault, Loss, entrance
from fuzzing.mutate import MARK, mutate_bytes
from fuzzing.seeds import ROOT, SEEDS, vary

#: At most so many inputs of one entrance are kept in the corpus, each at most so large.
KEPT, LARGE = 400, 200_000


class Hang(BaseException):
    """One input takes too long."""


def signature(error):
    """Return what tells a failure from others: its type and where it happened."""
    if isinstance(error, Loss):
        return "loss: " + re.sub(r"\d+", "N", str(error))[:160]
    if isinstance(error, Fault):
        return "fault: " + re.sub(r"\d+", "N", str(error))[:160]
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "/woundfhir/" in f.filename]
    last = frames[-1] if frames else traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__} at {last.filename.split('woundfhir/')[-1]}:{last.lineno}"


def inside(rng, content):
    """Vary one part of a workbook, so that the archive opens and its XML is hostile."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as came, zipfile.ZipFile(out, "w") as made:
        names = came.namelist()
        chosen = rng.choice(names)
        for name in names:
            part = came.read(name)
            made.writestr(name, mutate_bytes(rng, part, rng.choice([1, 1, 2, 4])) if name == chosen else part)
    return out.getvalue()


class Trial:
    """One entrance under many inputs."""

    def __init__(self, name, args):
        self.name, self.args = name, args
        self.rng = random.Random(f"{args.seed}/{name}")
        self.kind, give = SEEDS[name]
        self.seeds = list(give())
        self.run = entrance(name)
        self.counts = {"accepted": 0, "refused": 0, "deep": 0}
        self.ways, self.failures = set(), {}
        self.runs, self.slowest = 0, 0.0
        self.out = Path(args.out)
        self.out.mkdir(parents=True, exist_ok=True)
        self.corpus = Path(args.corpus, name) if args.corpus else None

    def fail(self, name, data):
        """Count a failure, and keep the smallest input that shows it."""
        count, best = self.failures.get(name, (0, None))
        if best is None or len(data) < len(best):
            best = data
            (self.out / f"{self.name}-{re.sub(r'[^0-9A-Za-z]+', '-', name)[:90]}").write_bytes(data)
        self.failures[name] = (count + 1, best)

    def new(self, way, data):
        """Keep an input whose outcome was not seen before."""
        if way in self.ways:
            return
        self.ways.add(way)
        if self.corpus is not None and len(self.ways) <= KEPT and len(data) <= LARGE:
            self.corpus.mkdir(parents=True, exist_ok=True)
            (self.corpus / hashlib.sha256(data).hexdigest()[:16]).write_bytes(data)
            self.seeds.append(data)

    def one(self, data):
        """Try one input."""
        from woundfhir.errors import WoundfhirError

        self.runs += 1
        deep = self.rng.random() < self.args.deep
        self.counts["deep"] += deep
        began = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, self.args.hang)
        try:
            self.run(data, deep)
            self.counts["accepted"] += 1
            self.new("accepted", data)
        except WoundfhirError as error:
            self.counts["refused"] += 1
            self.new(re.sub(r"\d+", "N", f"{getattr(error, 'expected', error)}")[:80], data)
            if MARK in str(error):
                self.fail(f"leak: {re.sub(MARK, 'MARK', str(error))[:100]}", data)
        except Hang:
            self.fail("hang", data)
        except Exception as error:  # everything else is what we look for
            self.fail(signature(error), data)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        self.slowest = max(self.slowest, time.process_time() - began)

    def vary(self):
        """Return the next input."""
        seed = self.rng.choice(self.seeds)
        if self.name == "workbook" and self.rng.random() < 0.8:
            with suppress(zipfile.BadZipFile, KeyError, ValueError, EOFError, NotImplementedError, RuntimeError):
                return inside(self.rng, seed)
        return vary(self.rng, self.kind, seed)

    def go(self):
        """Try seeds, the corpus, and variants; print what came of it, and return the number of failures."""
        began = time.monotonic()
        kept = sorted(self.corpus.iterdir()) if self.corpus is not None and self.corpus.is_dir() else []
        for data in [*self.seeds, *(path.read_bytes() for path in kept)]:
            self.one(data)
        limit = self.args.runs
        while self.runs < limit if limit else time.monotonic() - began < self.args.seconds:
            self.one(self.vary())
        wall = time.monotonic() - began
        print(
            json.dumps(
                {
                    "entrance": self.name,
                    "runs": self.runs,
                    "runs_per_s": round(self.runs / wall, 1),
                    **self.counts,
                    "ways": len(self.ways),
                    "slowest_s": round(self.slowest, 2),
                    "peak_MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
                    "failures": {k: v[0] for k, v in sorted(self.failures.items(), key=lambda i: -i[1][0])},
                }
            ),
            flush=True,
        )
        return len(self.failures)


def stop(*_):
    """Called when one input has used its time."""
    raise Hang


def main():
    """Read the options, and try each entrance."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out")
    parser.add_argument("--entrance", nargs="*", choices=list(SEEDS), default=list(SEEDS))
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--runs", type=int, help="this many inputs, however long they take: the same ones each time")
    parser.add_argument("--seed", default="1")
    parser.add_argument("--deep", type=float, default=0.05)
    parser.add_argument("--corpus")
    parser.add_argument("--hang", type=float, default=2)
    parser.add_argument("--memory", type=int, default=2048, help="MB of address space; beyond it is a crash")
    args = parser.parse_args()
    sys.path.insert(0, str(ROOT))
    signal.signal(signal.SIGPROF, stop)
    resource.setrlimit(resource.RLIMIT_AS, (args.memory << 20, args.memory << 20))
    if sum([Trial(name, args).go() for name in args.entrance]):
        sys.exit(1)


if __name__ == "__main__":
    main()
