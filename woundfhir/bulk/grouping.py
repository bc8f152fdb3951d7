"""The resources of each client, wherever in large files they stand: found by one pass, with an index on the disk.

What decides whose a resource is stays with ``intake``: here only those are brought together that may be of one client,
by the references to Patients and the numbers of these. Where an input names clients in another way than by a reference
to a Patient, it is not plain (``NotPlain``), and must be read as a whole.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from typing import Any

from woundfhir.bulk.clients import Clients
from woundfhir.bulk.lines import Files, Part
from woundfhir.bulk.parts import Found, found_in
from woundfhir.bulk.whose import NotPlain
from woundfhir.bulk.work import in_order
from woundfhir.errors import InputError, WoundfhirError
from woundfhir.limits import LIMIT

Json = Any
Refused = Callable[[str, int, str], object]
#: Rows that are asked of the index at once.
_BATCH = 5_000
#: A row of the index: its place among all lines that are not blank; the number of its file, its line, where it stands
#: there, and its length.
_Row = tuple[int, int, int, int, int]
#: Bytes of the input that are read at once, and by each worker.
_PART = 4 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Group:
    """What may be of one client: where its lines stand, and the file and number of each."""

    files: Files
    stretches: list[Part]
    places: list[tuple[int, int]]

    @property
    def content(self) -> bytes:
        """Its lines."""
        return self.files.together(self.stretches)


class Grouping:
    """An index of one input, whose lines are read by so many processes."""

    def __init__(self, files: Files, refused: Refused | None = None, workers: int = 1) -> None:
        self.files = files
        self.refused = refused
        self.workers = workers if files.size > _PART else 1
        # A database without a name is on the disk, and gone however the run ends (SQLite, Temporary Databases).
        self._index = sqlite3.connect("", isolation_level=None)
        for line in ("journal_mode=OFF", "synchronous=OFF", "cache_size=-16000", "temp_store=FILE"):
            self._index.execute(f"PRAGMA {line}")
        columns = "seq INTEGER PRIMARY KEY, node INT, file INT, line INT, at INT, size INT"
        self._index.execute(f"CREATE TABLE rows ({columns})")
        self._index.execute("CREATE TABLE names (name TEXT, seq INT)")
        self._index.execute("CREATE TABLE loose (seq INTEGER PRIMARY KEY, refs TEXT)")
        # What of everybody's is pointed at: by a client (its number), or by a line that names none (minus its seq).
        self._index.execute("CREATE TABLE wanted (owner INT, name TEXT)")
        self._clients = Clients(self._index)
        self.lines = 0

    def __enter__(self) -> Grouping:
        return self

    def __exit__(self, *_: object) -> None:
        self._index.close()

    # -- one pass ------------------------------------------------------------------------------

    def read(self, progress: Callable[[int], object] = lambda _: None) -> None:
        """Read all lines once.

        Raises
        ------
        InputError
            With file and line of what is no resource, unless ``refused`` takes it.
        NotPlain
            Where it has to be read as a whole.
        """
        try:
            self._read(progress)
        except sqlite3.Error:
            raise WoundfhirError(_NO_ROOM) from None

    def _read(self, progress: Callable[[int], object]) -> None:
        before: dict[int, int] = {}
        self._index.execute("BEGIN")
        with closing(in_order(partial(found_in, self.files), self.files.parts(_PART), self.workers)) as parts:
            for found in parts:
                numbers = before.get(found.file, 0)
                self._refuse(found, numbers)
                if not found.plain:
                    raise NotPlain
                self._keep(found, numbers)
                progress(found.size)
                before[found.file] = numbers + found.lines
                self.lines += found.filled
        self._index.execute("COMMIT")
        self._index.execute("CREATE INDEX by_node ON rows (node, seq)")
        self._index.execute("CREATE INDEX by_name ON names (name)")
        self._index.execute("CREATE INDEX by_owner ON wanted (owner)")
        self._place_loose()
        self._refuse_one_id_for_two()

    def _refuse(self, found: Found, numbers: int) -> None:
        """Refuse the lines of a part that cannot be read; so many lines of its file stand before it."""
        name = self.files.names[found.file]
        for number, reason in found.refused:
            too_long = self.files.too_long(found.file, numbers + number)
            if self.refused is not None:
                self.refused(name, numbers + number, reason or f"expected {too_long.expected}")
            elif reason is None:
                raise too_long
            else:
                raise InputError(
                    f"{name}, line {numbers + number}", "one FHIR resource on each line", _FIX, found=reason
                )

    def _keep(self, found: Found, numbers: int) -> None:
        """Put what the lines of a part say to the index, under numbers that go on through all parts."""
        seq = self.lines
        nodes: dict[int | None, int | None] = {None: None}
        for names, nth in found.owners.items():
            known = [self._clients.number(name, seq + nth) for name in sorted(names)]
            nodes[nth] = self._clients.join(known) if len(known) > 1 else known[0]
        put = self._index.executemany
        put(
            "INSERT INTO rows VALUES (?, ?, ?, ?, ?, ?)",
            (
                (seq + nth, nodes[owner], found.file, numbers + number, start, size)
                for nth, owner, number, start, size in found.rows
            ),
        )
        put("INSERT INTO names VALUES (?, ?)", ((name, seq + nth) for name, nth in found.names))
        put("INSERT INTO loose VALUES (?, ?)", ((seq + nth, refs) for nth, refs in found.loose))
        put("INSERT INTO wanted VALUES (?, ?)", ((nodes[owner], name) for owner, name in sorted(found.wanted)))
        put("INSERT INTO wanted VALUES (?, ?)", ((-(seq + nth), name) for nth, name in found.wanted_by_line))

    # -- clients -------------------------------------------------------------------------------

    def _place_loose(self) -> None:
        """Put what names no client to the one whose resources it points at."""
        waiting = True
        while waiting:
            waiting = placed = False
            for seq, owners in self._owners_of_loose(
                "WHERE (SELECT node FROM rows WHERE rows.seq = loose.seq) IS NULL"
            ):
                if owners:
                    node = self._clients.join(owners)
                    self._index.execute("UPDATE rows SET node = ? WHERE seq = ?", (node, seq))
                    self._index.execute("UPDATE wanted SET owner = ? WHERE owner = ?", (node, -seq))
                    placed = True
                else:
                    waiting = True
            if waiting and not placed:
                raise NotPlain
        for _, owners in self._owners_of_loose(""):  # now that all are placed: the order of the lines decides nothing
            self._clients.join(owners)
        self._clients.settle()

    def _owners_of_loose(self, where: str) -> Iterator[tuple[int, list[int]]]:
        after = 0
        while rows := self._index.execute(
            f"SELECT seq, refs FROM (SELECT * FROM loose {where}) WHERE seq > ? ORDER BY seq LIMIT {_BATCH}", (after,)
        ).fetchall():
            for seq, refs in rows:
                yield seq, [node for ref in refs.split("\n") for node in self._owners_of(ref)]
            after = rows[-1][0]

    def _owners_of(self, name: str) -> list[int]:
        found = self._index.execute("SELECT node FROM names JOIN rows USING (seq) WHERE name = ?", (name,))
        return [node for (node,) in found if node is not None]

    def _refuse_one_id_for_two(self) -> None:
        """An id that two clients' resources bear, or two contents of everybody's: only the whole shows the conflict."""
        twice = "SELECT name FROM names GROUP BY name HAVING COUNT(*) > 1"
        rows = self._index.execute(
            f"SELECT name, node, file, at, size FROM names JOIN rows USING (seq) WHERE name IN ({twice}) ORDER BY name"
        )
        last: tuple[str, int | None, bytes] | None = None
        for name, node, file, at, size in rows:
            shared = self.files.again(file, at, size).strip() if node is None else b""
            one = (name, None if node is None else self._clients.root(node), shared)
            if last is not None and last[0] == name and last != one:
                raise NotPlain
            last = one

    def clients(self) -> int:
        """Return how many groups there are."""
        return self._clients.count()

    # -- out of the index ----------------------------------------------------------------------

    def groups(self, skip: int = 0) -> Iterator[Group]:
        """Yield what may be of one client, in the order in which the clients are first named, after the first few."""
        count = self._clients.count()
        for root in self._clients.roots():
            nodes = list(self._clients.members(root))
            rows = [row for node in nodes for row in self._rows("node = ?", node)]
            if not rows:
                continue
            if skip:
                skip -= 1
                continue
            others = self._rows("node IS NULL") if count < 2 else []
            yield self._group(rows + others, [*nodes, *(-row[0] for row in others)])
        if not count and not skip and (rows := self._rows("node IS NULL")):
            yield self._group(rows, [-row[0] for row in rows])

    def _rows(self, where: str, *given: Json) -> list[_Row]:
        return self._index.execute(f"SELECT seq, file, line, at, size FROM rows WHERE {where}", given).fetchall()

    def _group(self, rows: list[_Row], owners: list[int]) -> Group:
        """Return rows with everybody's that their owners point at, and what these do, in the order of the input."""
        held, asked, waiting = {row[0]: row for row in rows}, set[str](), rows
        while waiting:
            if sum(size for _, _, _, _, size in held.values()) > LIMIT:
                raise InputError(self.files.names[waiting[0][1]], "at most 200 MB of one client", "Split it by visits")
            names = {name for owner in owners for name in self._wanted(owner)} - asked
            asked |= names
            waiting = [row for name in sorted(names) for row in self._shared(name) if row[0] not in held]
            held |= {row[0]: row for row in waiting}
            owners = [-row[0] for row in waiting]
        order = [held[seq] for seq in sorted(held)]
        return Group(self.files, _stretches(order), [(file, line) for _, file, line, _, _ in order])

    def _wanted(self, owner: int) -> list[str]:
        return [name for (name,) in self._index.execute("SELECT name FROM wanted WHERE owner = ?", (owner,))]

    def _shared(self, name: str) -> list[_Row]:
        return self._rows("node IS NULL AND seq IN (SELECT seq FROM names WHERE name = ?)", name)


def _stretches(rows: Iterable[_Row]) -> list[Part]:
    """Return where lines stand, those that follow each other in one stretch."""
    found: list[Part] = []
    for _, file, _, at, size in rows:
        if found and (found[-1].file, found[-1].end) == (file, at):
            found[-1] = found[-1]._replace(end=at + size)
        else:
            found.append(Part(file, at, at + size))
    return found


_NO_ROOM = "the index of the input cannot be written. Make room where temporary files stand (TMPDIR names the folder)"
_FIX = "Correct the line, or let --errors FILE list such lines and read the others"
