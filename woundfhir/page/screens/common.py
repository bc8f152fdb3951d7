"""What every screen needs: the request with its form read, the page around its part, a way back."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass, field
from functools import lru_cache, wraps
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from woundfhir._version import __version__
from woundfhir.chart.views import WoundView
from woundfhir.errors import InputError
from woundfhir.page import texts
from woundfhir.page.folder import Client
from woundfhir.page.state import Page

#: Cookies: that a browser was let in; who writes in it.
LET_IN, WHO = "woundfhir", "who"
LANGUAGES = tuple(sorted(one.name for one in (files("woundfhir.page") / "texts").iterdir() if len(one.name) == 2))
_NUMBERED = '<input type="hidden" name="{}" value="{}">'
#: The field that tells a form that was shown from the same one shown again.
FORM = "form"
_FIELDS = 5000


@dataclass
class Asked:
    """One request, its form read."""

    page: Page
    request: Request
    form: dict[str, list[str]] = field(default_factory=dict)
    uploads: list[tuple[str, bytes]] = field(default_factory=list)

    @property
    def path(self) -> Mapping[str, Any]:
        """The parameters in the address."""
        return self.request.path_params

    def text(self, name: str) -> str:
        """Return one value of the form; empty where it has none."""
        return self.form.get(name, [""])[0].strip()

    def number(self, name: str) -> int:
        """Return a number of the form; 0 where it has none.

        Raises
        ------
        InputError
            For other words: the page itself sends none.
        """
        text = self.text(name)
        if not text:
            return 0
        if not (text.isascii() and text.isdecimal() and len(text) < 10):
            raise InputError("the form", f"a number under {name}", "Load the page again")
        return int(text)

    @property
    def draft(self) -> str:
        """The name of the draft in the address; it names no other file."""
        name = str(self.path["draft"])
        if not (name.isascii() and name.isalnum()):
            raise InputError("the address", "the name of a draft", "Go back to the client")
        return name

    def query(self, name: str) -> str:
        """Return one value behind the question mark."""
        return self.request.query_params.get(name, "")

    @property
    def client(self) -> Client:
        """The client whom the address names."""
        return self.page.folder.client(self.path["client"])

    @property
    def author(self) -> Mapping[str, str]:
        """Return who writes in this browser; empty where nobody has signed in."""
        return self.page.people.get(self.request.cookies.get(WHO, ""), {})

    @property
    def by_script(self) -> bool:
        """Whether the page's own script asks, for a part of a screen."""
        return "x-part" in self.request.headers

    def once(self, work: Callable[[], Response]) -> Response:
        """Do what a form asks, once: the same form with the same words in it only leads where it led."""
        if not self.text(FORM):
            return work()
        sent = repr((self.request.url.path, sorted(self.form.items())))
        return RedirectResponse(self.page.once_only(sent, lambda: work().headers["location"]), 303)

    def show(self, template: str, status: int = 200, **values: object) -> Response:
        """Return a screen."""
        shown = environment().get_template(template).render(asked=self, author=self.author, **values)
        return HTMLResponse(shown, status)

    def part(self, template: str, **values: object) -> str:
        """Return a part of a screen."""
        return environment().get_template(template).render(asked=self, author=self.author, **values)


def screen(page: Page, work: Callable[[Asked], Response]) -> Callable[[Request], Coroutine[Any, Any, Response]]:
    """Return a screen as an endpoint: the form is read here, the work is done beside the loop."""

    @wraps(work)
    async def endpoint(request: Request) -> Response:
        asked = Asked(page, request)
        if request.method == "POST":
            await _read(asked)
        with texts.speaking(language_of(request)):
            return await run_in_threadpool(work, asked)

    return endpoint


async def _read(asked: Asked) -> None:
    try:
        await _take(asked)
    except HTTPException:
        raise InputError("the form", "a form of this page, whole", "Load the page again, and send it again") from None


async def _take(asked: Asked) -> None:
    async with asked.request.form(max_fields=_FIELDS, max_files=50) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                if value.filename:
                    asked.uploads.append((value.filename, await value.read()))
            else:
                asked.form.setdefault(name, []).append(value.replace("\r\n", "\n"))


def language_of(request: Request) -> str:
    """The language that was chosen, else the first that the browser asks for and the page speaks."""
    wanted = [request.cookies.get("lang", "")]
    wanted += [part.split(";")[0].strip()[:2].lower() for part in request.headers.get("accept-language", "").split(",")]
    return next((one for one in wanted if one in LANGUAGES), "en")


def wound_of(asked: Asked) -> WoundView:
    """Return the wound whose number stands in the address."""
    wounds = asked.client.view().wounds
    number = int(asked.path["wound"])
    if number >= len(wounds):
        raise InputError("the address", "a wound of this client", "Go back to the client")
    return wounds[number]


def goto(*steps: str, anchor: str = "") -> Response:
    """Return the way to another screen."""
    return RedirectResponse(address(*steps) + (f"#{anchor}" if anchor else ""), 303)


def address(*steps: object) -> str:
    """Return an address of the page.

    Examples
    --------
    >>> address("c", "ida rowan.yaml", "d", 1)
    '/c/ida%20rowan.yaml/d/1'
    """
    return "/" + "/".join(quote(str(step), safe="") for step in steps)


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Return the templates. What a record holds is text in them, never markup."""
    made = Environment(
        loader=PackageLoader("woundfhir.page", "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["form_number"] = lambda: Markup(_NUMBERED.format(FORM, secrets.token_urlsafe(9)))
    made.globals.update(say=texts.say, at=address, language=texts.language, reasons=texts.reasons, version=__version__)
    made.filters.update(day=texts.day_words, number=texts.number, whole=texts.whole)
    return made
