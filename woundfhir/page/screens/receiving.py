"""Take in what another team sent: what came, what conflicts, and who decides."""

from __future__ import annotations

import secrets

from starlette.responses import RedirectResponse, Response

from woundfhir.errors import InputError
from woundfhir.page import taking
from woundfhir.page.deciding import amend_with, conflicts
from woundfhir.page.listing import row
from woundfhir.page.screens.common import Asked, goto


def ask_in(asked: Asked) -> Response:
    """Ask for a file that came."""
    clients = [(one.key, row(one).name or one.key) for one in asked.page.folder.clients()]
    return asked.show("take.html", clients=clients, done=asked.query("done"))


def look_in(asked: Asked) -> Response:
    """Show what came and what conflicts; nothing is written."""
    if not asked.uploads:
        raise InputError("the file", "a file that came", "Choose one")
    at = asked.page.now().isoformat(timespec="seconds")
    came = taking.Came(asked.uploads, asked.text("client"), bool(asked.text("same_client")), asked.page.keys, at)
    done, known = taking.looked(asked.page.folder, came)
    token = secrets.token_urlsafe()
    taking.keep(token, came)
    return asked.show("came.html", done=done, came=came, token=token, conflicts=conflicts(done, known))


def take_in(asked: Asked) -> Response:
    """Take in what was looked at; what a person takes for a note of ours becomes an amendment to be signed."""
    return RedirectResponse(asked.page.once_only(asked.text("token"), lambda: _take_in(asked).headers["location"]), 303)


def _take_in(asked: Asked) -> Response:
    came = taking.held(asked.text("token"))
    if came is None:
        raise InputError("the file", "one that was just looked at", "Choose it again", found="it is no longer held")
    client, done, known = taking.take(asked.page.folder, came)
    found = conflicts(done, known)
    chosen = [one for one in found if one.key and asked.text(f"decide {one.key}") == "take"]
    by, at = str(asked.author.get("name", "")), asked.page.instant(client.history())
    amend_with(client, chosen, done.came, by, at)
    return goto("c", client.key)
