"""What became of resources that are to the letter what we write: worked out when a report asks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any, overload

import msgspec

from woundfhir.fhir.fates import Taken
from woundfhir.fhir.read_context import ReadContext
from woundfhir.maps import shipped
from woundfhir.maps.apply import applied, codes_in
from woundfhir.r4 import jsonio

Path = tuple[Any, ...]


class OwnTaken(Sequence[Taken]):
    """What became of resources that are ours to the letter: worked out when somebody asks."""

    def __init__(self, source: ReadContext, content: bytes) -> None:
        self._source = source
        self._content = content

    @cached_property
    def _all(self) -> list[Taken]:
        source, found = self._source, []
        for view, text in zip(source.resources, self._content.splitlines(), strict=True):
            key, one = id(view), jsonio.decode(text)  # apart from what a caller holds
            label, marks, own = f"{one['resourceType']}/{one['id']}", source.marks.get(key, set()), source.place(view)
            again, at, lost = key in source.again, source.came[key].at, _Lost(text)
            found.append(Taken(label, one, one, marks, again=again, own=own is not None, mapped=lost, at=at))
        return found

    @overload
    def __getitem__(self, index: int) -> Taken: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Taken]: ...
    def __getitem__(self, index: int | slice) -> Taken | Sequence[Taken]:
        return self._all[index]

    def __len__(self) -> int:
        return len(self._source.resources)


class _Lost(Mapping[Path, str]):
    """The codes of a resource that a map decides too, with what was lost: worked out when a report asks."""

    def __init__(self, text: bytes) -> None:
        self.text = text

    @cached_property
    def _found(self) -> dict[Path, str]:
        if not codes_in(self.text, shipped()):
            return {}
        return {one.path: one.mapping.loss or "" for one in applied(msgspec.json.decode(self.text), shipped())[1]}

    def __getitem__(self, path: Path) -> str:
        return self._found[path]

    def __iter__(self) -> Iterator[Path]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)
