"""Requests to an application in this process, without a network."""

from __future__ import annotations

import asyncio
from typing import Any

import httpx

from woundfhir.web.guard import Guard


class Asking:
    """A client of one application."""

    def __init__(self, app: Guard, base: str = "http://127.0.0.1:8080") -> None:
        self.app, self.base = app, base

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.request("GET", path, **more)

    def post(self, path: str, **more: Any) -> httpx.Response:
        return self.request("POST", path, **more)

    def request(self, method: str, path: str, **more: Any) -> httpx.Response:
        async def ask() -> httpx.Response:
            async with httpx.AsyncClient(transport=httpx.ASGITransport(self.app), base_url=self.base) as client:  # type: ignore[arg-type]
                return await client.request(method, path, **more)

        return asyncio.run(ask())
