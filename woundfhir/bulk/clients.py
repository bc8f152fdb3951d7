"""Which names are of one client: names and their unions in an index on the disk, so that their number costs no memory.

A client is found by the first of its names (a union of sets, each with its root). What was asked for last is held in
memory, and no more than that.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from hashlib import sha256

#: Names and roots that are held in memory.
_HELD = 20_000


class Clients:
    """Names of clients, by numbers.

    Examples
    --------
    >>> clients = Clients(sqlite3.connect(""))
    >>> one, other = clients.number("Patient/a", 1), clients.number("card|7", 2)
    >>> clients.join([other, one]) == clients.root(other) == one
    True
    >>> clients.settle()
    >>> clients.count(), [list(clients.members(root)) for root in clients.roots()]
    (1, [[1, 2]])
    """

    def __init__(self, index: sqlite3.Connection) -> None:
        self._index = index
        index.execute("CREATE TABLE client (number INTEGER PRIMARY KEY, name TEXT UNIQUE, above INT, first INT)")
        self._last = 0
        self._numbers: dict[str, int] = {}
        #: Number -> the number above it (its own at the root), and the line that named it first.
        self._above: dict[int, tuple[int, int]] = {}

    def number(self, name: str, line: int) -> int:
        """Return the root of a name, which a line names."""
        found = self._numbers.get(name)
        if found is None:
            row = self._index.execute("SELECT number FROM client WHERE name = ?", (name,)).fetchone()
            found = self._new(name, line) if row is None else int(row[0])
            if len(self._numbers) >= _HELD:
                self._numbers.clear()
            self._numbers[name] = found
        return self.root(found)

    def _new(self, name: str, line: int) -> int:
        self._last += 1
        self._index.execute("INSERT INTO client VALUES (?, ?, ?, ?)", (self._last, name, self._last, line))
        return self._last

    def _of(self, number: int) -> tuple[int, int]:
        found = self._above.get(number)
        if found is None:
            row = self._index.execute("SELECT above, first FROM client WHERE number = ?", (number,)).fetchone()
            found = int(row[0]), int(row[1])
            if len(self._above) >= _HELD:
                self._above.clear()
            self._above[number] = found
        return found

    def _put(self, number: int, above: int) -> None:
        self._above[number] = above, self._of(number)[1]
        self._index.execute("UPDATE client SET above = ? WHERE number = ?", (above, number))

    def root(self, number: int) -> int:
        """Return the number by which the client of a number is known."""
        at = number
        while (above := self._of(at)[0]) != at:
            at = above
        if self._of(number)[0] != at:  # the next way is shorter
            self._put(number, at)
        return at

    def join(self, numbers: Iterable[int]) -> int:
        """Make the clients of numbers one, who is known by the one that was named first; return the number of it."""
        roots = sorted({self.root(one) for one in numbers}, key=lambda one: (self._of(one)[1], one))
        for other in roots[1:]:
            self._put(other, roots[0])
        return roots[0]

    def settle(self) -> None:
        """Let every number point at its root: after the last union, and before ``roots`` and ``members``."""
        deep = "SELECT a.number FROM client AS a JOIN client AS b ON b.number = a.above WHERE b.above <> b.number"
        for (number,) in self._index.execute(deep).fetchall():
            self.root(number)
        self._index.execute("CREATE INDEX IF NOT EXISTS by_above ON client (above)")

    def count(self) -> int:
        """Return how many clients there are."""
        return int(self._index.execute("SELECT COUNT(*) FROM client WHERE above = number").fetchone()[0])

    def roots(self) -> Iterator[int]:
        """Yield the clients, in the order in which they are first named."""
        rows = self._index.execute("SELECT number FROM client WHERE above = number ORDER BY first, number")
        return (int(number) for (number,) in rows)

    def members(self, root: int) -> Iterator[int]:
        """Yield the numbers of a client."""
        rows = self._index.execute("SELECT number FROM client WHERE above = ? ORDER BY number", (root,))
        return (int(number) for (number,) in rows)


class Seen:
    """Clients who came already, in an index on the disk.

    Parameters
    ----------
    note
        Takes the digest of each that is new, so that ``known`` can be given to another run.
    known
        Digests, one behind the other.

    Examples
    --------
    >>> seen = Seen()
    >>> seen.add(b"a"), seen.add(b"b"), seen.add(b"a")
    (True, True, False)
    """

    #: Bytes of a digest.
    SIZE = 16

    def __init__(self, note: Callable[[bytes], object] = lambda _: None, known: bytes = b"") -> None:
        self._note = note
        self._index = sqlite3.connect("", isolation_level=None)
        self._index.execute("PRAGMA journal_mode=OFF")
        self._index.execute("PRAGMA cache_size=-8000")
        self._index.execute("CREATE TABLE seen (name BLOB PRIMARY KEY) WITHOUT ROWID")
        parts = ((known[at : at + self.SIZE],) for at in range(0, len(known), self.SIZE))
        self._index.executemany("INSERT INTO seen VALUES (?)", parts)

    def add(self, name: bytes) -> bool:
        """Note a client; return whether it is a new one."""
        digest = sha256(name).digest()[: self.SIZE]
        new = self._index.execute("INSERT OR IGNORE INTO seen VALUES (?)", (digest,)).rowcount == 1
        if new:
            self._note(digest)
        return new
