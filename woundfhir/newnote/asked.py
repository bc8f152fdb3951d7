"""What a visit asks of a wound: the catalogue's roles and conditions, held against a note that is still empty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from woundfhir.catalogue import Concept, catalogue
from woundfhir.chart.conditions import holds
from woundfhir.chart.views import EntryView, open_record
from woundfhir.record import History
from woundfhir.texts import tables

Json = Any


def data() -> Mapping[str, Any]:
    """Return the data of a new note in the language that holds."""
    return tables("woundfhir.newnote")


class Line(NamedTuple):
    """One answer that the note asks for: the data element, its fields, and on what it hangs where it does."""

    concept: Concept
    fields: tuple[str, ...]
    when: str


def lines(wound: dict[str, Json], purposes: Sequence[str]) -> dict[str, list[Line]]:
    """Return what a note asks for, by group, in the order of the catalogue.

    Parameters
    ----------
    wound
        The wound's own answers; its kind and site decide.
    purposes
        What the visit is for.

    Examples
    --------
    >>> asked = lines({"kind": "venous leg ulcer", "site": "lower leg"}, ["dressing change"])
    >>> [line.concept.key for line in asked["care"]]
    ['removed', 'cleansing', 'packing', 'primary_dressing', 'securement', 'compression', 'response']
    """
    entry = _empty(wound, purposes)
    out: dict[str, list[Line]] = {}
    for concept in catalogue().concepts():
        asked = _asked(concept, entry)
        if asked is not None:
            fields = tuple(one for one in data()["fields"].get(concept.path, ()) if _needed(concept, one, entry))
            out.setdefault(concept.group, []).append(Line(concept, fields, asked))
    return out


def asked_in(entry: EntryView) -> list[Concept]:
    """Return what a note asks for as it stands, in the order of the catalogue: every condition is held against it.

    Parameters
    ----------
    entry
        One wound at the visit, in a record that was opened with a policy.
    """
    found = []
    for concept in catalogue().concepts():
        if any(all(holds(entry, name) for name in when) for when in _ways(concept)):
            found.append(concept)
    return found


def needed_fields(concept: Concept, entry: EntryView) -> tuple[str, ...]:
    """Return the fields of a step that rules ask for at an ordinary change of such a wound; none where it has none."""
    return tuple(one for one in data()["fields"].get(concept.path, ()) if _needed(concept, one, entry))


def _empty(wound: dict[str, Json], purposes: Sequence[str]) -> EntryView:
    """A note of these purposes on this wound in which nothing is answered yet."""
    visit = {"id": "V1", "at": "2000-01-01", "purpose": list(purposes), "wounds": [{"wound": "W1"}]}
    wounds = [{"id": "W1", "status": "open", **{key: value for key, value in wound.items() if key != "id"}}]
    record = open_record(History.of({"woundfhir": 1, "patient": {}, "wounds": wounds, "visits": [visit]}))
    return record.visits[0].entries[0]


def _ways(concept: Concept) -> list[tuple[str, ...]]:
    """The conditions under which a concept is asked for: all of one of these lists must hold."""
    ways = [tuple(concept.when)] if concept.asked is not None else []
    if concept.path in data()["besides"]:
        ways.append(tuple(data()["besides"][concept.path]))
    return ways


def _asked(concept: Concept, entry: EntryView) -> str | None:
    """Return None where it is not asked for, else what of the note itself must hold for it, as words."""
    found = [said for when in _ways(concept) if (said := _hangs_on(when, entry)) is not None]
    return min(found, key=len, default=None)


def _hangs_on(when: Sequence[str], entry: EntryView) -> str | None:
    """Return what of the note itself must hold, empty where nothing must; None where the rest does not hold."""
    open_ones = [name for name in when if name in data()["conditions"]]
    if not all(holds(entry, name) for name in when if name not in open_ones):
        return None
    if "size written" in open_ones and not holds(entry, "full assessment"):
        return None
    return str(data()["texts"]["and"]).join(said for name in open_ones if (said := data()["conditions"][name]))


def _needed(concept: Concept, field: str, entry: EntryView) -> bool:
    tag = data()["only"].get(f"{concept.path}.{field}")
    return tag is None or tag in entry.wound.tags("wound.kind")
