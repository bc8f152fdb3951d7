"""The page as an application: its addresses, who is let in, what an answer may load."""

from __future__ import annotations

from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie
from importlib import import_module
from importlib.resources import files

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route, Router
from starlette.types import Scope

from woundfhir import messages
from woundfhir.handover.sheet.parts import client_name
from woundfhir.page.draft import Draft
from woundfhir.page.folder import Client
from woundfhir.page.screens import charting, clients
from woundfhir.page.screens.common import LET_IN, Asked, environment, language_of, screen
from woundfhir.page.state import Page
from woundfhir.page.texts import say, speaking
from woundfhir.page.visit import name_of
from woundfhir.web.guard import Guard, Limits, Refused

#: All of it comes from this address: no script or style inside a page, nothing of others, no frame.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
_ASSETS = {
    "page.css": "text/css",
    "page.js": "text/javascript",
    "regular.woff2": "font/woff2",
    "bold.woff2": "font/woff2",
}
_OPEN = ("/open", "/pair", *(f"/assets/{name}" for name in _ASSETS))


def application(page: Page, *, hosts: tuple[str, ...] | None = None, secure: bool = False) -> Guard:
    """Return the page, guarded.

    Parameters
    ----------
    hosts
        Names by which this machine may be asked for; None: every name.
    secure
        Whether the connection is TLS.
    """
    environment().globals.update(patient_name=client_name, first_wound=first_wound, name_of=name_of)
    environment().globals["state_words"] = _state_words
    return Guard(
        Router(_routes(page)),
        refuse=_refused,
        limits=Limits(body=64 * 1024 * 1024),
        token=page.secret,
        token_of=_cookie,
        open_paths=_OPEN,
        hosts=hosts,
        # A form is sent with the name of its own address, and other addresses get no referrer.
        headers={"Content-Security-Policy": POLICY, "Referrer-Policy": "same-origin"},
        secure=secure,
    )


def _later(module: str, name: str) -> Callable[[Asked], Response]:
    """Return a screen whose module is loaded when somebody first asks for it, so that the page starts at once."""

    def work(asked: Asked) -> Response:
        found: Response = getattr(import_module(f"woundfhir.page.screens.{module}"), name)(asked)
        return found

    return work


def _table() -> list[tuple[str, Callable[[Asked], Response], list[str]]]:
    """Return each address with its screen and the methods by which it may be asked for."""
    get, post = ["GET"], ["POST"]
    note = "/c/{client}/d/{draft}/{wound:int}"
    return [
        ("/", clients.clients, get),
        ("/who", clients.who, get),
        ("/who", clients.set_who, post),
        ("/new", clients.new_client, get),
        ("/new", clients.add_client, post),
        ("/audit", _later("handing", "audit"), get),
        ("/audit/table", _later("handing", "audit_table"), get),
        ("/take-in", _later("receiving", "ask_in"), get),
        ("/take-in", _later("receiving", "look_in"), post),
        ("/take-in/take", _later("receiving", "take_in"), post),
        ("/c/{client}", clients.client, get),
        ("/c/{client}/start", clients.start, post),
        ("/c/{client}/wound", clients.new_wound, get),
        ("/c/{client}/wound", clients.add_wound, post),
        ("/c/{client}/hand-over", _later("handing", "over"), get),
        ("/c/{client}/sheet", _later("handing", "sheet"), get),
        ("/c/{client}/document", _later("handing", "document"), get),
        ("/c/{client}/course/{wound:int}", _later("handing", "course"), get),
        ("/c/{client}/course/{wound:int}/chart.svg", _later("handing", "chart"), get),
        ("/c/{client}/course/{wound:int}/face/{visit:int}", _later("handing", "face"), get),
        ("/c/{client}/v/{visit}/amend", charting.amend, post),
        ("/c/{client}/d/{draft}/discard", charting.discard, post),
        (note, charting.show, get),
        (note, charting.change, post),
        (f"{note}/lacks", charting.lacks, get),
        (f"{note}/sign", charting.sign, post),
        (f"{note}/read", _later("reading", "ask"), get),
        (f"{note}/read", _later("reading", "read"), post),
        (f"{note}/read/take", _later("reading", "take"), post),
        ("/guide/{name:path}", _later("helping", "guide"), get),
    ]


def _routes(page: Page) -> list[Route]:
    routes = [Route(path, screen(page, work), methods=methods) for path, work, methods in _table()]
    return [
        Route("/assets/{name}", asset),
        Route("/open", screen(page, _open)),
        Route("/pair", screen(page, _pair), methods=["GET", "POST"]),
        *routes,
    ]


def first_wound(client: Client, draft: Draft) -> int:
    """Return the number of the first wound that a draft is about."""
    wounds = client.history().wounds
    return next((number for number, wound in enumerate(wounds) if wound["id"] in draft.values), 0)


def _state_words() -> dict[str, str]:
    return {key: say(f"state.{key}") for key in ("saving", "saved", "lost", "shut")}


async def asset(request: Request) -> Response:
    """A style, a script or a font, out of the package."""
    name = request.path_params["name"]
    if name not in _ASSETS:
        raise Refused(404, "the address", "a file of this page", "Go back to the list")
    home = (
        files("woundfhir.handover.sheet") / "fonts" if name.endswith(".woff2") else files("woundfhir.page") / "assets"
    )
    kept = "public, max-age=86400" if name.endswith(".woff2") else "no-cache"
    return Response((home / name).read_bytes(), media_type=_ASSETS[name], headers={"Cache-Control": kept})


# -- who is let in ---------------------------------------------------------------------------------


def _cookie(headers: Headers) -> str | None:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(LET_IN)
    except CookieError:
        return None
    return None if found is None else found.value


def _open(asked: Asked) -> Response:
    """Let the first browser in by the token in the address; the address is worth nothing afterwards."""
    if not asked.page.let_in(asked.query("t")):
        raise Refused(401, "the address", "one that was not used yet", "Start the page again, and open its new address")
    return _let_in(asked)


def _pair(asked: Asked) -> Response:
    """Let a browser beside this machine in by the code that was printed."""
    if asked.request.method == "POST" and asked.page.paired(asked.text("code")):
        return _let_in(asked)
    wrong = asked.request.method == "POST"
    return asked.show("pair.html", 403 if wrong else 200, wrong=wrong)


def _let_in(asked: Asked) -> Response:
    response = RedirectResponse("/", 303)
    secure = asked.request.url.scheme == "https"
    response.set_cookie(LET_IN, asked.page.secret, httponly=True, samesite="strict", secure=secure)
    return response


def _refused(error: Refused, scope: Scope) -> Response:
    if error.status in (404, 405):
        error = Refused(error.status, "the address", "a page, or a form of one", "Go back to the list")
    steps = str(scope.get("path", "")).split("/")
    client = steps[2] if steps[1:2] == ["c"] and len(steps) > 3 else ""  # where the way back leads
    with speaking(language_of(Request(scope))):
        shown = environment().get_template("error.html").render(message=messages.shown(error), client=client)
    return HTMLResponse(shown, error.status, error.headers)
