"""Take in what another team sent: what came, what conflicts, and who decides."""

from __future__ import annotations

import secrets

from starlette.responses import Response

from woundfhir.errors import InputError
from woundfhir.page import taking
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
    came = taking.Came(asked.uploads, asked.text("client"), bool(asked.text("same_client")))
    done = taking.looked(asked.page.folder, came, asked.page.instant())
    token = secrets.token_urlsafe()
    taking.keep(token, came)
    return asked.show("came.html", done=done, came=came, token=token, conflicts=taking.both(done))


def take_in(asked: Asked) -> Response:
    """Take in what was looked at."""
    came = taking.held(asked.text("token"))
    if came is None:
        raise InputError("the file", "one that was just looked at", "Choose it again", found="it is no longer held")
    client = taking.take(asked.page.folder, came, asked.page.instant())
    return goto("c", client.key)
