"""The story sent to a server that the test plays, and what the tests of that share."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.server.played import Handler, Played, outcome, playing
from woundfhir.intake.source import read_all
from woundfhir.record import History
from woundfhir.server.connection import Connection, base_of
from woundfhir.server.receipt import Receipt
from woundfhir.server.sending import send
from woundfhir.server.sent import Sent

Json = Any
STORY = Path(__file__).parents[2] / "examples" / "skin-tear" / "story.yaml"


@pytest.fixture
def history() -> History:
    (found,) = read_all([str(STORY)])
    return found.history


@pytest.fixture
def played() -> Iterator[Played]:
    with playing() as made:
        yield made


def connection(played: Played, **more: Any) -> Connection:
    waits: list[float] = []
    made = Connection(base_of(played.base), wait=waits.append, **more)
    made.waits = waits  # type: ignore[attr-defined]
    return made


def who(history: History) -> str:
    named = history.patient["identifiers"][0]
    return f"{named['system']}|{named['value']}"


def amended(history: History, change: Callable[[Json], object]) -> History:
    data = copy.deepcopy(history.data)
    change(data)
    return History.of(data)


def put(played: Played, history: History, **more: Any) -> Sent:
    server = connection(played)
    return send(history, server, more.pop("receipt", Receipt(server.base)), **more)


def of(played: Played, kind: str) -> list[Json]:
    return [one for one in played.resources.values() if one["resourceType"] == kind]


def state(resource: Json) -> str:
    return str(resource.get("clinicalStatus", {}).get("coding", [{}])[0].get("code"))


def once(*statuses: Any, path: str = "", method: str = "POST", **headers: str) -> Callable[..., bool]:
    """A fault that answers the first requests of a kind so, and then no more."""
    left = list(statuses)

    def fault(handler: Handler, command: str, asked: str) -> bool:
        if not left or command != method or asked.split("?")[0] != path:
            return False
        status = left.pop(0)
        if status is None:
            return False
        handler.answer(status, outcome("transient", "try later"), **headers)
        return True

    return fault
