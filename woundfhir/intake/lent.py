"""What stands in files of a folder that hold and name no Patient: people, places, what points at facts of others.

Where a folder holds several groups of files, a resource of such a file goes to each group that names it, and what is
about facts (a Provenance) to the one group whose facts it names. A name counts that one file of the folder alone holds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from woundfhir.intake.file_groups import named
from woundfhir.intake.parting import SHARED
from woundfhir.r4 import jsonio

Json = Any
#: Its file, its place there, and what it holds.
Lending = tuple[int, int, dict[str, Json]]


class Lent:
    """The resources of everybody's files, and which groups have them.

    Parameters
    ----------
    files
        Each gives the resources of a file.
    numbers, folders
        Of each file the number of its group (see ``FileGroups.settle``), and of its folder.
    """

    def __init__(
        self, files: Sequence[Callable[[], list[dict[str, Json]]]], numbers: Sequence[int], folders: Sequence[int]
    ) -> None:
        self._numbers = numbers
        #: Folder and name -> the files that hold it; of each group its folder, and what it names.
        self._holders: dict[tuple[int, str], set[int]] = {}
        self._groups: dict[int, tuple[int, set[str]]] = {}
        self._lent: list[Lending] = []
        self._names: list[str] = []
        self._refs: list[set[str]] = []
        for file, resources in enumerate(files):
            for nth, one in enumerate(resources()):
                name, refs = f"{one.get('resourceType')}/{one.get('id')}", named(jsonio.encode(one))
                self._holders.setdefault((folders[file], name), set()).add(file)
                if numbers[file] < 0:
                    self._lent.append((file, nth, one))
                    self._names.append(name)
                    self._refs.append(refs)
                else:
                    self._groups.setdefault(numbers[file], (folders[file], set()))[1].update(refs)
        self._given = {number: self._give(number, *group) for number, group in self._groups.items()}
        loose = [at for at, name in enumerate(self._names) if name.split("/")[0] not in SHARED]
        for at in loose:
            if len(having := [given for given in self._given.values() if at in given]) > 1:
                for given in having:
                    given.discard(at)

    def _give(self, number: int, folder: int, refs: set[str]) -> set[int]:
        """Return which resources a group has that names so much."""
        here = [at for at, (file, _, _) in enumerate(self._lent) if self._in(folder, self._names[at]) == file]
        found: set[int] = set()
        more = True
        while more:
            asked = refs.union(*(self._refs[at] for at in found))
            names = {self._names[at] for at in found}
            more_found = {
                at
                for at in here
                if self._names[at] in asked
                or (
                    self._names[at].split("/")[0] not in SHARED
                    and any(ref in names or self._of(folder, ref) == number for ref in self._refs[at])
                )
            }
            more = bool(more_found - found)
            found |= more_found
        return found

    def _in(self, folder: int, name: str) -> int | None:
        """Return the one file that holds a name."""
        holders = self._holders.get((folder, name), ())
        return next(iter(holders)) if len(holders) == 1 else None

    def _of(self, folder: int, name: str) -> int | None:
        file = self._in(folder, name)
        return None if file is None else self._numbers[file]

    def of_group(self, number: int) -> list[Lending]:
        """Return what a group is lent."""
        return [self._lent[at] for at in self._given[number]]

    def left(self) -> list[tuple[int, list[dict[str, Json]]]]:
        """Return what no group has, file by file."""
        given = set[int]().union(*self._given.values())
        left: dict[int, list[dict[str, Json]]] = {}
        for at, (file, _, one) in enumerate(self._lent):
            if at not in given:
                left.setdefault(file, []).append(one)
        return [*left.items()]
