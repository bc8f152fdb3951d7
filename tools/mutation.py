"""Mutation score of a folder or file: how many small faults put into its code do its tests find?

    python tools/mutation.py ROOM [TEST ...] [--sample N] [--seed S] [--budget SECONDS] [--map FILE] [--out FILE]
                             [--only FILE:LINE ...]

ROOM is a folder or file under woundfhir/ (``measures``, ``chart/time.py``); TEST is what pytest is given, usually
tests/ROOM and the examples in ROOM. The faults are those of cosmic-ray, without those in annotations; N are drawn by
the seed from all of them. They are put into the code in memory, so that no file is changed and a process that a test
starts sees none. Each is tried by the tests that run its line, then by those that run its file (outside functions by
all), first quick ones that run what few tests run around it, until one fails or their usual seconds are more than the
budget: in a fork where the body of the function is exchanged, and what is not found there in a new process that imports
the file with the fault. Prints each fault that no test found, and the score with its 95 % interval.
``tools/equivalent_faults.tsv`` names those that change nothing that anybody can see. --map keeps which test runs which
line for the next run of the same code; --out gets all results as JSON, and a run that was stopped goes on from there.
"""

import argparse
import itertools
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import suppress
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from faults import PLANTED, ROOT, changed, compiles, equivalent, exchanged, mutants, run, sources, watched

LANES = "not engine and not browser and not server and not spark"


def forked(work, seconds):
    """Run ``work`` in a fork of this process; return what it returns, "timeout", or "died"."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        if not (child := os.fork()):
            os.setsid()
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1), os.dup2(quiet, 2)
            tempfile.tempdir = os.environ["PYTEST_DEBUG_TEMPROOT"] = folder
            try:
                answer = json.dumps(work())
                Path(folder, "answer").write_text(answer)
            finally:
                os._exit(0)
        end, done = time.monotonic() + seconds, 0
        while not done and time.monotonic() < end:
            time.sleep(0.005)
            done = os.waitpid(child, os.WNOHANG)[0]
        with suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        if not done:
            os.waitpid(child, 0)
            return "timeout"
        with suppress(FileNotFoundError):
            return json.loads(Path(folder, "answer").read_text())
        return "died"


def fresh(path, text, tests, seconds):
    """Try tests in a new process that imports this text as the file; return "killed", "timeout" or None."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        Path(folder, "fault.py").write_text(text)
        Path(folder, "tests").write_text("\n".join(tests))
        given = {PLANTED: f"{ROOT / path}{os.pathsep}{folder}/fault.py", "PYTEST_DEBUG_TEMPROOT": folder}
        given |= {
            "PYTHONPATH": os.pathsep.join(map(str, (ROOT, ROOT / "tools", *sys.path))),
            "PYTHONDONTWRITEBYTECODE": "1",
        }
        command = [sys.executable, "-m", "pytest", "-xq", "--assert=plain", "-p", "no:cacheprovider", "-p", "faults"]
        streams = dict.fromkeys(("stdout", "stderr"), subprocess.DEVNULL)
        command, given = [*command, f"@{folder}/tests"], {**os.environ, **given}
        with subprocess.Popen(command, cwd=ROOT, env=given, start_new_session=True, **streams) as started:
            try:
                return "killed" if started.wait(seconds) else None
            except subprocess.TimeoutExpired:
                os.killpg(started.pid, signal.SIGKILL)
                return "timeout"


