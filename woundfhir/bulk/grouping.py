"""The resources of each client, wherever in large files they stand: found by one pass, with an index on the disk.

What decides whose a resource is stays with ``intake``: here only those are brought together that may be of one client,
by the references to Patients and the numbers of these. Where an input names clients in another way than by a reference
to a Patient, it is not plain (``NotPlain``), and must be read as a whole.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from woundfhir.bulk.clients import Clients
from woundfhir.bulk.lines import Files, Line
from woundfhir.bulk.whose import NotPlain, Unreadable, named, whose
from woundfhir.errors import InputError, WoundfhirError
from woundfhir.intake.parting import SHARED
from woundfhir.limits import LIMIT

Json = Any
Refused = Callable[[str, int, str], object]
#: Rows that are put to the index at once.
_BATCH = 5_000


class Group(NamedTuple):
    """What may be of one client: its lines, and the file and number of each."""

    content: bytes
    places: list[tuple[int, int]]


class Grouping:
    """An index of one input."""

    def __init__(self, files: Files, refused: Refused | None = None) -> None:
        self.files = files
        self.refused = refused
        # A database without a name is on the disk, and gone however the run ends (SQLite, Temporary Databases).
        self._index = sqlite3.connect("", isolation_level=None)
        for line in ("journal_mode=OFF", "synchronous=OFF", "cache_size=-16000", "temp_store=FILE"):
            self._index.execute(f"PRAGMA {line}")
        columns = "seq INTEGER PRIMARY KEY, node INT, file INT, line INT, at INT, size INT"
        self._index.execute(f"CREATE TABLE rows ({columns})")
        self._index.execute("CREATE TABLE names (name TEXT, seq INT)")
        self._index.execute("CREATE TABLE loose (seq INTEGER PRIMARY KEY, refs TEXT)")
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
        rows: list[tuple[int | None, ...]] = []
        names: list[tuple[str, int]] = []
        self._index.execute("BEGIN")
        for line in self.files.lines():
            progress(len(line.text))
            self.lines += 1
            if not line.whole:
                too_long = self.files.too_long(line)
                if self.refused is None:
                    raise too_long
                self._refuse(line, f"expected {too_long.expected}")
                continue
            try:
                one = whose(line.text)
            except Unreadable as reason:
                self._refuse(line, str(reason))
                continue
            numbers = [self._clients.number(name, self.lines) for name in sorted(one.clients)]
            node = self._clients.join(numbers) if len(numbers) > 1 else numbers[0] if numbers else None
            if node is None and not one.shared:
                refs = "\n".join(sorted(named(line.text)))
                self._index.execute("INSERT INTO loose VALUES (?, ?)", (self.lines, refs))
            rows.append((self.lines, node, line.file, line.number, line.start, len(line.text)))
            if one.name is not None:
                names.append((one.name, self.lines))
            if len(rows) >= _BATCH:
                self._keep(rows, names)
        self._keep(rows, names)
        self._index.execute("COMMIT")
        self._index.execute("CREATE INDEX by_node ON rows (node, seq)")
        self._index.execute("CREATE INDEX by_name ON names (name)")
        self._place_loose()
        self._refuse_one_id_for_two()

    def _keep(self, rows: list[tuple[int | None, ...]], names: list[tuple[str, int]]) -> None:
        self._index.executemany("INSERT INTO rows VALUES (?, ?, ?, ?, ?, ?)", rows)
        self._index.executemany("INSERT INTO names VALUES (?, ?)", names)
        rows.clear()
        names.clear()

    def _refuse(self, line: Line, reason: str) -> None:
        if self.refused is None:
            where = f"{self.files.names[line.file]}, line {line.number}"
            raise InputError(where, "one FHIR resource on each line", _FIX, found=reason)
        self.refused(self.files.names[line.file], line.number, reason)

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
                    self._index.execute("UPDATE rows SET node = ? WHERE seq = ?", (self._clients.join(owners), seq))
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
            rows = [row for node in self._clients.members(root) for row in self._rows("node = ?", node)]
            if not rows:
                continue
            if skip:
                skip -= 1
                continue
            rows += self._rows("node IS NULL") if count < 2 else []
            yield self._group(rows)
        if not count and not skip and (rows := self._rows("node IS NULL")):
            yield self._group(rows)

    def _rows(self, where: str, *given: Json) -> list[tuple[int, ...]]:
        return self._index.execute(f"SELECT seq, file, line, at, size FROM rows WHERE {where}", given).fetchall()

    def _group(self, rows: list[tuple[int, ...]]) -> Group:
        """Return rows with everybody's that they name, and what these name, in the order of the input."""
        texts: dict[int, bytes] = {}
        places: dict[int, tuple[int, int]] = {}
        waiting, size, asked = rows, 0, set[str]()
        while waiting:
            for seq, file, line, at, length in waiting:
                text = self.files.again(file, at, length)
                texts[seq], places[seq] = text if text.endswith(b"\n") else text + b"\n", (file, line)
                size += length
            if size > LIMIT:
                raise InputError(self.files.names[waiting[0][1]], "at most 200 MB of one client", "Split it by visits")
            shared = {name for row in waiting for name in named(texts[row[0]]) if name.split("/")[0] in SHARED} - asked
            asked |= shared
            waiting = [row for name in sorted(shared) for row in self._shared(name) if row[0] not in texts]
        order = sorted(texts)
        return Group(b"".join(texts[seq] for seq in order), [places[seq] for seq in order])

    def _shared(self, name: str) -> list[tuple[int, ...]]:
        return self._rows("node IS NULL AND seq IN (SELECT seq FROM names WHERE name = ?)", name)


_NO_ROOM = "the index of the input cannot be written. Make room where temporary files stand (TMPDIR names the folder)"
_FIX = "Correct the line, or let --errors FILE list such lines and read the others"
