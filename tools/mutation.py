"""Mutation score of one folder or file: how many small faults put into it do its tests find?

    python tools/mutation.py ROOM [TEST ...] [--sample N] [--seed S] [--budget SECONDS] [--map FILE] [--out FILE]
                             [--only FILE:LINE ...]

ROOM is a folder or file under woundfhir/, as in ``measures`` or ``chart/time.py``; TEST is what pytest is given
(default: tests/ROOM and the examples in ROOM). The faults are those of cosmic-ray (an operator, a comparison, a number,
a yes or no changed; a decorator, a loop taken away), without those in annotations. N of them are drawn by the seed from
all of them. No file is changed: a fault is put into the code in memory.

Each fault is tried by the tests that run its line, then by those that run its file, those that found most first and
the quickest next, until one fails or their usual time is more than the budget. First in a fork of a process that has
collected all tests, where the body of the function is exchanged; what is not found there, in a new process that imports
the file with the fault, because what was computed on import is not computed again in a fork. A command line that a test
starts as a process of its own sees no fault. Prints a line for each fault that no test found, and the score; --map
keeps which test runs which line for the next run of the same tests; --out gets all results as JSON.
"""

import argparse
import ast
import gc
import json
import os
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import suppress
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType

import pytest

ROOT = Path(__file__).resolve().parents[1]
#: The variable that names a file and the text with a fault to import in its place; what a test may use of memory.
PLANTED, MEMORY = "WOUNDFHIR_FAULT", 6 << 30
LANES = "not engine and not browser and not server and not spark"


def operators():
    """Return the operators of cosmic-ray that need no arguments, by name."""
    import parso  # noqa: F401  cosmic_ray imports a part of it that cannot be imported first
    from cosmic_ray import plugins

    classes = {name: plugins.get_operator(name) for name in plugins.operator_names()}
    return {name: each() for name, each in sorted(classes.items()) if not each.arguments()}


def unasked(source):
    """Return the ranges of a file that are annotations or are run by a type checker alone."""
    found = []
    for node in ast.walk(ast.parse(source)):
        for part in (getattr(node, "annotation", None), getattr(node, "returns", None)):
            if part is not None:
                found.append(part)
        if isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING"):
            found.append(node)
    return [((part.lineno, part.col_offset), (part.end_lineno, part.end_col_offset)) for part in found]


def mutants(path):
    """Yield every fault of a file: (file, operator, number, line)."""
    from cosmic_ray.ast import ast_nodes, get_ast

    source = path.read_text("utf-8")
    nodes, away = list(ast_nodes(get_ast(source))), unasked(source)
    for name, operator in operators().items():
        places = [place for node in nodes for place, _ in operator.mutation_positions(node)]
        for number, place in enumerate(places):
            if not any(start <= place < end for start, end in away):
                yield str(path.relative_to(ROOT)), name, number, place[0]


def mutated(mutant):
    """Return the source of the file with the fault."""
    from cosmic_ray.mutating import mutate_code

    path, name, number, _ = mutant
    return mutate_code((ROOT / path).read_text("utf-8"), operators()[name], number)


def shown(mutant):
    """Return the lines that the fault changes, before and after."""
    before, after = (ROOT / mutant[0]).read_text("utf-8").splitlines(), mutated(mutant).splitlines()
    changed = [i for i, (a, b) in enumerate(zip(before, after, strict=False)) if a != b][:1] or [mutant[3] - 1]
    return f"{mutant[0]}:{changed[0] + 1}: {before[changed[0]].strip()}  ->  {after[changed[0]].strip()}"


def functions(code):
    """Yield (qualified name, code) of each outermost function below a module's or a class's code."""
    for each in code.co_consts:
        if isinstance(each, CodeType):
            if each.co_flags & 2:  # CO_NEWLOCALS: a function, not the body of a class
                yield each.co_qualname, each
            else:
                yield from functions(each)


