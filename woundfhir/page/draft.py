"""A note that is being written: every change on the disk at once, and none of it written over unseen.

A draft is one file. It holds what stands in the fields now, and a journal of every change: its number, the field, what
stood there before, who made it and when. Whoever sends a change says which number of the draft they were looking at;
where a field was changed by somebody else since, and to something else, nothing is written over: both answers are
shown, and a person chooses.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from woundfhir.errors import InputError
from woundfhir.page.answers import Flat, concept_of
from woundfhir.storage import locked, save_all

Json = Any
#: Of a draft's file; no other verb reads such a file.
SUFFIX = ".draft"
#: Where the fields of the visit and of the client stand, beside those of each wound.
VISIT = ""
#: The field of an amendment that says why the note is amended.
REASON = "visit.reason"


@dataclass
class Change:
    """One change of one field: the number it made, where, what stood there before, by whom, when."""

    number: int
    scope: str
    name: str
    before: list[str]
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two answers to one question: the one that stands, and the one that was sent and not taken."""

    scope: str
    name: str
    stands: list[str]
    sent: list[str]
    by: str


@dataclass
class Draft:
    """What stands in the fields of a note.

    Attributes
    ----------
    id
        Name of the draft; the note gets its own id when it is signed.
    head
        What belongs to the note as a whole: when it was begun, which note it replaces and why.
    values
        Id of a wound (or ``VISIT``) -> field -> what stands in it.
    carried
        The same, for fields whose answer was taken over and not changed since: field -> note that it is from.
    opened
        The same, for the groups that are open to be changed.
    changes
        The journal.
    """

    id: str
    head: dict[str, str] = field(default_factory=dict)
    values: dict[str, Flat] = field(default_factory=dict)
    carried: dict[str, dict[str, str]] = field(default_factory=dict)
    opened: dict[str, list[str]] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)

    @property
    def number(self) -> int:
        """The number of the last change."""
        return self.changes[-1].number if self.changes else 0

    def of(self, scope: str) -> Flat:
        """Return the fields of a wound, or of the visit."""
        return self.values.setdefault(scope, {})

    def was(self, scope: str, name: str, number: int) -> list[str]:
        """Return what stood in a field when the draft had a number."""
        later = (one for one in self.changes if one.number > number and (one.scope, one.name) == (scope, name))
        first = next(later, None)
        return self.of(scope).get(name, []) if first is None else first.before

    def send(self, scope: str, sent: Mapping[str, list[str]], seen: int, by: str = "", at: str = "") -> list[Conflict]:
        """Take in what was sent by somebody who looked at the draft when it had the number ``seen``.

        Returns
        -------
        list of Conflict
            Fields that somebody else has changed since, to something else: they stay as they are.

        Examples
        --------
        >>> draft = Draft("d1")
        >>> draft.send("W1", {"assessment.odour": ["none"]}, 0), draft.number
        ([], 1)
        >>> [(one.stands, one.sent) for one in draft.send("W1", {"assessment.odour": ["faint"]}, 0)]
        [(['none'], ['faint'])]
        """
        conflicts = []
        number = self.number + 1
        for name, given in sent.items():
            new = [one for one in given if one.strip()]
            old, now = self.was(scope, name, seen), self.of(scope).get(name, [])
            if new in (old, now):
                continue
            if now != old:
                who = next(one.by for one in reversed(self.changes) if (one.scope, one.name) == (scope, name))
                conflicts.append(Conflict(scope, name, now, new, who))
                continue
            self._put(number, scope, name, new, by, at)
        return conflicts

    def put(self, scope: str, values: Mapping[str, list[str]], by: str = "", at: str = "") -> None:
        """Write fields, whatever stands there: a decision about them was made."""
        number = self.number + 1
        for name, new in values.items():
            if self.of(scope).get(name, []) != new:
                self._put(number, scope, name, new, by, at)

    def _put(self, number: int, scope: str, name: str, new: list[str], by: str, at: str) -> None:
        now = self.of(scope)
        self.changes.append(Change(number, scope, name, now.get(name, []), by, at))
        if new:
            now[name] = new
        else:
            now.pop(name, None)
        self.carried.get(scope, {}).pop(name, None)  # what is changed is the nurse's own

    def carry(self, scope: str, values: Flat, note: str, by: str = "", at: str = "") -> None:
        """Take over answers of an earlier note, and mark them so."""
        self.put(scope, values, by, at)
        marked = self.carried.setdefault(scope, {})
        marked.update(dict.fromkeys(values, note))

    def marks(self, scope: str) -> dict[str, str]:
        """Return the concepts of which anything was taken over: path -> note that it is from.

        Examples
        --------
        >>> draft = Draft("d1")
        >>> draft.carry("W1", {"care.cleansing.solution": ["normal saline"], "care.cleansing.volume": ["250"]}, "V8")
        >>> draft.put("W1", {"care.cleansing.volume": ["500"]})
        >>> draft.marks("W1"), draft.carried["W1"]
        ({'care.cleansing': 'V8'}, {'care.cleansing.solution': 'V8'})
        """
        return {concept_of(name): note for name, note in self.carried.get(scope, {}).items()}

    def clear(self, scope: str, names: Collection[str], by: str = "", at: str = "") -> None:
        """Empty fields."""
        self.put(scope, {name: [] for name in names}, by, at)

    def open(self, scope: str, group: str, opened: bool = True) -> None:
        """Open a group of answers to be changed, or close it."""
        kept = [one for one in self.opened.get(scope, []) if one != group]
        self.opened[scope] = [*kept, group] if opened else kept


