"""Which names are of one client: names and their unions in an index on the disk, so that their number costs no memory.

A client is found by the first of its names (a union of sets, each with its root). What was asked for last is held in
memory, and no more than that.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from hashlib import sha256

from woundfhir.scratch import scratch

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
    >>> third = clients.number("card|7", 3, file=1)
    >>> clients.gather([0, 1])
    >>> clients.settle()
    >>> clients.count(), [list(clients.members(root)) for _, root in clients.roots()]
    (2, [[1, 2], [3]])
    """

    def __init__(self, index: sqlite3.Connection) -> None:
        self._index = index
        columns = "number INTEGER PRIMARY KEY, file INT, name TEXT, above INT, first INT, UNIQUE (file, name)"
        index.execute(f"CREATE TABLE client ({columns})")
        #: Of each file the group of files that it is read together with.
        index.execute("CREATE TABLE file (file INTEGER PRIMARY KEY, part INT)")
        self._last = 0
        self._numbers: dict[tuple[int, str], int] = {}
        #: Number -> the number above it (its own at the root), and the line that named it first.
        self._above: dict[int, tuple[int, int]] = {}

    def number(self, name: str, line: int, file: int = 0) -> int:
        """Return the root of a name, which a line of a file names."""
        found = self._numbers.get((file, name))
        if found is None:
            ask = "SELECT number FROM client WHERE file = ? AND name = ?"
            row = self._index.execute(ask, (file, name)).fetchone()
            found = self._new(name, line, file) if row is None else int(row[0])
            if len(self._numbers) >= _HELD:
                self._numbers.clear()
            self._numbers[file, name] = found
        return self.root(found)

    def _new(self, name: str, line: int, file: int) -> int:
        self._last += 1
        self._index.execute("INSERT INTO client VALUES (?, ?, ?, ?, ?)", (self._last, file, name, self._last, line))
        return self._last

    def gather(self, parts: Sequence[int]) -> None:
        """Join what bears one name in the files of one part, given the part of each file, once all are named."""
        self._index.executemany("INSERT INTO file VALUES (?, ?)", enumerate(parts))
        if len(set(parts)) == len(parts):
            return
        same = "SELECT GROUP_CONCAT(number) FROM client JOIN file USING (file) GROUP BY part, name HAVING COUNT(*) > 1"
        for (numbers,) in self._index.execute(same):
            self.join(map(int, numbers.split(",")))

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

    def counts(self) -> dict[int, int]:
        """Return how many clients there are in each part that has some."""
        ask = "SELECT part, COUNT(*) FROM client JOIN file USING (file) WHERE above = number GROUP BY part"
        return dict(self._index.execute(ask).fetchall())

    def roots(self) -> Iterator[tuple[int, int | None]]:
        """Yield part and client, in the order in which a part's are first named; None where a part has no client."""
        having = "SELECT part, number, first FROM client JOIN file USING (file) WHERE above = number"
        without = (
            "SELECT DISTINCT part, NULL, 0 FROM file "
            "WHERE part >= 0 AND part NOT IN (SELECT part FROM client JOIN file USING (file))"
        )
        rows = self._index.execute(f"{having} UNION ALL {without} ORDER BY 1, 3, 2")
        return ((part, number) for part, number, _ in rows)

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
        self._index = scratch(8_000)
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