def exchanged(mutant):
    """Put the fault into the functions that stand in memory; return whether that was all of it."""
    path = mutant[0]
    old = dict(functions(compile((ROOT / path).read_text("utf-8"), str(ROOT / path), "exec")))
    new = dict(functions(compile(mutated(mutant), str(ROOT / path), "exec")))
    differ = {name for name in old if name in new and old[name] != new[name]}
    done = False
    for each in gc.get_objects():
        code = each.__code__ if isinstance(each, FunctionType) else None
        if code and code.co_filename == str(ROOT / path) and code.co_qualname in differ:
            with suppress(ValueError):  # the fault takes away the last use of a variable of the function around
                each.__code__, done = new[code.co_qualname], True
    return done


def run(items, after=()):
    """Run tests one after the other; return the number of the first that fails, or None."""
    failed = []

    class Watch:
        def pytest_runtest_logreport(self, report):
            if report.failed:
                failed.append(report.nodeid)

    watch, line = Watch(), [*items, *after, None]
    items[0].config.pluginmanager.register(watch)
    for number, item in enumerate(items):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=line[number + 1])
        if failed:
            break
    items[0].config.pluginmanager.unregister(watch)
    return number if failed else None


def forked(work, seconds):
    """Run ``work`` in a fork of this process; return what it returns, "timeout", or "died"."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        answer = Path(folder, "answer")
        if not (child := os.fork()):
            os.setsid()
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1), os.dup2(quiet, 2)
            resource.setrlimit(resource.RLIMIT_DATA, (MEMORY, MEMORY))
            tempfile.tempdir = os.environ["PYTEST_DEBUG_TEMPROOT"] = folder
            answer.write_text(json.dumps(work()))
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
        return json.loads(answer.read_text()) if answer.exists() and answer.stat().st_size else "died"


def fresh(source, path, tests, seconds):
    """Try tests in a new process that imports the file with the fault; return "killed", "timeout" or None."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        Path(folder, "fault.py").write_text(source)
        Path(folder, "tests").write_text("\n".join(tests))
        given = {PLANTED: f"{ROOT / path}{os.pathsep}{folder}/fault.py", "PYTEST_DEBUG_TEMPROOT": folder}
        given |= {"PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tools'}"}
        command = [sys.executable, "-m", "pytest", "-xq", "-p", "no:cacheprovider", "-p", "mutation"]
        started = subprocess.Popen(
            [*command, f"@{folder}/tests"], cwd=ROOT, env=os.environ | given, start_new_session=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            return "killed" if started.wait(seconds) else None
        except subprocess.TimeoutExpired:
            os.killpg(started.pid, signal.SIGKILL)
            started.wait()
            return "timeout"


def plant():
    """Let this process import a file with its fault (``-p mutation``, in the process that ``fresh`` starts)."""
    path, fault = os.environ[PLANTED].split(os.pathsep)
    usual = SourceFileLoader.get_code

    def get_code(self, fullname):
        return compile(Path(fault).read_text(), path, "exec") if self.path == path else usual(self, fullname)

    SourceFileLoader.get_code = get_code


def watched(items, files):
    """Run all tests; return how long each took that passed, and by which of them each line of the files is run."""
    from coverage import Coverage

    cover, seconds = Coverage(data_file=None, config_file=False, include=[str(ROOT / file) for file in files]), {}
    with cover.collect():
        for number, item in enumerate(items):
            cover.switch_context(item.nodeid)
            begin = time.monotonic()
            if run([item], items[number + 1 : number + 2]) is None:
                seconds[item.nodeid] = time.monotonic() - begin
    data, place = cover.get_data(), {test: number for number, test in enumerate(seconds)}
    by_line = {file: data.contexts_by_lineno(str(ROOT / file)) for file in files}
    lines = {
        file: {line: [place[test] for test in tests if test in place] for line, tests in by_line[file].items()}
        for file in files
    }
    return {"seconds": seconds, "lines": lines}


class Score:
    """A plugin of pytest: tries the faults in place of running the tests."""

    def __init__(self, sample, options):
        self.sample, self.options, self.found, self.trusted, self.results = sample, options, Counter(), set(), []

    def pytest_runtestloop(self, session):
        kept = self.options.map and Path(self.options.map)
        if kept and kept.exists():
            known = json.loads(kept.read_text())
        else:
            known = forked(lambda: watched(session.items, sorted({fault[0] for fault in self.options.every})), 7200)
            if kept:
                kept.write_text(json.dumps(known))
        self.items = {item.nodeid: item for item in session.items}
        self.seconds, self.lines, self.tests = known["seconds"], known["lines"], list(known["seconds"])
        for mutant in self.sample:
            begin = time.monotonic()
            answer, by = self.tried(mutant)
            self.results.append({"fault": mutant, "answer": answer, "by": by, "seconds": time.monotonic() - begin})
            if answer == "survived":
                print(shown(mutant), f"({mutant[1].removeprefix('core/')}, {by})", flush=True)
        return True

    def chosen(self, mutant):
        """Return the tests to try in their order, and their usual seconds."""
        lines = {int(line): set(tests) for line, tests in self.lines[mutant[0]].items()}
        near = next((lines[at] for at in range(mutant[3], max(mutant[3] - 6, 0), -1) if at in lines), set())
        order, spent = [], 0.0
        for group in (near, set().union(*lines.values()) - near):
            tests = [self.tests[number] for number in group]
            for test in sorted(tests, key=lambda test: (-self.found[test], self.seconds.get(test, 0), test)):
                if test in self.items and spent + self.seconds.get(test, 1e9) <= self.options.budget:
                    order.append(test)
                    spent += self.seconds[test]
        return order, spent

    def tried(self, mutant):
        """Return how a fault ended, and the test that found it or how many did not."""
        tests, spent = self.chosen(mutant)
        limit, items = 20 + 4 * spent, [self.items[test] for test in tests]
        if not tests:
            return "survived", "no test runs the file"
        answer = forked(lambda: run(items) if exchanged(mutant) else None, limit)
        if isinstance(answer, int):
            by = tests[answer]
            if by not in self.trusted and forked(lambda: run([self.items[by]]), limit) is not None:
                del self.seconds[by]  # it fails without a fault too
                return self.tried(mutant)
            self.trusted.add(by)
            self.found[by] += 1
            return "killed", by
        answer = answer or fresh(mutated(mutant), mutant[0], tests, 60 + limit)
        return answer or "survived", f"{len(tests)} tests"


def main():
    """Read the command line, draw the faults, try them and print the score."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("room")
    parser.add_argument("tests", nargs="*")
    for name, kind, usual in (("sample", int, 150), ("seed", int, 1), ("budget", float, 30), ("map", str, None)):
        parser.add_argument(f"--{name}", type=kind, default=usual)
    parser.add_argument("--out")
    parser.add_argument("--only", nargs="+", default=[])
    options = parser.parse_args()
    place = ROOT / "woundfhir" / options.room
    options.every = [each for path in sorted({place, *place.rglob("*.py")}) if path.is_file() for each in mutants(path)]
    sample = random.Random(options.seed).sample(options.every, min(options.sample, len(options.every)))
    if options.only:
        sample = [each for each in options.every if f"{each[0]}:{each[3]}" in options.only]
    os.environ["CI"] = "yes"  # generated inputs are the same in every run
    os.chdir(ROOT)
    tests = options.tests or [f"tests/{options.room}", str(place)]
    score = Score(sample, options)
    quiet = ["-s", "-p", "no:cacheprovider", "-p", "no:terminal", "-o", "addopts=--doctest-modules", "-m", LANES]
    if pytest.main([*quiet, *tests], plugins=[score]):
        return 2
    counts = Counter(result["answer"] for result in score.results)
    found = len(sample) - counts["survived"]
    print(f"{options.room}: {len(sample)} of {len(options.every)} faults (seed {options.seed}), found {found}")
    print(f"{100 * found / len(sample):.1f} per cent; {dict(counts)}")
    if options.out:
        Path(options.out).write_text(json.dumps(score.results, indent=1))
    return 0


if PLANTED in os.environ:
    plant()
elif __name__ == "__main__":
    sys.exit(main())