# -- on the disk -----------------------------------------------------------------------------------


def drafts(folder: Path) -> list[Draft]:
    """Return the drafts in a folder, the oldest first."""
    return [read(path) for path in sorted(folder.glob(f"*{SUFFIX}"), key=lambda path: (len(path.name), path.name))]


def read(path: Path) -> Draft:
    """Return a draft from its file.

    Raises
    ------
    InputError
        When there is none, or it is no draft.
    """
    try:
        data = json.loads(path.read_bytes())
        changes = [Change(**one) for one in data.pop("changes")]
        return Draft(**data, changes=changes)
    except FileNotFoundError:
        wrong = "it is not there any more: it was signed or thrown away"
        raise InputError("the draft", "a note that is being written", "Go back to the client", found=wrong) from None
    except (ValueError, TypeError, KeyError, OSError):
        fix = "Restore it from a backup; the notes that are signed are in the record"
        raise InputError("the draft", "a file that this page wrote", fix, found="it cannot be read") from None


def write(folder: Path, draft: Draft) -> None:
    """Write a draft; the caller holds the folder."""
    content = json.dumps(asdict(draft), ensure_ascii=False).encode()
    save_held(content, folder / f"{draft.id}{SUFFIX}", folder)


def save_held(content: bytes, path: Path, held: Path) -> None:
    """Write over one file in a folder that the caller holds."""
    save_all({path: content}, force=True, held=held)


@contextmanager
def changing(folder: Path, name: str) -> Iterator[Draft]:
    """Hold a draft alone, and write it when the block ends without an error."""
    with locked(folder, patience=10):
        draft = read(folder / f"{name}{SUFFIX}")
        yield draft
        write(folder, draft)


def begin(folder: Path, head: Mapping[str, str]) -> Draft:
    """Return a new draft with a name of its own, on the disk."""
    with locked(folder):
        taken = {path.stem for path in folder.glob(f"*{SUFFIX}")}
        number = next(n for n in range(1, len(taken) + 2) if f"d{n}" not in taken)
        draft = Draft(f"d{number}", dict(head))
        write(folder, draft)
        return draft


def throw_away(folder: Path, name: str) -> None:
    """Put a draft aside: it is no longer shown, and its file stays under another name."""
    with locked(folder):
        aside(folder, name, "thrown-away")


def aside(folder: Path, name: str, why: str) -> None:
    """Rename a draft's file; the caller holds the folder."""
    path = folder / f"{name}{SUFFIX}"
    read(path)  # refused where it is gone
    number = 1
    while (kept := folder / f"{name}-{number}.{why}").exists():
        number += 1
    path.rename(kept)


__all__ = [
    "REASON",
    "SUFFIX",
    "VISIT",
    "Conflict",
    "Draft",
    "aside",
    "begin",
    "changing",
    "drafts",
    "read",
    "throw_away",
    "write",
]
