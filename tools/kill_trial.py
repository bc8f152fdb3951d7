"""Kill woundfhir's writing verbs at bad moments and look at what is left.

    python tools/kill_trial.py RECORD.yaml WORK [--notes N] [--random N] [--steps N] [--seconds S] [--seed S]

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

from __future__ import annotations

import argparse
import json
import random
import shutil
import stat
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from killing.child import Killer, child, run_here, tree
from killing.verbs import verbs

#: What is counted of each verb; those of ``FAULTS`` must stay 0.
COUNTED = ("step_kills", "random_kills", "late", "half_written", "lost", "partial_sets", "not_repaired")
COUNTED += ("leftover_runs", "leftover_after_rerun")
FAULTS = ("half_written", "lost", "not_repaired")


class Trial:
    """One verb, killed at many moments."""

    def __init__(self, verb, work, killer, rng):
        self.verb, self.killer, self.rng = verb, killer, rng
        self.folder, self.report = work / "D", work / "report.json"
        run_here(self.fresh().args)  # warms the imports, so that the children start with them
        self.fresh()
        self.old = tree(self.folder)
        began = time.monotonic()
        _, code = child(killer, verb.args, 0, report=self.report)
        self.length = time.monotonic() - began
        self.steps, said = json.loads(self.report.read_text())
        self.new = tree(self.folder)
        self.found = {"verb": verb.name, "code": code, "seconds": round(self.length, 2), "steps": self.steps}
        self.found |= {**dict.fromkeys(COUNTED, 0), "modes": {}, "leftover_modes": {}}
        self.found["notes"] = [] if code in (0, 1) else [said]
        for name in sorted(self.new):
            self.mode("modes", name)

    def fresh(self):
        """Let the folder be as before the verb, and return the verb."""
        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir()
        self.verb.before(self.folder)
        return self.verb

    def mode(self, kind, name):
        """Count the mode of a file."""
        mode = oct(stat.S_IMODE((self.folder / name).stat().st_mode))
        self.found[kind][mode] = self.found[kind].get(mode, 0) + 1

    def kill_at_steps(self, most, seconds):
        """Kill it before its file-changing calls, in any order, until the time is over."""
        until, order = time.monotonic() + seconds, list(range(1, self.steps + 1))
        self.rng.shuffle(order)
        for step in order[:most]:
            if time.monotonic() > until:
                break
            self.kill("step_kills", f"step {step}", step)

    def kill_at_random(self, times, seconds):
        """Kill it from outside at random moments of its run, so many times, until the time is over."""
        until = time.monotonic() + seconds
        while self.found["random_kills"] < times and time.monotonic() < until:
            self.kill("random_kills", "random", 0, lambda: self.rng.uniform(0.05, 1.0) * self.length)

    def kill(self, kind, where, step, delay=lambda: None):
        """Run it once, killed at a step or after a delay, and judge what it left."""
        self.fresh()
        killed, _ = child(self.killer, self.verb.args, step, delay=delay())
        self.found["late"] += not killed
        self.found[kind] += killed
        here = tree(self.folder)
        left = [name for name in here if name not in self.new and name not in self.old]
        self.judge(where, here, left)
        self.again(where, left)

    def judge(self, where, here, left):
        """Count what was half-written, lost and left over."""
        found, old, new = self.found, self.old, self.new
        for name in left:
            self.mode("leftover_modes", name)
        for name, content in here.items():
            if self.verb.opens is None and name not in left and content not in (old.get(name), new.get(name)):
                found["half_written"] += 1
                found["notes"].append(f"{where}: half {name}")
        for name in old:
            if name not in here:
                found["lost"] += 1
                found["notes"].append(f"{where}: lost {name}")
        wanted = [name for name in new if old.get(name) != new[name]]
        changed = [name for name in wanted if here.get(name) == new[name]]
        found["partial_sets"] += bool(changed) and len(changed) < len(wanted)
        found["leftover_runs"] += bool(left)

    def again(self, where, left):
        """Run it again, and count where that does not end as if nothing had been killed."""
        found = self.found
        if self.verb.opens is not None:
            said = self.verb.opens()
            found["not_repaired"] += bool(said)
            found["notes"] += [f"{where}: {said}"] if said else []
            return
        _, code = child(self.killer, self.verb.args, 0, report=self.report)
        after = tree(self.folder)
        if {name: content for name, content in after.items() if name not in left} != self.new:
            found["not_repaired"] += 1
            if len(found["notes"]) < 4:
                said = json.loads(self.report.read_text())[1][-150:]
                found["notes"].append(f"{where}: run again: rc {code} {said!r}")
        found["leftover_after_rerun"] += any(name in after for name in left)


def first_notes(record, number, work):
    """Write a record of the first notes alone: the files that a verb writes are the same, and sooner written."""
    from woundfhir.intake.source import read_all
    from woundfhir.record import History
    from woundfhir.record.files import to_yaml

    (found,) = read_all([str(record)])
    path = work / "first-notes.yaml"
    path.write_bytes(to_yaml(History.of({**found.history.data, "visits": found.history.visits[:number]})))
    return path


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("record", type=Path)
    parser.add_argument("work", type=Path)
    parser.add_argument("--notes", type=int, help="take so many notes of the record")
    parser.add_argument("--random", type=int, default=30, help="so many kills a verb that came in time")
    parser.add_argument("--steps", type=int, default=60, help="at most this many step kills a verb")
    parser.add_argument("--seconds", type=float, default=60, help="bound for each verb and kind")
    parser.add_argument("--seed", default="1")
    parser.add_argument("--verb")
    args = parser.parse_args()
    rng, work = random.Random(args.seed), args.work.resolve()
    work.mkdir(parents=True, exist_ok=True)
    killer, kills, bad = Killer(work / "D"), 0, 0
    from woundfhir.bulk import converting

    converting.EVERY = 50_000  # a checkpoint after each client or so
    record = first_notes(args.record, args.notes, work) if args.notes else args.record.resolve()
    for verb in verbs(record, work, killer):
        if args.verb and args.verb not in verb.name:
            continue
        trial = Trial(verb, work, killer, rng)
        trial.kill_at_steps(args.steps, args.seconds)
        trial.kill_at_random(args.random, args.seconds)
        print(json.dumps(trial.found), flush=True)
        kills += trial.found["step_kills"] + trial.found["random_kills"]
        bad += sum(trial.found[kind] for kind in FAULTS)
    print(json.dumps({"kills": kills}))
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
