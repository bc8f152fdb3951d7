"""Answers of servers bent out of shape, by generated changes: never a fault of ours, no value in a message, and when
the server is well again, sending leaves there exactly what an undisturbed sending leaves."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.server.bending import JUNK, SECRET, bent
from tests.server.played import Handler, Played, encode, playing
from woundfhir import InputError
from woundfhir.intake.source import read_all
from woundfhir.record import History
from woundfhir.server.connection import Connection
from woundfhir.server.fetching import fetch
from woundfhir.server.receipt import Receipt
from woundfhir.server.sending import send

Json = Any
STORY = Path(__file__).parents[2] / "examples" / "skin-tear" / "story.yaml"
HEADERS: list[dict[str, str]] = [
    {"Content_Type": "text/html"},
    {"Content_Type": "application/fhir+json; charset=utf-16"},
    {"Content_Encoding": "gzip"},
    {"Location": "http://[::1"},
    {"Retry_After": "9" * 400},
    {"ETag": "x"},
]
CUTS: list[Callable[[bytes], bytes]] = [
    lambda body: body[: len(body) // 2],
    lambda body: b"",
    lambda body: b"\xff\xfe" + body,
    lambda body: body * 2,
    lambda body: b"[]",
    lambda body: b'{"a":' * 3000,
]


@st.composite
def faults(draw: st.DrawFn) -> Callable[[int, Json], tuple[int, Json, dict[str, str]]]:
    """One way to answer otherwise than the server would."""
    kind = draw(st.sampled_from(["change", "change", "change", "cut", "status", "header", "redirect"]))
    place, junk, drop = draw(st.integers(0, 60)), draw(st.sampled_from(JUNK)), draw(st.booleans())
    cut, header = draw(st.sampled_from(CUTS)), draw(st.sampled_from(HEADERS))
    status = draw(st.sampled_from([201, 202, 204, 206, 300, 400, 404, 409, 412, 418, 429, 500, 503]))
    to = draw(st.sampled_from(["/fhir/metadata", "", "//other.example/x", "ftp://x", SECRET, "http://[bad"]))

    def answer(was: int, body: Json) -> tuple[int, Json, dict[str, str]]:
        if kind == "cut":
            return was, cut(encode(body)), {}
        if kind == "status":
            return status, body, {}
        if kind == "header":
            return was, body, header
        if kind == "redirect":
            return 307, b"", {"Location": to}
        return was, bent(body, place, junk, drop), {}

    return answer


class Bending:
    """The played server, one of whose answers is another one."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.at, self.number, self.fault = -1, 0, None
        plain = Handler.answer

        def answer(handler: Handler, status: int, body: Json, **headers: str) -> None:
            self.number += 1
            if self.number == self.at and self.fault is not None:
                status, body, more = self.fault(status, body)
                headers = {**headers, **more}
            plain(handler, status, body, **headers)

        monkeypatch.setattr(Handler, "answer", answer)

    fault: Callable[[int, Json], tuple[int, Json, dict[str, str]]] | None


def history() -> History:
    (found,) = read_all([str(STORY)])
    data = copy.deepcopy(found.history.data)
    data["patient"]["name"] = {"family": SECRET}
    data["visits"] = data["visits"][:2]
    return History.of(data)


def connected(played: Played, lines: list[str]) -> Connection:
    return Connection(played.base, wait=lambda seconds: None, say=lines.append, timeout=5)


def said(value: Json) -> Json:
    """What a resource says, without the names that a server gives."""
    if isinstance(value, dict):
        return {key: said(one) for key, one in value.items() if key not in ("id", "meta", "reference", "fullUrl")}
    return [said(one) for one in value] if isinstance(value, list) else value


def stored(played: Played) -> list[bytes]:
    return sorted(encode(said(one)) for one in played.resources.values())


@settings(max_examples=25)
@given(fault=faults(), at=st.integers(1, 16), fetching=st.booleans(), page=st.sampled_from([5, 1000]))
def test_no_answer_makes_a_fault_of_ours(
    fault: Callable[[int, Json], tuple[int, Json, dict[str, str]]], at: int, fetching: bool, page: int
) -> None:
    record, lines = history(), list[str]()
    named = record.patient["identifiers"][0]
    with pytest.MonkeyPatch.context() as patched, playing() as played:
        bending = Bending(patched)
        played.page = page
        receipt = Receipt(played.base)
        server = connected(played, lines)
        if fetching:
            send(record, server, receipt)
        bending.at, bending.number, bending.fault = at, 0, fault
        words = ""
        try:
            if fetching:
                fetch(server, f"{named['system']}|{named['value']}")
            else:
                sent = send(record, server, receipt)
                words = " ".join([*(became for _, became in sent.outcomes), *sent.notices])
        except InputError as error:
            words = str(error)
        assert SECRET not in words + " ".join(lines)
        bending.fault = None
        send(record, server, receipt)
        server.close()
        left = stored(played)
    with playing() as clean:
        server = connected(clean, lines)
        send(record, server, Receipt(clean.base))
        server.close()
        assert stored(clean) == left
