"""The resources of each client, wherever in large files they stand: found by one pass, with an index on the disk.

What decides whose a resource is stays with ``intake``: here only those are brought together that may be of one client,
by the references to Patients and the numbers of these. Where an input names clients in another way than by a reference
to a Patient, it is not plain (``NotPlain``), and must be read as a whole.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from functools import partial
from typing import Any

from woundfhir.bulk.clients import Clients
from woundfhir.bulk.group import Group, Row, group_of
from woundfhir.bulk.lines import Files
from woundfhir.bulk.parts import Found, found_in
from woundfhir.bulk.whose import NotPlain
from woundfhir.bulk.work import in_order
from woundfhir.errors import InputError, WoundfhirError
from woundfhir.intake.file_groups import FileGroups
from woundfhir.limits import LIMIT
from woundfhir.scratch import scratch

Json = Any
Refused = Callable[[str, int, str], object]
#: Rows that are asked of the index at once.
_BATCH = 5_000
#: Bytes of the input that are read at once, and by each worker.
_PART = 4 * 1024 * 1024
_NOT_ASKED = " AND seq NOT IN (SELECT seq FROM asked)"


class Grouping:
    """An index of one input, whose lines are read by so many processes."""

    def __init__(self, files: Files, refused: Refused | None = None, workers: int = 1) -> None:
        self.files = files
        self.refused = refused
        self.workers = workers if files.size > _PART else 1
        self._index = scratch()
        columns = "seq INTEGER PRIMARY KEY, node INT, file INT, line INT, at INT, size INT"
        self._index.execute(f"CREATE TABLE rows ({columns})")
        self._index.execute("CREATE TABLE names (name TEXT, seq INT, part INT)")
        self._index.execute("CREATE TABLE loose (seq INTEGER PRIMARY KEY, file INT, refs TEXT)")
        # What of everybody's is pointed at: by a client (its number), or by a line that names none (minus its seq).
        self._index.execute("CREATE TABLE wanted (owner INT, name TEXT, part INT)")
        # What facts of a client point at that their part of the file does not hold.
        self._index.execute("CREATE TABLE crossing (owner INT, file INT, name TEXT)")
        self._clients = Clients(self._index)
        self._groups = FileGroups()
        for name in files.names:
            self._groups.add(name)
        #: Of each file the group of files that it is read together with; below zero: everybody's in its folder.
        self._parts = [0]
        #: What of that somebody was given.
        self._lent: set[int] = set()
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
        if len(self.files.names) > 1:
            self._parts = self._groups.settle()
        self._clients.gather(self._parts)
        if len(self._parts) > 1:
            for table in ("names", "wanted"):
                self._index.execute(f"UPDATE {table} SET part = (SELECT part FROM file WHERE file = {table}.part)")
        self._index.execute("CREATE INDEX by_node ON rows (node, seq)")
        self._index.execute("CREATE INDEX by_name ON names (name, part)")
        self._index.execute("CREATE INDEX by_owner ON wanted (owner)")
        self._place_loose()
        self._index.execute("CREATE INDEX by_file ON rows (file, seq) WHERE node IS NULL")
        self._join_crossed()
        self._clients.settle()
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
            known = [self._clients.number(name, seq + nth, found.file) for name in sorted(names)]
            nodes[nth] = self._clients.join(known) if len(known) > 1 else known[0]
        put = self._index.executemany
        put(
            "INSERT INTO rows VALUES (?, ?, ?, ?, ?, ?)",
            (
                (seq + nth, nodes[owner], found.file, numbers + number, start, size)
                for nth, owner, number, start, size in found.rows
            ),
        )
        file = found.file
        put("INSERT INTO names VALUES (?, ?, ?)", ((name, seq + nth, file) for name, nth in found.names))
        put("INSERT INTO loose VALUES (?, ?, ?)", ((seq + nth, file, refs) for nth, refs in found.loose))
        put("INSERT INTO crossing VALUES (?, ?, ?)", ((nodes[owner], file, name) for owner, name in found.crossing()))
        put("INSERT INTO wanted VALUES (?, ?, ?)", ((nodes[one], name, file) for one, name in sorted(found.wanted)))
        put("INSERT INTO wanted VALUES (?, ?, ?)", ((-(seq + nth), name, file) for nth, name in found.wanted_by_line))
        if found.held or found.patients:
            self._groups.note(found.file, found.held, found.patients)

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

    def _owners_of_loose(self, where: str) -> Iterator[tuple[int, list[int]]]:
        after = 0
        while rows := self._index.execute(
            f"SELECT * FROM (SELECT * FROM loose {where}) WHERE seq > ? ORDER BY seq LIMIT {_BATCH}", (after,)
        ).fetchall():
            for seq, file, refs in rows:
                found = [one for ref in refs.split("\n") for one in self._named(ref, file)]
                if len({self._parts[row[1]] for node, row in found if node is not None}) > 1:
                    raise NotPlain  # clients of two inputs
                yield seq, [node for node, _ in found if node is not None]
            after = rows[-1][0]

    def _named(self, name: str, file: int) -> list[tuple[int | None, Row]]:
        """Return what bears a name for who reads a file: in its part, else in the one file of its folder that has it.

        Beyond its part that is what is everybody's; for what is everybody's itself it is whatever is named.
        """
        part = self._parts[file]
        own = self._bearing("name = ? AND part = ?", name, part) if part >= 0 else []
        if own or min(self._parts) >= 0:
            return own
        here = self._groups.folders[file]
        found = [one for one in self._bearing("name = ?", name) if self._groups.folders[one[1][1]] == here]
        lent = part < 0 or all(self._parts[row[1]] < 0 for _, row in found)
        return found if lent and len({row[1] for _, row in found}) == 1 else []

    def _bearing(self, where: str, *given: Json) -> list[tuple[int | None, Row]]:
        ask = f"SELECT node, seq, file, line, at, size FROM names JOIN rows USING (seq) WHERE {where}"
        return [(node, tuple(row)) for node, *row in self._index.execute(ask, given)]

    def _join_crossed(self) -> None:
        """Bring two clients together where a fact of one points at a fact of the other: their reader sets it aside."""
        rows = self._index.execute(
            "SELECT owner, node FROM crossing JOIN file USING (file) "
            "JOIN names ON names.name = crossing.name AND names.part = file.part "
            "JOIN rows ON rows.seq = names.seq WHERE node <> owner"
        )
        for owner, node in rows:  # which the unions do not change
            self._clients.join((owner, node))

    def _refuse_one_id_for_two(self) -> None:
        """An id that two clients' resources bear, or two contents of everybody's: only the whole shows the conflict."""
        twice = "SELECT name, part FROM names GROUP BY name, part HAVING COUNT(*) > 1"
        rows = self._index.execute(
            "SELECT name, part, node, file, at, size FROM names JOIN rows USING (seq) "
            f"WHERE (name, part) IN ({twice}) ORDER BY name, part"
        )
        last: tuple[Json, ...] | None = None
        for name, part, node, file, at, size in rows:
            shared = self.files.again(file, at, size).strip() if node is None else b""
            one = (name, part, None if node is None else self._clients.root(node), shared)
            if last is not None and last[:2] == one[:2] and last != one:
                raise NotPlain
            last = one

    def clients(self) -> int:
        """Return how many groups there are."""
        return self._clients.count()

    # -- out of the index ----------------------------------------------------------------------

    def groups(self, skip: int = 0) -> Iterator[Group]:
        """Yield what may be of one client, in the order in which the clients are first named, after the first few."""
        counts = self._clients.counts()
        for part, root in self._clients.roots():
            nodes = [] if root is None else list(self._clients.members(root))
            rows = [row for node in nodes for row in self._rows("node = ?", node)]
            others = self._everybodys(part) if counts.get(part, 0) < 2 else []
            if rows or (root is None and others):
                if skip and min(self._parts) >= 0:
                    skip -= 1
                    continue
                group = self._group(rows + others, [*nodes, *(-row[0] for row in others)])
                if not skip:
                    yield group
                skip = max(skip - 1, 0)
        for part in (one for one in self._parts if one < 0):
            if others := [row for row in self._everybodys(part) if row[0] not in self._lent]:
                if skip:
                    skip -= 1
                    continue
                yield group_of(self.files, others)

    def unnamed(self) -> Iterator[bytes]:
        """Yield the lines that are everybody's where there are several clients, and that nobody names."""
        self._index.execute("CREATE INDEX by_wanted ON wanted (name, part)")
        asked = "SELECT seq FROM names CROSS JOIN rows USING (seq) WHERE node IS NULL AND (name, part) IN"
        self._index.execute(f"CREATE TEMP TABLE asked AS {asked} (SELECT name, part FROM wanted)")
        for part, count in self._clients.counts().items():
            for _, file, _, at, size in self._everybodys(part, _NOT_ASKED) if count > 1 else ():
                yield self.files.again(file, at, size)

    def _everybodys(self, part: int, where: str = "") -> list[Row]:
        return self._rows(f"node IS NULL AND file IN (SELECT file FROM file WHERE part = ?){where}", part)

    def _rows(self, where: str, *given: Json) -> list[Row]:
        return self._index.execute(f"SELECT seq, file, line, at, size FROM rows WHERE {where}", given).fetchall()

    def _group(self, rows: list[Row], owners: list[int]) -> Group:
        """Return rows with everybody's that their owners point at, and what these do, in the order of the input."""
        held, asked, waiting, file = {row[0]: row for row in rows}, set[str](), rows, self._reading(rows)
        while waiting:
            if sum(size for _, _, _, _, size in held.values()) > LIMIT:
                raise InputError(self.files.names[waiting[0][1]], "at most 200 MB of one client", "Split it by visits")
            names = {name for owner in owners for name in self._wanted(owner)} - asked
            asked |= names
            found = [one for name in sorted(names) for one in self._named(name, file)]
            waiting = [row for node, row in found if node is None and row[0] not in held]
            held |= {row[0]: row for row in waiting}
            owners = [-row[0] for row in waiting]
        order = [held[seq] for seq in sorted(held)]
        self._lent.update(row[0] for row in order if self._parts[row[1]] < 0)
        return group_of(self.files, order)

    def _reading(self, rows: list[Row]) -> int:
        """Return a file by whose part names are followed: not one that is everybody's, if there is another."""
        return max((row[1] for row in rows), key=lambda file: self._parts[file])

    def _wanted(self, owner: int) -> list[str]:
        return [name for (name,) in self._index.execute("SELECT name FROM wanted WHERE owner = ?", (owner,))]


_NO_ROOM = "the index of the input cannot be written. Make room where temporary files stand (TMPDIR names the folder)"
_FIX = "Correct the line, or let --errors FILE list such lines and read the others"
