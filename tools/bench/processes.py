"""Processes of their own: most memory, CPU time, time on the clock.

A child of a large process is given the memory of its parent as its own (``ru_maxrss`` goes over ``exec``), so a small
process stands between: nothing is imported in it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

_LAUNCH = """
import os, resource, sys, time
start = time.monotonic()
pid = os.fork()
if not pid:
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 1)
    os.dup2(null, 2)
    os.execv(sys.argv[1], sys.argv[1:])
_, status, used = os.wait4(pid, 0)
print('{"code": %d, "peak": %d, "cpu": %f, "wall": %f}' % (
    os.waitstatus_to_exitcode(status), used.ru_maxrss // 1024, used.ru_utime + used.ru_stime, time.monotonic() - start))
"""
_TICK = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Used:
    """What a process used: exit code, most memory of one process (MB), CPU time and time on the clock (s)."""

    code: int
    peak: int
    cpu: float
    wall: float


def python(*args: str, expected: int = 0) -> Used:
    """Run Python and return what it and its children used."""
    small = [sys.executable, "-S", "-E", "-c", _LAUNCH, sys.executable, *args]
    found = Used(**json.loads(subprocess.run(small, capture_output=True, check=True).stdout))
    if found.code != expected:
        raise RuntimeError(f"{' '.join(args[:4])} ended with {found.code}")
    return found


@dataclass
class Tree:
    """What a process and all below it used: CPU time, its own and of all (s), most memory of Java and a worker (MB)."""

    cpu: float = 0.0
    own: float = 0.0
    wall: float = 0.0
    java: int = 0
    worker: int = 0


def watched(*args: str) -> Tree:
    """Run Python, looking at its whole tree of processes: some of them are not waited for."""
    found, start = Tree(), time.monotonic()
    process = subprocess.Popen([sys.executable, *args], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while process.poll() is None:
        _look(process.pid, found)
        time.sleep(0.1)
    found.wall = time.monotonic() - start
    if process.returncode:
        raise RuntimeError(f"{' '.join(args[:4])} ended with {process.returncode}")
    return found


def _own(pid: int) -> float:
    """CPU time of a process without those below it; 0 where it has ended."""
    try:
        parts = Path(f"/proc/{pid}/stat").read_text().rsplit(") ", 1)[1].split()
    except OSError:
        return 0.0
    return sum(map(int, parts[11:13])) / _TICK


def _look(root: int, found: Tree) -> None:
    parents: dict[int, int] = {}
    seen: dict[int, tuple[str, float, int]] = {}
    found.own = max(found.own, _own(root))
    for path in Path("/proc").iterdir():
        if not path.name.isdigit():
            continue
        try:
            name, rest = (path / "stat").read_text().split("(", 1)[1].rsplit(") ", 1)
        except (OSError, ValueError, IndexError):
            continue
        parts = rest.split()
        parents[int(path.name)] = int(parts[1])
        ticks = sum(map(int, parts[11:15]))
        seen[int(path.name)] = (name, ticks / _TICK, int(parts[21]) * os.sysconf("SC_PAGE_SIZE") // 1024**2)
    tree = {root}
    while more := {child for child, parent in parents.items() if parent in tree} - tree:
        tree |= more
    mine = {pid: seen[pid] for pid in tree if pid in seen}
    found.cpu = max(found.cpu, sum(cpu for _, cpu, _ in mine.values()))
    found.java = max([found.java, *(rss for name, _, rss in mine.values() if name == "java")])
    below = [rss for pid, (name, _, rss) in mine.items() if pid != root and name != "java"]
    found.worker = max([found.worker, *below])
