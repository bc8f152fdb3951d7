"""The guard: who may ask, how much, what an answer and the log hold. Headers as OWASP's Secure Headers project lists
them (from memory), 401, 413, 421, 503 as RFC 9110 says."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import pytest
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route, Router

from tests.web.asking import Asking
from woundfhir.errors import InputError
from woundfhir.web.guard import HEADERS, Guard, Limits

VALUE = "Tremblay-4171948"
TOKEN = "t" * 30


async def echo(request: Request) -> Response:
    return PlainTextResponse(str(len(await request.body())))


async def broken(request: Request) -> Response:
    raise KeyError(VALUE)


async def refusing(request: Request) -> Response:
    raise InputError("the record", "a wound", "Add one")


async def slow(request: Request) -> Response:
    await asyncio.sleep(5)
    return PlainTextResponse("late")


def client(log: list[str] | None = None, **chosen: Any) -> Asking:
    routes = [
        Route("/echo", echo, methods=["POST"]),
        Route("/broken", broken),
        Route("/refusing", refusing),
        Route("/slow", slow),
    ]
    guard = Guard(Router(routes, redirect_slashes=False), log=(log if log is not None else []).append, **chosen)
    return Asking(guard)


def test_every_answer_has_the_strict_headers() -> None:
    found = client()
    for answer in (found.post("/echo", content=b"abc"), found.get("/broken"), found.get("/none"), found.get("/echo")):
        assert {name: answer.headers.get(name) for name in HEADERS} == HEADERS
        assert "Strict-Transport-Security" not in answer.headers
    assert "Strict-Transport-Security" in client(secure=True).post("/echo").headers
    page = client(headers={"Content-Security-Policy": "default-src 'self'"}).post("/echo")
    assert page.headers["Content-Security-Policy"] == "default-src 'self'"


@pytest.mark.parametrize(("path", "status"), [("/broken", 500), ("/none", 404), ("/echo", 405), ("/refusing", 400)])
def test_an_error_is_one_clear_line_without_a_value(path: str, status: int) -> None:
    log: list[str] = []
    answer = client(log).get(f"{path}?name={VALUE}")
    assert answer.status_code == status
    assert ": " in answer.json()["error"] and "expected" in answer.json()["error"]
    assert VALUE not in answer.text and VALUE not in "\n".join(log) and log


def test_the_log_names_no_address() -> None:
    log: list[str] = []
    client(log).get(f"/Patient/{VALUE}")
    client(log).post("/echo", content=VALUE)
    assert [line.partition(",")[0] for line in log] == ["GET nothing of ours: 404", "POST echo: 200"]


def test_a_body_beyond_the_limit_is_refused() -> None:
    few = client(limits=Limits(body=10))
    assert few.post("/echo", content=b"x" * 10).text == "10"
    assert few.post("/echo", content=b"x" * 11).status_code == 413

    async def parts() -> AsyncIterator[bytes]:  # without a Content-Length
        yield b"x" * 6
        yield b"x" * 6

    assert few.post("/echo", content=parts()).status_code == 413
    assert few.post("/echo", content=b"x", headers={"Content-Length": "-1"}).status_code == 400
    assert few.post("/echo", content=b"x", headers={"Content-Length": "9" * 30}).status_code == 400


def test_a_slow_answer_is_given_up() -> None:
    answer = client(limits=Limits(seconds=0.05)).get("/slow")
    assert answer.status_code == 503 and "too long" in answer.json()["error"]


def test_more_requests_than_are_taken_are_asked_to_come_again() -> None:
    guard = Guard(Router([Route("/slow", slow)]), limits=Limits(seconds=0.3, at_once=2))

    async def ask() -> tuple[int, dict[str, str]]:
        found: list[Any] = []
        scope = {
            "type": "http",
            "method": "GET",
            "path": "/slow",
            "raw_path": b"/slow",
            "query_string": b"",
            "root_path": "",
            "headers": [(b"host", b"localhost")],
        }

        async def receive() -> Any:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Any) -> None:
            found.append(message)

        await guard(scope, receive, send)
        return found[0]["status"], {k.decode(): v.decode() for k, v in found[0]["headers"]}

    async def several() -> list[tuple[int, dict[str, str]]]:
        return await asyncio.gather(*(ask() for _ in range(5)))

    answers = asyncio.run(several())
    refused = [headers for _, headers in answers if "retry-after" in headers]
    assert len(refused) == 3 and [status for status, _ in answers] == [503] * 5
    assert guard._running == 0


@pytest.mark.parametrize("shown", ["", "Bearer", "Bearer wrong", f"Basic {TOKEN}", f"Bearer {TOKEN}x", "Bearer \u00e9"])
def test_who_shows_no_token_is_not_answered(shown: str) -> None:
    found = client(token=TOKEN, open_paths=("/refusing",))
    headers = [("Authorization", shown.encode("latin-1"))] if shown else []
    answer = found.post("/echo", headers=headers)
    assert answer.status_code == 401 and answer.headers["WWW-Authenticate"] == "Bearer" and TOKEN not in answer.text
    assert found.post("/echo", headers={"Authorization": f"bearer {TOKEN}"}).status_code == 200
    assert found.get("/refusing").status_code == 400  # an open path


def test_a_token_may_stand_in_a_cookie() -> None:
    found = client(token=TOKEN, token_of=lambda headers: headers.get("x-shown"))
    assert found.post("/echo", headers={"X-Shown": TOKEN}).status_code == 200
    assert found.post("/echo").status_code == 401


def test_a_page_of_others_reads_nothing() -> None:
    hosts = ("localhost", "127.0.0.1", "::1")
    found = client(hosts=hosts)
    assert found.post("/echo").status_code == 200
    assert found.post("/echo", headers={"Host": "[::1]:8080"}).status_code == 200
    assert found.post("/echo", headers={"Host": "wounds.example"}).status_code == 421
    assert found.post("/echo", headers={"Host": "127.0.0.1.wounds.example:8080"}).status_code == 421
    assert found.post("/echo", headers={"Origin": "http://127.0.0.1:8080"}).status_code == 200
    for other in ("https://wounds.example", "null", "http://127.0.0.1:9090", "http://localhost:8080"):
        assert found.post("/echo", headers={"Origin": other}).status_code == 403
