"""Which files of resources are one input: ids are names within one server, or one export, and files of two may meet.

Files of a folder are one input where one names a Patient that it does not hold itself, and exactly one other file of
the folder holds that Patient; a reference with the address of a server names nobody here. Files that hold different
contents of one Patient are never one input: then each file of such a group is read by itself. A file that holds and
names no Patient is everybody's in its folder.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from hashlib import sha256
from pathlib import PurePath

import msgspec

from woundfhir.r4 import jsonio
from woundfhir.scratch import scratch

_REFERENCE = re.compile(rb'"reference"\s*:\s*"(?:[^"\\]*/)?([A-Z][A-Za-z]+/[A-Za-z0-9\-.]+)(?:/_history/[^"\\]*)?"')
_PATIENT = re.compile(rb'"reference"\s*:\s*"((?:[^"\\]*/)?Patient/[A-Za-z0-9\-.]+)(?:/_history/[^"\\]*)?"')


def unescaped(text: bytes) -> bytes:
    """Return JSON in which nothing is escaped that need not be: a slash or a letter may be written in another way.

    Raises
    ------
    msgspec.DecodeError
        For what is no JSON.

    Examples
    --------
    >>> unescaped(rb'{"reference":"Patient\\/a"}')
    b'{"reference":"Patient/a"}'
    """
    return msgspec.json.encode(msgspec.json.decode(text)) if b"\\" in text else text


def named(text: bytes) -> set[str]:
    """Return what the references in unescaped JSON name, by type and id."""
    return {found.decode() for found in _REFERENCE.findall(text)}


def patients(text: bytes) -> set[str]:
    """Return the Patients that references in unescaped JSON name, with the address of their server where it is given.

    Examples
    --------
    >>> sorted(patients(b'[{"reference":"Patient/a"},{"reference":"https://example.org/Patient/b"}]'))
    ['Patient/a', 'https://example.org/Patient/b']
    """
    return {found.decode() for found in _PATIENT.findall(text)}


def digest(patient: bytes) -> bytes:
    """Return a digest of what a Patient says, however its JSON is written (RFC 8259)."""
    return sha256(jsonio.encode(jsonio.decode(patient))).digest()


class FileGroups:
    """What files say of Patients, on the disk, and which of them are one input.

    Examples
    --------
    >>> groups = FileGroups()
    >>> [groups.add(f"in/{name}.ndjson") for name in "abcd"]
    [0, 1, 2, 3]
    >>> groups.note(0, [("Patient/1", b"x")], [])
    >>> groups.note(1, [], ["Patient/1"])
    >>> groups.note(2, [("Patient/2", b"x")], ["Patient/2"])
    >>> groups.settle()
    [0, 0, 2, -4]
    """

    def __init__(self) -> None:
        #: Of each file the number of its folder.
        self.folders: list[int] = []
        self._known: dict[str, int] = {}
        self._index = scratch()
        self._index.execute("CREATE TABLE file (file INTEGER PRIMARY KEY, folder INT)")
        self._index.execute("CREATE TABLE held (name TEXT, file INT, content BLOB, PRIMARY KEY (name, file, content))")
        self._index.execute("CREATE TABLE named (name TEXT, file INT, PRIMARY KEY (name, file)) WITHOUT ROWID")

    def add(self, name: str) -> int:
        """Add a file; return its number."""
        number, folder = len(self.folders), self._known.setdefault(str(PurePath(name).parent), len(self._known))
        self.folders.append(folder)
        self._index.execute("INSERT INTO file VALUES (?, ?)", (number, folder))
        return number

    def note(self, file: int, held: Iterable[tuple[str, bytes]], names: Iterable[str]) -> None:
        """Note Patients that a file holds, each with its content, and those that it names."""
        put = self._index.executemany
        self._index.execute("BEGIN")
        put("INSERT OR IGNORE INTO held VALUES (?, ?, ?)", ((name, file, content) for name, content in held))
        put("INSERT OR IGNORE INTO named VALUES (?, ?)", ((name, file) for name in names))
        self._index.execute("COMMIT")

    def settle(self) -> list[int]:
        """Return of each file the number of its group, which is that of the first file in it.

        It is below zero where the file is everybody's.

        Where the files of a folder that have clients are one group, and where none has a client, all are one group.
        """
        ask = self._index.execute
        groups = {file: {file} for (file,) in ask("SELECT file FROM held UNION SELECT file FROM named")}
        for one, other in ask(_LINKS).fetchall():
            if groups[one] is not groups[other]:
                groups[one] |= groups[other]
                groups |= dict.fromkeys(groups[other], groups[one])
        for one, other in ask(_CLASHES).fetchall():
            if groups[one] is groups[other]:
                groups |= {file: {file} for file in groups[one]}
        self._index.close()
        numbers = [min(groups[file]) if file in groups else -file - 1 for file in range(len(self.folders))]
        by_folder: dict[int, list[int]] = {}
        for file, folder in enumerate(self.folders):
            by_folder.setdefault(folder, []).append(file)
        for files in by_folder.values():
            found = {numbers[file] for file in files if numbers[file] >= 0}
            if len(found) < 2:
                for file in files:
                    numbers[file] = files[0]
        return numbers


#: The file that alone in its folder holds one content of a Patient whom another names and does not hold.
_LINKS = """\
SELECT DISTINCT named.file, MIN(holding.file)
FROM named JOIN file ON file.file = named.file
JOIN (SELECT name, held.file, folder FROM held JOIN file USING (file)) AS holding
  ON holding.name = named.name AND holding.folder = file.folder
GROUP BY named.name, named.file HAVING COUNT(*) = 1 AND MIN(holding.file) <> named.file
"""
#: Two files that hold different contents of one Patient.
_CLASHES = """\
SELECT DISTINCT a.file, b.file FROM held AS a JOIN held AS b USING (name)
WHERE a.file < b.file AND a.content <> b.content
"""
