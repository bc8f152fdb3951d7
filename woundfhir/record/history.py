"""``History``: one client's record in canonical form, and the way in and out of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from woundfhir.border import guarded
from woundfhir.catalogue import catalogue
from woundfhir.collector import resting
from woundfhir.errors import InputError
from woundfhir.limits import ID_LENGTH
from woundfhir.record import dates, schema
from woundfhir.record.answers import StructureError
from woundfhir.record.canonical import UNKNOWN, as_json, canonical, sort_extra
from woundfhir.record.nearest import nearest
from woundfhir.record.values import plain

if TYPE_CHECKING:
    from woundfhir.record.models import Record

Json = Any


def _site() -> str:
    site = catalogue().site
    return "" if site is None else site.base


@dataclass(slots=True)
class History:
    """One client's wounds, visits and whatever came with them.

    Parameters
    ----------
    data
        The canonical plain record: dicts, lists and text only.
    source
        Where it came from, for messages.

    Examples
    --------
    >>> history = History.of({"woundfhir": 1, "patient": {"born": "1948-03"}})
    >>> history.data["patient"]
    {'born': '1948-03'}
    >>> history
    <History: wounds 0, visits 0>
    """

    data: dict[str, Json]
    source: str = field(default="record", compare=False)
    #: Base of the site whose data elements it may hold; empty where none held when it was made.
    site: str = field(default_factory=_site, compare=False)

    def __repr__(self) -> str:
        """Counts and no value: what is printed here ends in logs and tracebacks."""
        return f"<History: wounds {len(self.data.get('wounds', ()))}, visits {len(self.data.get('visits', ()))}>"

    @classmethod
    @guarded
    @resting()
    def of(cls, raw: Json, source: str = "record") -> History:
        """Bring decoded data, or a typed ``Record``, to its canonical form.

        Parameters
        ----------
        raw
            Dicts and lists of what Python programs hold: see ``woundfhir.record.values.plain``. It is not changed.
        source
            Where it came from, for messages.

        Raises
        ------
        InputError
            When the structure is not that of a record; says where and what was expected, never a value.
        """
        typed = getattr(raw, "plain", None)
        raw = plain(typed() if callable(typed) else raw, source)
        try:
            data = canonical(raw)
        except StructureError:
            raise schema.explain(raw, source) from None
        except RecursionError:
            raise InputError(source, "a record of ordinary depth", "Take out the nested lists") from None
        _misspelt(data, source)
        _ids(data, source)
        return cls(data, source)

    @property
    def record(self) -> Record:
        """The record as typed models (``woundfhir.models``), made anew each time.

        They know the data elements that come with woundfhir, and no site's.

        Raises
        ------
        InputError
            When an answer of a site's own data element stands in the record.

        Examples
        --------
        >>> History.of({"woundfhir": 1, "patient": {"born": "1948-03-09"}}).record.patient.born.date
        datetime.date(1948, 3, 9)
        """
        from pydantic import ValidationError

        from woundfhir.record.models import Record

        try:
            return Record.of(self.data)
        except ValidationError:
            if not self.site:
                raise
        expected = "a record without data elements of a site's own"
        raise InputError("History.record", expected, "Use History.data, which holds them all")

    @property
    def patient(self) -> dict[str, Json]:
        """The client."""
        return self.data["patient"]  # type: ignore[no-any-return]

    @property
    def wounds(self) -> list[dict[str, Json]]:
        """The wounds, in the order written."""
        return self.data["wounds"]  # type: ignore[no-any-return]

    @property
    def visits(self) -> list[dict[str, Json]]:
        """The visits, in the order written."""
        return self.data["visits"]  # type: ignore[no-any-return]

    @property
    def extra(self) -> list[dict[str, str]]:
        """What came in and was not understood."""
        return self.data.get("extra", [])  # type: ignore[no-any-return]

    @property
    def newest_instant(self) -> str | None:
        """The latest instant (date, clock time and offset) at which any note was or was written, as written."""
        times = (text for visit in self.visits for text in (visit.get("at"), visit.get("written")))
        whole = [(when, text) for text in times if (when := dates.moment(text)) is not None and when.tzinfo is not None]
        return max(whole)[1] if whole else None

    @property
    def elsewhere(self) -> bool:
        """Whether it was made with a site (``woundfhir.Site``) that does not hold here."""
        return bool(self.site) and self.site != _site()

    def is_canonical(self) -> bool:
        """Whether the data is what ``of`` makes of it; a record that was changed by hand may be none.

        Examples
        --------
        >>> History.of({"woundfhir": 1, "patient": {"born": "1948"}}).is_canonical()
        True
        """
        try:
            return bool(History.of(self.data).data == self.data)
        except InputError:
            return False

    def keep(self, items: Iterable[dict[str, str]]) -> None:
        """Add to what came in and was not understood, in its fixed order.

        Examples
        --------
        >>> record = History.of({"woundfhir": 1, "patient": {}})
        >>> record.keep([{"from": "Observation/a", "why": "no place in the record", "value": "{}"}])
        >>> [item["from"] for item in record.extra]
        ['Observation/a']
        """
        self.data["extra"] = sort_extra([*self.extra, *items])

    def wound(self, wound_id: str) -> dict[str, Json] | None:
        """Return the wound with this id.

        Examples
        --------
        >>> record = History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1", "kind": "burn"}]})
        >>> record.wound("W1"), record.wound("W2")
        ({'id': 'W1', 'kind': 'burn'}, None)
        """
        return next((wound for wound in self.wounds if wound["id"] == wound_id), None)

    def entries(self, wound_id: str) -> Iterator[tuple[dict[str, Json], dict[str, Json]]]:
        """Yield (visit, entry) for every visit at which this wound was seen, in the order written.

        Examples
        --------
        >>> visits = [{"id": "V1", "at": "2026-03-02", "status": "final", "wounds": [{"wound": "W1"}]}]
        >>> wounds = [{"id": "W1", "kind": "burn"}]
        >>> record = History.of({"woundfhir": 1, "patient": {}, "wounds": wounds, "visits": visits})
        >>> [(visit["at"], entry["wound"]) for visit, entry in record.entries("W1")]
        [('2026-03-02', 'W1')]
        """
        for visit in self.visits:
            for entry in visit.get("wounds", ()):
                if entry["wound"] == wound_id:
                    yield visit, entry

    def json(self) -> str:
        """Return the record as compact JSON text.

        Examples
        --------
        >>> History.of({"woundfhir": 1, "patient": {"born": "1948"}}).json()
        '{"woundfhir":1,"patient":{"born":"1948"},"wounds":[],"visits":[]}'
        """
        return as_json(self.data)


def _misspelt(data: dict[str, Json], source: str) -> None:
    """Refuse a key at the top that is one letter or two from a key of the record: all below it would be lost to sight.

    Other keys that are not known are kept under ``extra``, and ``check`` names the nearest known one.
    """
    found: dict[str, str] = {}
    for item in data.get("extra", ()):
        place = item.get("place", "")
        unknown = item.get("from") == "record" and item.get("why") == UNKNOWN and place.isidentifier()
        if unknown and (near := nearest(place)):
            found[place] = near
    if len(found) == 1:
        ((place, near),) = found.items()
        wrong = "a key that the record does not have"
        raise InputError(f"{source}, {place}", f"'{near}:'", "Rename the key", found=wrong)
    if found:
        listed = "; ".join(f"'{near}:' instead of {place}" for place, near in found.items())
        raise InputError(source, listed, "Rename these keys", found=f"{len(found)} keys that the record does not have")


def _ids(data: dict[str, Json], source: str) -> None:
    """Ids are what everything else hangs on: each once, and each that is named must exist."""
    for kind, items in (("wounds", data["wounds"]), ("visits", data["visits"])):
        seen: set[str] = set()
        for index, item in enumerate(items):
            if len(item["id"]) > ID_LENGTH:
                expected = f"an id of at most {ID_LENGTH} characters"
                raise InputError(f"{source}, {kind}[{index}].id", expected, "Give it a short id, such as W1 or V7")
            if item["id"] in seen:
                raise InputError(f"{source}, {kind}[{index}].id", "an id used once only", "Give each its own id")
            seen.add(item["id"])
    wounds = {wound["id"] for wound in data["wounds"]}
    visits = {visit["id"] for visit in data["visits"]}
    for index, visit in enumerate(data["visits"]):
        where = f"{source}, visits[{index}]"
        if "replaces" in visit and visit["replaces"] not in visits - {visit["id"]}:
            raise InputError(
                f"{where}.replaces", "the id of another visit of this record", "Keep the note that it replaces"
            )
        here: set[str] = set()
        for place, entry in enumerate(visit.get("wounds", ())):
            if entry["wound"] not in wounds:
                raise InputError(
                    f"{where}.wounds[{place}].wound", "an id that stands under 'wounds'", "Add the wound there"
                )
            if entry["wound"] in here:
                raise InputError(f"{where}.wounds[{place}].wound", "each wound once in a visit", "Join the two entries")
            here.add(entry["wound"])
