"""The items of one level of a QuestionnaireResponse, whatever holds them together."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

Json = Any
Path = tuple[Any, ...]


class Level:
    """The items of one level by linkId, and those below items that only hold others together.

    Parameters
    ----------
    at
        The path of the list of items.
    taken
        Where the paths of what is read are noted.
    """

    def __init__(self, found: Json, at: Path, taken: set[Path] | None = None) -> None:
        self.taken = set() if taken is None else taken
        self.items: dict[str, list[tuple[Path, Json]]] = {}
        self.note: str | None = None
        waiting = [((*at, "item", number), one) for number, one in enumerate(found)]
        while waiting:
            path, one = waiting.pop(0)
            link = str(one.get("linkId"))
            self.items.setdefault(link, []).append((path, one))
            if "." not in link and link != "supply":
                if one.get("item"):
                    self.take(path, one)
                waiting[:0] = [((*path, "item", number), two) for number, two in enumerate(one.get("item", ()))]

    def inside(self, link: str) -> Iterator[Level]:
        """Yield the level inside each item of this linkId."""
        for path, one in self.items.get(link, ()):
            self.take(path, one)
            level = Level(one.get("item", ()), path, self.taken)
            found = [ext for ext in one.get("extension", ()) if str(ext.get("url", "")).endswith("/note")]
            level.note = found[0].get("valueString") if found else None  # as earlier versions wrote it
            yield level

    def answers(self, link: str) -> Iterator[tuple[Path, Json]]:
        """Yield the answers of all items of this linkId with their paths."""
        for path, one in self.items.get(link, ()):
            self.take(path, one)
            for number, answer in enumerate(one.get("answer", ())):  # some programs write null where there is nothing
                yield (*path, "answer", number), {key: value for key, value in answer.items() if value is not None}

    def text(self, link: str) -> str | None:
        """Return the first answer of this linkId that is words or a date."""
        for path, answer in self.answers(link):
            for key in ("valueString", "valueDateTime", "valueDate"):
                if isinstance(answer.get(key), str) and answer[key].strip():
                    self.taken.add((*path, key))
                    return str(answer[key])
        return None

    def take(self, path: Path, item: Json) -> None:
        """Note an item itself: its name, and the question that a program writes beside it."""
        self.taken |= {(*path, key) for key in ("linkId", "text") if key in item}
