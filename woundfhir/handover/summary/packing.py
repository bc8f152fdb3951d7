"""The packing that is still inside a wound, counted over the notes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from woundfhir.catalogue import catalogue
from woundfhir.chart import EntryView
from woundfhir.chart.asking import known
from woundfhir.handover.summary.words import short
from woundfhir.handover.texts import say
from woundfhir.record.spoken import is_one, word

Json = Any
#: Steps at which the wound lay open, so that packing may have come out unwritten.
_OPENED = ("removed", "primary_dressing", "secondary_dressing")


@dataclass(frozen=True, slots=True)
class Packing:
    """Pieces of packing inside a wound, counted over the notes: what went in minus what came out.

    Attributes
    ----------
    least, most
        Bounds of the count; equal where it is certain, ``most`` None where nothing bounds it. Both None where
        no note says anything about packing.
    where
        Place of the newest packing, as written.
    at
        The newest note that says something about packing.
    since
        The first note that does: the count starts there at nothing.
    gaps
        Why the count is not certain.
    odd
        The newest note by which more came out than went in.
    """

    least: int | None = None
    most: int | None = None
    where: str | None = None
    material: str | None = None
    at: str | None = None
    since: str | None = None
    gaps: tuple[str, ...] = ()
    odd: str | None = None

    @property
    def adds_up(self) -> bool:
        """Whether nothing written leaves a piece in doubt: one number, and the newest note took out what went in."""
        return self.least is None or (self.certain and (self.odd is None or self.odd != self.at))

    @property
    def certain(self) -> bool:
        """Whether the notes give one number."""
        return self.least is not None and self.least == self.most

    @property
    def count(self) -> str:
        """The number in words.

        Examples
        --------
        >>> Packing(1, 1).count, Packing(0, 1).count, Packing(2, None).count, Packing().count
        ('1 piece', 'not known: 0 or 1', 'not known: 2 or more', 'not known: no packing written')
        """
        if self.least is None:
            return say("packing.none")
        if self.most is None:
            return say("packing.least", least=self.least)
        if self.least == self.most:
            return say("fact.piece" if is_one(self.least) else "fact.pieces", number=self.least)
        form = "packing.either" if self.most == self.least + 1 else "packing.between"
        return say(form, least=self.least, most=self.most)

    @property
    def text(self) -> str:
        """Count, material and place."""
        if self.least is None or self.most == 0:
            return self.count
        parts = [
            self.count,
            self.material,
            say("packing.where", place=self.where) if self.where else say("packing.where_missing"),
        ]
        return ", ".join(found for found in parts if found)


def packing(entries: Iterable[EntryView]) -> Packing:
    """Count the pieces inside over the entries of a wound, oldest first.

    A blank is not a zero: where the pieces in or out are not written the count gets bounds instead of a
    number. A change whose note does not mention packing may have taken out what was inside.

    Examples
    --------
    >>> from woundfhir.chart import open_record
    >>> from woundfhir.record import History
    >>> def seen(at, **item): return {"id": at, "at": at, "wounds": [{"wound": "W1", "care": {"packing": [item]}}]}
    >>> visits = [seen("2026-03-02", material="gauze", pieces_in="2", location="sinus"),
    ...     seen("2026-03-03", pieces_in="1", pieces_out="2"), seen("2026-03-04", pieces_in="1")]
    >>> raw = {"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}], "visits": visits}
    >>> entries = open_record(History.of(raw)).wound("W1").entries
    >>> packing(entries[:2]).text, packing(entries).text
    ('1 piece, gauze, where: sinus', 'not known: 1 or 2, gauze, where: sinus')
    """
    count = _Count()
    for entry in entries:
        count.take(entry)
    return count.result()


class _Count:
    """The count so far, note by note."""

    def __init__(self) -> None:
        self.least, self.most = 0, 0
        self.bounded = True
        self.where: str | None = None
        self.material: str | None = None
        self.at: str | None = None
        self.since: str | None = None
        self.written = False
        self.odd: str | None = None
        self.gaps: list[str] = []

    def take(self, entry: EntryView) -> None:
        """Count on with one entry."""
        value, at = entry.answer("care.packing"), entry.at
        if not self.written and not known(value):
            return
        if not self.written:
            self.written, self.since = True, at
        if isinstance(value, list):
            self.at = at
            self._out(at, [item.get("pieces_out") for item in value])
            self._in(at, value)
        elif entry.none("care.packing"):
            self.at = at
            self._gone("packing.no_packing", at)
        elif value is not None or any(entry.written(f"care.{step}") for step in _OPENED):
            self._gone("packing.silent", at)

    def _gone(self, why: str, at: str | None) -> None:
        """A change that may have taken everything out, and does not say so."""
        if self.most or not self.bounded:
            self.least = 0
            self.gaps.append(say(why, day=short(at)))

    def _out(self, at: str | None, written: list[Json]) -> None:
        numbers = [number for value in written if (number := whole(value)) is not None]
        taken = sum(numbers)
        if self.bounded and taken > self.most:
            if at != self.since:
                self.gaps.append(say("packing.more_out", day=short(at)))
                self.odd = at
            self.least = self.most = 0
            return
        self.least, self.most = max(0, self.least - taken), max(0, self.most - taken)
        if len(numbers) < len(written) and (self.most or not self.bounded):
            self.least = 0
            self.gaps.append(say("packing.out_missing", day=short(at)))

    def _in(self, at: str | None, items: list[Mapping[str, Json]]) -> None:
        unclear = False
        for item in items:
            number = whole(item.get("pieces_in"))
            unclear |= number is None
            self.least += number or 0
            self.most += number or 0
            if number != 0:
                self.where = _words(item, "location") or self.where
                self.material = _material(item) or self.material
        if unclear:
            self.bounded = False
            self.gaps.append(say("packing.in_missing", day=short(at)))

    def result(self) -> Packing:
        if not self.written:
            return Packing()
        most = self.most if self.bounded else None
        return Packing(self.least, most, self.where, self.material, self.at, self.since, tuple(self.gaps), self.odd)


def whole(value: Json) -> int | None:
    """Return a count that is a whole number of at most four digits, else None."""
    return int(value) if isinstance(value, str) and value.isascii() and value.isdigit() and len(value) < 5 else None


def _material(item: Mapping[str, Json]) -> str | None:
    found = _words(item, "material")
    return None if found is None else word(catalogue().concept("care.packing.material"), found)


def _words(item: Mapping[str, Json], key: str) -> str | None:
    value = item.get(key)
    return value if isinstance(value, str) else None
