"""A part of a large file, and what its lines say of whose they are: worked out by any process, whatever the others do.

A part holds the lines that begin in it. What is found in it depends on nothing else, so that one process can put what
many have found together, in the order of the parts.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from woundfhir.bulk.lines import Files, Line, Part
from woundfhir.bulk.whose import NotPlain, Unreadable, plain, whose
from woundfhir.errors import InputError
from woundfhir.intake.file_groups import digest, named, patients
from woundfhir.intake.parting import OF_ONE, SHARED

#: A line that holds a resource: its place among those of the part that are not blank, from 1; the place of the first
#: of them that names the same client (None where it names none); its number among all lines of the part, from 1; where
#: it stands in its file, and its length.
Row = tuple[int, int | None, int, int, int]


@dataclass(slots=True)
class Found:
    """What the lines of a part say, until one of them names its client in another way than by a Patient."""

    #: The number of its file.
    file: int
    rows: list[Row] = field(default_factory=list)
    #: The names of each client, with the first line that names it so; in the order of these lines.
    owners: dict[frozenset[str], int] = field(default_factory=dict)
    #: The names of resources, each with its line.
    names: list[tuple[str, int]] = field(default_factory=list)
    #: Lines that name no client and are not everybody's, each with all that it points at.
    loose: list[tuple[int, str]] = field(default_factory=list)
    #: What of everybody's is pointed at: by a client (its first line), and by each line that names none.
    wanted: set[tuple[int, str]] = field(default_factory=set)
    wanted_by_line: list[tuple[int, str]] = field(default_factory=list)
    #: Where there are several files: the Patients that it holds, with what each says, and those that it names.
    held: set[tuple[str, bytes]] = field(default_factory=set)
    patients: set[str] = field(default_factory=set)
    #: The facts of each client that facts of theirs point at.
    pointed: set[tuple[int, str]] = field(default_factory=set)
    #: The numbers of lines that cannot be read, each with the reason; without one it is too long.
    refused: list[tuple[int, str | None]] = field(default_factory=list)
    #: How many lines there are, how many of them are not blank, and the bytes of these.
    lines: int = 0
    filled: int = 0
    size: int = 0
    plain: bool = True

    def crossing(self) -> list[tuple[int, str]]:
        """Return what facts of a client point at that is not that client's in this part."""
        owners = {nth: owner for nth, owner, *_ in self.rows}
        return sorted(self.pointed - {(owner, name) for name, nth in self.names if (owner := owners[nth])})


def found_in(files: Files, part: Part) -> Found:
    """Return what the lines of a part say."""
    found = Found(part.file)
    try:
        for line in files.lines_in(part):
            found.lines = line.number
            if not line.whole:
                found.filled += 1
                found.refused.append((line.number, None))
            elif line.text.strip():
                found.filled += 1
                found.size += len(line.text)
                _note(line, found, several=len(files.names) > 1)
    except NotPlain:
        found.plain = False
    return found


def _note(line: Line, found: Found, several: bool) -> None:
    nth = found.filled
    try:
        one = whose(line.text)
    except Unreadable as reason:
        found.refused.append((line.number, str(reason)))
        return
    text = plain(line.text)
    names = named(text)
    shared = [name for name in names if name.partition("/")[0] in SHARED]
    owner = None
    if one.clients:
        owner = found.owners.setdefault(one.clients, nth)
        found.wanted.update((owner, name) for name in shared)
        if one.name is None or one.name.partition("/")[0] in OF_ONE:
            found.pointed.update((owner, name) for name in names if name.partition("/")[0] in OF_ONE)
    else:
        found.wanted_by_line += [(nth, name) for name in sorted(shared)]
        if not one.shared:
            found.loose.append((nth, "\n".join(sorted(names))))
    found.rows.append((nth, owner, line.number, line.start, len(line.text)))
    if one.name is not None:
        found.names.append((one.name, nth))
    if several:
        found.patients |= patients(text)
        if one.name is not None and one.name.startswith("Patient/"):
            found.held.add((one.name, _digest(line.text)))


def _digest(text: bytes) -> bytes:
    try:
        return digest(text)
    except InputError:
        raise NotPlain from None  # its reader says what is wrong
