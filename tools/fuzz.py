"""Fuzz every way in with hostile variants of good inputs: trees (JSON, YAML), tables, XML, forms, text and bytes.

    python tools/fuzz.py OUT [--entrance NAME ... ] [--seconds N | --runs N] [--seed S] [--deep P] [--guided]
                             [--corpus FOLDER] [--tally FILE] [--memory MB] [--hang SECONDS]

What counts as a failure, told apart by type and innermost frame of ours, the smallest input kept in OUT:
  crash     an exception that is not a WoundfhirError, an answer 500, or the end of the process
  hang      more than --hang seconds of processor time for one input, twice: the first time may load modules
  leak      the text of an error holds a marker that was put into a value
  loss      (a share P of the accepted inputs) read, written in each form and read again it is not the same

With --corpus an input that is refused in a way, or accepted at an entrance, that was not seen before is kept there,
is varied from then on, and is tried first by the next run. With --guided (atheris, from PyPI) an input that reaches
code which none before has reached is kept and varied too. Each entrance has a process of its own. Prints one JSON line
for each, and adds it to --tally; "python tools/fuzz.py OUT --sum --tally FILE" adds up what all runs have done.
Exit code 1 when anything failed.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import json
import mmap
import os
import random
import re
import resource
import signal
import statistics
import sys
import time
import traceback
from contextlib import nullcontext, suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from fuzzing.hostile import MARK
from fuzzing.seeds import ROOT, SEEDS, vary
from fuzzing.tally import add, total

#: At most so many inputs of one entrance are kept in the corpus, each at most so large.
KEPT, LARGE = 400, 200_000
#: This share of the variants is made of the good inputs.
GOOD = 0.6
#: An input so many times as long as is usual is varied less often, so that it takes no more time than others.
LONG = 3
#: So many times --hang, and the process is ended: code in C that lets no handler run.
STUCK = 10


class Hang(BaseException):
    """One input takes too long."""


def signature(error):
    """Return what tells a failure from others: its type and where it happened."""
    from fuzzing.entrances import Loss
    from fuzzing.served import Fault

    if isinstance(error, Loss | Fault):
        return f"{type(error).__name__.lower()}: " + re.sub(r"\d+", "N", str(error))[:160]
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "/woundfhir/" in f.filename]
    last = frames[-1] if frames else traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__} at {last.filename.split('woundfhir/')[-1]}:{last.lineno}"


class Trial:
    """One entrance under many inputs."""

    def __init__(self, name, args, now):
        self.name, self.args, self.now = name, args, now
        self.rng = random.Random(f"{args.seed}/{name}")
        self.counts = {"accepted": 0, "refused": 0, "deep": 0}
        self.ways, self.failures = set(), {}
        self.runs, self.slowest = 0, 0.0
        self.out = Path(args.out)
        self.corpus = Path(args.corpus, name) if args.corpus else None
        if self.corpus is not None:
            self.corpus.mkdir(parents=True, exist_ok=True)
        self.kind, give = SEEDS[name]
        with self.watched():
            from fuzzing.entrances import entrance

            from woundfhir.errors import WoundfhirError
            from woundfhir.record import History

            self.seeds = list(give())
            self.good = len(self.seeds)
            self.run = entrance(name)
            for data in self.seeds[:3]:  # what is imported when it is needed is no part of a run
                with suppress(WoundfhirError):
                    self.run(data, True)
            with suppress(WoundfhirError):  # what says why a record is refused is large, and loaded when it must say it
                History.of({"woundfhir": 1, "wounds": 0})
        self.usual = statistics.median(map(len, self.seeds))
        gc.collect()
        gc.freeze()  # the catalogue and the seeds stay: the collector need not look through them at each input

    def watched(self):
        """Return what makes the imports inside it count the code that is reached."""
        if not self.args.guided:
            return nullcontext()
        import atheris

        return atheris.instrument_imports(include=["woundfhir"])

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
            (self.corpus / hashlib.sha1(data).hexdigest()).write_bytes(data)
            self.seeds.append(data)

    def one(self, data):
        """Try one input."""
        self.runs += 1
        self.now.hold(data)
        deep = self.rng.random() < self.args.deep
        self.counts["deep"] += deep
        took = self.timed(data, deep, self.args.hang)
        if took > self.args.hang:
            took = self.timed(data, deep, STUCK * self.args.hang / 2)
        if took > self.args.hang:
            self.fail("hang", data)
        self.slowest = max(self.slowest, took)

    def timed(self, data, deep, limit):
        """Try one input for so many seconds at most, and return how many it took."""
        from woundfhir.errors import WoundfhirError

        began = time.process_time()
        signal.setitimer(signal.ITIMER_VIRTUAL, STUCK * self.args.hang)
        signal.setitimer(signal.ITIMER_PROF, limit)
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
            return max(time.process_time() - began, limit * 1.001)
        except Exception as error:  # everything else is what we look for
            self.fail(signature(error), data)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        return time.process_time() - began

    def go(self):
        """Try seeds, the corpus, and variants; end this process with what came of it."""
        self.began, self.worked = time.monotonic(), time.process_time()
        kept = sorted(self.corpus.iterdir()) if self.corpus is not None else []
        for data in [*self.seeds, *(path.read_bytes() for path in kept)]:
            self.one(data)
        if self.args.guided:
            self.guided()
        while not self.done():
            self.one(self.variant(self.rng, self.rng.choice(self.seeds)))
        self.end()

    def variant(self, rng, data):
        """Vary an input, or a good one in its place: what was kept is mostly refused, and soon."""
        if not data or rng.random() < GOOD:
            data = rng.choice(self.seeds[: self.good])
        if len(data) > LONG * self.usual and rng.random() > LONG * self.usual / len(data):
            return self.variant(rng, b"")  # a long one takes the time of many short ones, and shows no more
        return vary(rng, self.kind, data, rng.choice(self.seeds))

    def guided(self):
        """Let libFuzzer choose what is varied; it never returns."""
        import atheris

        def one(data):
            self.one(data)
            if self.done():
                self.end()

        def varied(data, size, seed):
            return self.variant(random.Random(seed), data)[:size]

        grown = str(self.corpus) if self.corpus is not None else ""
        fixed = [f"-max_len={LARGE}", "-len_control=0", "-verbosity=0", "-rss_limit_mb=0", "-timeout=600"]
        atheris.Setup([sys.argv[0], *filter(None, [grown]), *fixed], one, custom_mutator=varied)
        atheris.Fuzz()

    def done(self):
        """Whether there have been enough inputs."""
        if self.args.runs:
            return self.runs >= self.args.runs
        return time.monotonic() - self.began >= self.args.seconds

    def end(self):
        """Say what came of it, and end this process."""
        wall, work = time.monotonic() - self.began, time.process_time() - self.worked
        line = {
            "entrance": self.name,
            "runs": self.runs,
            "runs_per_s": round(self.runs / wall, 1),
            "processor_s": round(work, 1),
            **self.counts,
            "ways": len(self.ways),
            "slowest_s": round(self.slowest, 2),
            "peak_MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
            "failures": {k: v[0] for k, v in sorted(self.failures.items(), key=lambda i: -i[1][0])},
        }
        print(json.dumps(line), flush=True)
        if self.args.tally:
            add(self.args.tally, line)
        sys.stdout.flush()
        os._exit(bool(self.failures))


class Now:
    """The input that is being tried, where the process that started this one can see it."""

    def __init__(self):
        self.memory = mmap.mmap(-1, LARGE * 10)

    def hold(self, data):
        """Put an input there."""
        self.memory[:8] = len(data).to_bytes(8, "little")
        self.memory[8 : 8 + len(data)] = data[: LARGE * 9]

    def last(self):
        """Return the input that was tried last."""
        return self.memory[8 : 8 + int.from_bytes(self.memory[:8], "little")]


def stop(*_):
    """Called when one input has used its time."""
    raise Hang


def apart(name, args):
    """Try an entrance in a process of its own; return whether something failed."""
    sys.stdout.flush()
    now = Now()
    if not (pid := os.fork()):
        try:
            signal.signal(signal.SIGPROF, stop)
            resource.setrlimit(resource.RLIMIT_AS, (args.memory << 20, args.memory << 20))
            if args.guided:  # it says each module that it prepares
                os.dup2(os.open(Path(args.out, "guided.log"), os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
            Trial(name, args, now).go()
        except BaseException:
            traceback.print_exc()
        os._exit(70)
    code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    if code not in (0, 1):  # a fault of the machine, no memory, or a loop that no handler ends
        kept = Path(args.out, f"{name}-ended-{code}")
        kept.write_bytes(now.last())
        if args.tally:
            nothing = {"runs": 0, "processor_s": 0, "slowest_s": 0, "peak_MB": args.memory}
            add(args.tally, {"entrance": name, **nothing, "failures": {f"ended {code}": 1}})
        print(json.dumps({"entrance": name, "ended": code, "input": str(kept)}), flush=True)
    return code != 0


def main():
    """Read the options, and try each entrance."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out")
    parser.add_argument("--entrance", nargs="*", choices=list(SEEDS), default=list(SEEDS))
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--runs", type=int, help="this many inputs, however long they take: the same ones each time")
    parser.add_argument("--seed", default="1")
    parser.add_argument("--deep", type=float, default=0.05)
    parser.add_argument("--guided", action="store_true", help="by the code that an input reaches")
    parser.add_argument("--corpus")
    parser.add_argument("--tally", help="a file to which what came of it is added, and --sum: add it up")
    parser.add_argument("--sum", action="store_true")
    parser.add_argument("--toml", action="store_true", help="with --sum: as lines of woundfhir/guide/figures.toml")
    parser.add_argument("--hang", type=float, default=2)
    parser.add_argument("--memory", type=int, default=2048, help="MB of address space; beyond it is a crash")
    args = parser.parse_args()
    if args.sum:
        return total(args.tally, args.toml)
    sys.path.insert(0, str(ROOT))
    Path(args.out).mkdir(parents=True, exist_ok=True)
    failed = [apart(name, args) for name in args.entrance]
    return any(failed)


if __name__ == "__main__":
    sys.exit(main())