class Score:
    """A plugin of pytest: tries the faults in place of running the tests."""

    def __init__(self, sample, options):
        self.sample, self.options, self.trusted, self.results = sample, options, set(), []
        self.equivalent = equivalent()

    def pytest_runtestloop(self, session):
        kept, files = Path(self.options.map), sorted({fault[0] for fault in self.options.every})
        if not kept.is_file():
            known = forked(lambda: watched(session.items, files), 7200)
            kept.write_text(json.dumps(known))
        known = json.loads(kept.read_text())
        self.items = {item.nodeid: item for item in session.items}
        self.seconds, self.lines, self.tests = known["seconds"], known["lines"], list(known["seconds"])
        out = Path(self.options.out)
        before = {tuple(one["fault"]): one for one in json.loads(out.read_text() if out.is_file() else "[]")}
        for mutant in self.sample:
            answer, by = (before[mutant][key] for key in ("answer", "by")) if mutant in before else self.tried(mutant)
            if answer == "survived":
                answer = "equivalent" if (mutant[0], changed(mutant)) in self.equivalent else answer
                print(f"{answer}: {mutant[0]}:{mutant[3]} {changed(mutant)} ({by})", flush=True)
            self.results.append({"fault": mutant, "answer": answer, "by": by})
            out.write_text(json.dumps(self.results, indent=1))
        return True

    def chosen(self, mutant):
        """Return the tests to try in their order, and their usual seconds."""
        lines, at = {int(line): set(tests) for line, tests in self.lines[mutant[0]].items()}, mutant[3]
        near = next((lines[line] for line in range(at, max(at - 6, 0), -1) if line in lines), set())
        outside = set() if at in lines else {*range(len(self.tests))}  # what a module holds is used by others
        weight, order, spent = Counter(), [], 0.0
        for line in range(at - 15, at + 16):
            weight.update(dict.fromkeys(lines.get(line, ()), 1 / (len(lines.get(line, ())) or 1)))
        spare = {number: self.seconds.get(test, 1e9) for number, test in enumerate(self.tests) if test in self.items}
        for group in (near, set().union(*lines.values()) - near, outside - near):
            # Much that few others run, for few seconds.
            for number in sorted(group & spare.keys(), key=lambda one: (-weight[one] / (spare[one] + 0.02), one)):
                if spent + spare[number] <= self.options.budget:
                    order.append(self.tests[number])
                    spent += spare[number]
        return list(dict.fromkeys(order)), spent

    def tried(self, mutant):
        """Return how a fault ended, and the test that found it or how many did not."""
        tests, spent = self.chosen(mutant)
        limit, items = 60 + 10 * spent, [self.items[test] for test in tests]
        if not tests:
            return "survived", "no test runs the file"
        answer = forked(lambda: run(items) if exchanged(mutant) else None, limit)
        if isinstance(answer, int):
            by = tests[answer]
            if by not in self.trusted and forked(lambda: run([self.items[by]]), limit) is not None:
                del self.seconds[by]  # it fails without a fault too
                return self.tried(mutant)
            self.trusted.add(by)
            return "killed", by
        path, (usual, text) = mutant[0], sources(mutant)
        answer = answer or fresh(path, text, tests, 60 + limit)
        if answer == "killed" and path not in self.trusted and fresh(path, usual, tests, 600):
            raise RuntimeError(f"the tests of {path} fail without a fault, too")
        self.trusted.add(path)
        return answer or "survived", f"{len(tests)} tests"


def wilson(found, counted, z=1.96):
    """Return the ends of the 95 per cent interval of a share by Wilson's score (J Am Stat Assoc 1927;22:209)."""
    share, spread = found / counted, z * z / counted
    middle, half = share + spread / 2, z * (share * (1 - share) / counted + spread / 4 / counted) ** 0.5
    return (middle - half) / (1 + spread), (middle + half) / (1 + spread)


def main():
    """Read the command line, draw the faults, try them and print the score."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("room")
    parser.add_argument("tests", nargs="*")
    for name, usual in (("sample", 150), ("seed", 1), ("budget", 30.0), ("map", ""), ("out", os.devnull)):
        parser.add_argument(f"--{name}", type=type(usual), default=usual)
    parser.add_argument("--only", nargs="+")
    options, folder = parser.parse_args(), tempfile.TemporaryDirectory(prefix="mutation-")
    options.map = options.map or f"{folder.name}/map"
    place = ROOT / "woundfhir" / options.room
    options.every = [each for path in sorted({place, *place.rglob("*.py")}) if path.is_file() for each in mutants(path)]
    drawn = [each for each in options.every if not options.only or f"{each[0]}:{each[3]}" in options.only]
    random.Random(options.seed).shuffle(drawn)
    sample = list(itertools.islice(filter(compiles, drawn), options.sample))
    os.environ["CI"] = "yes"  # generated inputs are the same in every run
    os.environ.pop("PYTEST_ADDOPTS", None)  # options of the run that calls this one are not for the tests of a fault
    os.chdir(ROOT)
    score, tests = Score(sample, options), options.tests or [f"tests/{options.room}", str(place)]
    plain = ["-s", "-p", "no:cacheprovider", "-p", "no:terminal", "-o", "addopts=--doctest-modules", "-m", LANES]
    if pytest.main([*plain, *tests], plugins=[score]):
        return 2
    counts = Counter(result["answer"] for result in score.results)
    found, counted = len(sample) - counts["survived"] - counts["equivalent"], len(sample) - counts["equivalent"]
    print(
        f"{options.room}: {len(sample)} of {len(options.every)} faults (seed {options.seed}), {dict(counts)};", end=" "
    )
    low, high = (100 * end for end in wilson(found, counted or 1))
    print(f"{100 * found / (counted or 1):.1f} per cent of {counted} found (95 % interval {low:.1f} to {high:.1f})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
