"""The clients and their wounds: what calls for attention first, then by the day of the next change."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from woundfhir import messages
from woundfhir.chart.views import RecordView
from woundfhir.errors import InputError
from woundfhir.handover.sheet.parts import client_name, client_numbers
from woundfhir.handover.summary.client import Summary
from woundfhir.handover.summary.wound import WoundSummary
from woundfhir.measures.course import course
from woundfhir.page.draft import SUFFIX
from woundfhir.page.folder import Client
from woundfhir.record import dates


@dataclass(frozen=True, slots=True)
class WoundRow:
    """One wound in a list."""

    number: int
    id: str
    name: str
    due: str | None
    due_by: str
    size: str
    change: str
    areas: tuple[Decimal, ...]
    last: str | None
    packing: str
    closed: bool

    def late(self, today: date) -> int | None:
        """How many days the next change is overdue; below zero before its day; None where no day is written."""
        day = dates.day(self.due)
        return None if day is None else (today - day).days


@dataclass(slots=True)
class ClientRow:
    """One client in the list, or why the record cannot be read."""

    client: Client
    name: str = ""
    numbers: str = ""
    born: str = ""
    alerts: list[tuple[str, str]] = field(default_factory=list)
    allergies: str = ""
    wounds: list[WoundRow] = field(default_factory=list)
    drafts: int = 0
    refused: str = ""

    @property
    def open(self) -> list[WoundRow]:
        """The wounds that need care."""
        return [one for one in self.wounds if not one.closed]


def row(client: Client) -> ClientRow:
    """Return one client's row; what is worked out of the record is kept as long as its file stays the same."""
    out = ClientRow(client, drafts=len(list(client.drafts.glob(f"*{SUFFIX}"))))
    try:
        kept: ClientRow = client.kept("row", lambda: _row(client, client.view()))
    except InputError as error:
        out.name, out.refused = client.key, messages.shown(error)
        return out
    kept.drafts = out.drafts
    return kept


def _row(client: Client, view: RecordView) -> ClientRow:
    history = client.history()
    summary = Summary(view)
    out = ClientRow(client, client_name(history.patient), client_numbers(history.patient))
    out.born = history.patient.get("born", "")
    out.alerts = [(alert.hazard.title, alert.wound or "") for alert in summary.attention]
    out.allergies = "; ".join(one.text for one in summary.allergies if one.active) or summary.allergies_known
    numbers = {wound.id: number for number, wound in enumerate(view.wounds)}
    open_ones = summary.open_wounds
    closed = [one for one in summary.wounds if one.closed_now]
    out.wounds = [_wound(one, numbers[one.id]) for one in (*open_ones, *closed)]
    return out


def _wound(one: WoundSummary, number: int) -> WoundRow:
    due, by, size = one.next_change, one.change_by, one.size
    points = course(one.view.record, one.id).points if size is not None else ()
    return WoundRow(
        number=number,
        id=one.id,
        name=one.name,
        due=None if due is None else due.text,
        due_by="" if by is None else by.text,
        size="" if size is None else size.text,
        change=one.since_first.dated if one.since_first is not None else "",
        areas=tuple(point.area for point in points),
        last=one.last_change,
        packing="" if one.packing.most == 0 or one.packing.least is None else one.packing.text,
        closed=one.closed_now,
    )


def in_order(rows: Iterable[ClientRow], today: date) -> list[ClientRow]:
    """Return the clients in the order of the list.

    Those for whom something calls for attention and whose change is due come first, then by the day that is due;
    records that cannot be read stand at the top, as nobody knows what is in them.
    """
    return sorted(rows, key=lambda one: _order(one, today))


def _order(one: ClientRow, today: date) -> tuple[bool, bool, date, str]:
    days = [day for wound in one.open if (day := dates.day(wound.due)) is not None]
    first = min(days, default=date.max)
    urgent = bool(one.alerts) and first <= today
    return not one.refused, not urgent, first, one.name
