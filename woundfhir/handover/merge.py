"""Joining what came to what is known: nothing of either side is lost, and nothing is decided silently.

What is equal is a duplicate; what fits together is joined; where the two say different things, what is known
stays current, what came is kept word for word under ``extra``, and the conflict is listed. Two clients, two wounds
or two visits that happen to carry one id are never joined. A later state of a note (final after draft, amended
after final, entered in error after all) replaces the earlier one, which is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from woundfhir.catalogue import ENTRY_GROUPS
from woundfhir.collector import resting
from woundfhir.handover import compare
from woundfhir.handover.difference import Difference
from woundfhir.handover.merged import Conflict, Merged
from woundfhir.handover.same_id import keep_apart
from woundfhir.handover.taken_back import taken_back
from woundfhir.handover.texts import say
from woundfhir.record import History
from woundfhir.record.canonical import as_json, canonical, sort_extra
from woundfhir.record.clients import evidence, refuse_two
from woundfhir.record.labels import Labels

Json = Any

CONFLICT = "says something else than what was known; kept as received"
EARLIER = "an earlier state of the same note or wound; kept"
ZONE = "time zone of one of the records that were joined"
#: The state of a note or wound: a higher one replaces a lower one.
_RANK = {None: 0, "draft": 0, "open": 0, "closed": 0, "final": 1, "amended": 2, "entered in error": 3}


@resting()
def merge(known: History | None, came: History, *, same_client: bool = False) -> Merged:
    """Join what came to what is known.

    Parameters
    ----------
    known
        The record here, or None where there is none yet.
    came
        The record received.
    same_client
        A person has made sure that both are of one client, although the records do not show it.

    Returns
    -------
    Merged
        The same input gives the same result; joining the same record again changes nothing.

    Raises
    ------
    InputError
        When the two are of different clients, or nothing shows that they are of one (see
        ``woundfhir.record.clients.evidence``): says what speaks for and against, and no value.

    Examples
    --------
    >>> patient = {"identifiers": [{"system": "urn:example:clinic", "value": "C-1"}]}
    >>> known = History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}]})
    >>> came = History.of({"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1", "side": "left"}, {"id": "W2"}]})
    >>> done = merge(known, came)
    >>> done.added, done.duplicates, done.history.wounds
    (['W1', 'W2'], ['the client'], [{'id': 'W1', 'side': 'left'}, {'id': 'W2'}])
    """
    if known is None:
        names = Labels(came)
        added = [
            say("difference.client"),
            *(names.wound(w["id"]) for w in came.wounds),
            *(names.visit(v["id"]) for v in came.visits),
        ]
        return Merged(came, added=added)
    if not same_client and not evidence(known.patient, came.patient).same and not _nothing_new(known, came):
        refuse_two(known.patient, came.patient, "the client")
    return _Merge(known, came).done()


def _nothing_new(known: History, came: History) -> bool:
    """The same unidentified record once more: nothing is joined that was not together already."""
    lists = ((came.wounds, known.wounds), (came.visits, known.visits), (came.extra, known.extra))
    here = known.patient == came.patient and came.data.get("zone") in (None, known.data.get("zone"))
    return here and all(_all_in(came_here, there) for came_here, there in lists)


def _all_in(some: Iterable[Json], others: Iterable[Json]) -> bool:
    """Whether each of some visits, wounds or kept values is among others: one is looked for under its name only."""
    named: dict[str | None, list[Json]] = {}
    for item in others:
        named.setdefault(item.get("id", item.get("from")), []).append(item)
    return all(item in named.get(item.get("id", item.get("from")), ()) for item in some)


class _Merge:
    """One joining."""

    def __init__(self, known: History, came: History) -> None:
        self.known = known
        self.result = Merged(known)
        self.came, apart = keep_apart(known, came)
        self.names = Labels(known, self.came, say("difference.came"))
        self.result.conflicts.extend(Conflict(place, why) for place, why in apart)
        self.extra: list[dict[str, str]] = [*known.extra, *self.came.extra]

    def done(self) -> Merged:
        known, came = self.known, self.came
        data: dict[str, Json] = {"woundfhir": 1, "patient": self.client(known.patient, came.patient)}
        data["wounds"] = _joined(known.wounds, came.wounds, "id", self.wound, self.added_wound)
        data["visits"] = _joined(known.visits, came.visits, "id", self.visit, self.added_visit)
        zone = self.zone(data)
        if zone:
            data["zone"] = zone
        self.taken_back()
        if self.extra:
            data["extra"] = sort_extra(self.extra)
        self.result.history = History.of(data, known.source)
        return self.result

    def taken_back(self) -> None:
        """List what one side took back and the other side holds as a fact: a person must look."""
        for kind, owner, side in dict.fromkeys(taken_back(self.known, self.came)):
            place = self.names.of(owner) or say("difference.record")
            why = say(f"difference.taken_back_{side}", type=kind)
            self.result.conflicts.append(Conflict(place, why))

    def keep(self, place: str, why: str, value: Json) -> None:
        kept = value if isinstance(value, str) else as_json(value)
        self.extra.append({"from": "record", "place": place, "why": why, "value": kept})

    def conflict(self, place: str, path: str, came: Json, differences: Iterable[Difference]) -> None:
        self.keep(path, CONFLICT, came)
        self.result.conflicts.append(Conflict(place, say("difference.stays"), tuple(differences)))

    # -- the parts -----------------------------------------------------------------------------

    def zone(self, data: dict[str, Json]) -> str | None:
        """The zone of the joined record, unless it would add an offset to a time that came without one."""
        zones = [side.data["zone"] for side in (self.known, self.came) if "zone" in side.data]
        chosen: str | None = zones[0] if zones else None
        if chosen and self.known.data.get("zone") != self.came.data.get("zone"):
            tried = canonical({**data, "zone": chosen})
            if any(tried[key] != data[key] for key in ("patient", "wounds", "visits")):
                chosen = None
        for zone in zones:
            if zone != chosen:
                self.keep("zone", ZONE, zone)
        return chosen

    def client(self, known: dict[str, Json], came: dict[str, Json]) -> dict[str, Json]:
        out, new = dict(known), False
        for key, value in came.items():
            mine = known.get(key)
            if mine is None:
                out[key], new = value, True
            elif mine != value:
                out[key], more = self.client_answer(key, mine, value)
                new = new or more
        if new:
            self.result.added.append(say("difference.client"))
        elif all(out.get(key) == value for key, value in came.items()):
            self.result.duplicates.append(say("difference.client"))
        return out

    def client_answer(self, key: str, mine: Json, value: Json) -> tuple[Json, bool]:
        """Return the current answer and whether something is new. A list of allergies outweighs 'none known'."""
        if isinstance(mine, list) and isinstance(value, list):
            more = [item for item in value if item not in mine]
            return mine + more, bool(more)
        differences = list(compare.client({key: mine}, {key: value}))
        if isinstance(value, list):
            self.keep(f"patient.{key}", CONFLICT, mine)
            why = say("difference.list_stands")
            self.result.conflicts.append(Conflict(say("difference.client"), why, tuple(differences)))
            return value, True
        self.conflict(say("difference.client"), f"patient.{key}", value, differences)
        return mine, False

    def added_wound(self, wound: dict[str, Json]) -> None:
        self.result.added.append(self.names.wound(wound["id"]))

    def wound(self, known: dict[str, Json], came: dict[str, Json]) -> dict[str, Json]:
        rank = _rank(came) - _rank(known)
        place = self.names.wound(known["id"])
        return self.unit(place, f"wounds[{known['id']}]", known, came, rank, lambda a, b: compare.wound(place, a, b))

    def added_visit(self, visit: dict[str, Json]) -> None:
        self.result.added.append(self.names.visit(visit["id"]))

    def visit(self, known: dict[str, Json], came: dict[str, Json]) -> dict[str, Json]:
        place, path = self.names.visit(known["id"]), f"visits[{known['id']}]"
        if known == came:
            self.result.duplicates.append(place)
            return known
        rank = _rank(came) - _rank(known)
        mine, theirs = ({key: value for key, value in side.items() if key != "wounds"} for side in (known, came))
        out = self.unit(place, path, mine, theirs, rank, lambda a, b: compare.head_and_client(place, a, b))

        def entry(mine: dict[str, Json], theirs: dict[str, Json]) -> dict[str, Json]:
            name, inner = f"{self.names.wound(mine['wound'])}, {place}", f"{path}.wounds[{mine['wound']}]"
            return self.unit(name, inner, mine, theirs, rank, lambda a, b: compare.entry(name, inner, a, b))

        def added(theirs: dict[str, Json]) -> None:
            self.result.added.append(f"{self.names.wound(theirs['wound'])}, {place}")

        out["wounds"] = _joined(known.get("wounds", ()), came.get("wounds", ()), "wound", entry, added)
        return out

    def unit(
        self,
        place: str,
        path: str,
        known: dict[str, Json],
        came: dict[str, Json],
        rank: int,
        differences: Callable[[dict[str, Json], dict[str, Json]], Iterable[Difference]],
    ) -> dict[str, Json]:
        """Join the smallest thing that one person has written in one go: it is taken whole or not at all."""
        mine, theirs = _flat(known), _flat(came)
        if known == came or (rank == 0 and all(mine.get(key) == value for key, value in theirs.items())):
            self.result.duplicates.append(place)
            return dict(known)
        if rank:
            self.result.replaced.append(place if rank > 0 else say("difference.earlier", place=place))
            self.keep(path, EARLIER, known if rank > 0 else came)
            return dict(came if rank > 0 else known)
        if all(mine[key] == theirs[key] for key in mine.keys() & theirs.keys()):
            self.result.added.append(place)
            return _union(known, came)
        self.conflict(place, path, came, differences(known, came))
        return dict(known)


def _rank(item: Mapping[str, Json]) -> int:
    return _RANK[item.get("status")]


def _flat(unit: Mapping[str, Json]) -> dict[tuple[str, ...], Json]:
    """Answers by their keys: one level into the groups, an answer itself is never taken apart."""
    out: dict[tuple[str, ...], Json] = {}
    for key, value in unit.items():
        if key in ENTRY_GROUPS or key == "client":
            out.update({(key, inner): answer for inner, answer in value.items()})
        else:
            out[(key,)] = value
    return out


def _union(known: Mapping[str, Json], came: Mapping[str, Json]) -> dict[str, Json]:
    out = {**came, **known}
    for key in (*ENTRY_GROUPS, "client"):
        if key in known and key in came:
            out[key] = {**came[key], **known[key]}
    return out


def _joined(
    known: Iterable[dict[str, Json]],
    came: Iterable[dict[str, Json]],
    key: str,
    join: Callable[[dict[str, Json], dict[str, Json]], dict[str, Json]],
    added: Callable[[dict[str, Json]], None],
) -> list[dict[str, Json]]:
    """Join two lists by id, what is known first, in its order."""
    there = {item[key]: item for item in came}
    out = [join(item, there.pop(item[key])) if item[key] in there else item for item in known]
    for item in there.values():
        added(item)
    return out + list(there.values())
