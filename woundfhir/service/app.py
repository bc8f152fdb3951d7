"""Requests: which operation, in which media type; the work itself is done by a worker."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from datetime import date
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route, Router
from starlette.types import Scope

from woundfhir.service import describe
from woundfhir.service.media import OUTCOMES, WRITTEN, read_as, written_as
from woundfhir.service.setup import Setup
from woundfhir.service.workers import Workers
from woundfhir.web.guard import Guard, Limits, Refused
from woundfhir.web.listen import Place

Json = Any
#: Paths that hold nothing of a client: what the service is and offers.
OPEN = ("/metadata", "/openapi.json", "/cds-services")
#: Status -> IssueType of R4.
_TYPES = {
    401: "login",
    403: "forbidden",
    404: "not-found",
    405: "not-supported",
    406: "not-supported",
    412: "required",
    413: "too-long",
    415: "not-supported",
    421: "security",
    422: "business-rule",
    500: "exception",
    503: "throttled",
}
#: Parameters of $validate, and what each may be: names of built-in tables, never of files.
_CHOICES: dict[str, tuple[str, ...] | re.Pattern[str]] = {
    "policy": ("ontario", "international"),
    "checklist": ("standard", "transfer"),
    "today": re.compile(r"\d{4}-\d{2}-\d{2}"),
    "visit": re.compile(r"last"),
}


def outcome(error: Refused, scope: Scope) -> Response:
    """Return the answer to a refused request: an OperationOutcome."""
    issue = {"severity": "error", "code": _TYPES.get(error.status, "invalid"), "diagnostics": str(error)}
    found = {"resourceType": "OperationOutcome", "issue": [issue]}
    return JSONResponse(found, error.status, error.headers, media_type=OUTCOMES[0])


def service(
    setup: Setup, found: Place, limits: Limits, workers: int, log: Callable[[str], None] = lambda line: None
) -> Guard:
    """Return the service.

    Parameters
    ----------
    setup
        What it judges and reads by.
    found
        Where it listens, and the token that it asks for.
    limits
        How much it takes.
    workers
        How many processes work.
    log
        Takes a line for each answer.
    """
    made = _Service(Workers(setup, workers))
    return Guard(
        Router(made.routes(), redirect_slashes=False, lifespan=made.lifespan),
        refuse=outcome,
        limits=limits,
        token=found.token,
        open_paths=OPEN,
        hosts=found.hosts,
        secure=found.secure,
        log=log,
    )


class _Service:
    def __init__(self, workers: Workers) -> None:
        self._workers = workers

    @asynccontextmanager
    async def lifespan(self, app: Any) -> AsyncIterator[None]:
        await self._workers.start()
        try:
            yield
        finally:
            await self._workers.stop()

    def routes(self) -> list[Route]:
        return [
            Route("/metadata", self.metadata),
            Route("/openapi.json", self.openapi),
            Route("/$validate", self.validate, methods=["POST"]),
            Route("/Bundle/$validate", self.validate, methods=["POST"]),
            Route("/$convert", self.convert, methods=["POST"]),
            Route("/cds-services", self.cds_services),
            Route("/cds-services/patient-view", self.patient_view, methods=["POST"]),
            Route("/cds-services/encounter-discharge", self.encounter_discharge, methods=["POST"]),
        ]

    async def metadata(self, request: Request) -> Response:
        written_as(request.headers.get("accept"), OUTCOMES)
        return JSONResponse(describe.capability_statement(), media_type=OUTCOMES[0])

    async def openapi(self, request: Request) -> Response:
        return JSONResponse(describe.openapi())

    async def validate(self, request: Request) -> Response:
        media = read_as(request.headers.get("content-type"), request.headers.get("content-encoding"))
        written_as(request.headers.get("accept"), OUTCOMES)
        return await self._done(request, "validate", {"media": media, **_chosen(request.query_params)})

    async def convert(self, request: Request) -> Response:
        media = read_as(request.headers.get("content-type"), request.headers.get("content-encoding"))
        _chosen(request.query_params, ())
        fhir = [kind for kind in WRITTEN if "fhir" in kind]
        plain = [kind for kind in WRITTEN if "fhir" not in kind]
        offered = [*plain, *fhir] if "fhir" in media else [*fhir, *plain]
        if "return=operationoutcome" in request.headers.get("prefer", "").replace(" ", "").lower():
            return await self._done(request, "convert", {"media": media, "outcome": True})
        to = written_as(request.headers.get("accept"), offered)
        return await self._done(request, "convert", {"media": media, "to": to})

    async def cds_services(self, request: Request) -> Response:
        return JSONResponse(describe.discovery())

    async def patient_view(self, request: Request) -> Response:
        return await self._hook(request, "patient-view")

    async def encounter_discharge(self, request: Request) -> Response:
        return await self._hook(request, "encounter-discharge")

    async def _hook(self, request: Request, name: str) -> Response:
        media = read_as(request.headers.get("content-type"), request.headers.get("content-encoding"))
        if media != "application/json":
            raise Refused(415, "the header Content-Type", "application/json", "A call of CDS Hooks is JSON")
        return await self._done(request, "hook", {"hook": name, "today": date.today().isoformat()})

    async def _done(self, request: Request, job: str, options: Mapping[str, Json]) -> Response:
        media, headers, content = await self._workers.ask(job, options, await request.body())
        plain = {name: value.encode("ascii", "replace").decode() for name, value in headers.items()}
        return Response(content, headers={**plain, "Vary": "Accept, Prefer"}, media_type=media)


def _chosen(given: Mapping[str, str], names: tuple[str, ...] = tuple(_CHOICES)) -> dict[str, str]:
    """Return the parameters of a request; refuse any other, as what is passed over in silence may mean something."""
    made = {}
    for name, value in given.items():
        if name not in names:
            known = ", ".join(names) or "none"
            raise Refused(400, "the parameters", f"no other than these: {known}", "Leave the others out")
        choices = _CHOICES[name]
        fits = value in choices if isinstance(choices, tuple) else choices.fullmatch(value) is not None
        if not fits:
            words = " or ".join(choices) if isinstance(choices, tuple) else {"today": "2026-03-31"}.get(name, "last")
            raise Refused(400, f"the parameter {name}", words, "See /openapi.json")
        made[name] = value
    return made


__all__ = ["OPEN", "outcome", "service"]
