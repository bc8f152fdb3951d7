"""The clients and their wounds; who is writing; a new client, a new wound."""

from __future__ import annotations

import secrets
from datetime import date
from typing import Any

from starlette.responses import Response

from woundfhir import messages
from woundfhir.errors import InputError
from woundfhir.newnote.asked import data
from woundfhir.page import listing
from woundfhir.page.answers import answers, fields_of
from woundfhir.page.draft import VISIT, begin, changing, drafts
from woundfhir.page.fields import Around, every_list, made
from woundfhir.page.folder import Client
from woundfhir.page.people import known_people
from woundfhir.page.rows import kept_rows, with_number
from woundfhir.page.screens.common import WHO, Asked, goto
from woundfhir.record import History, dates
from woundfhir.record.clients import plain_number

Json = Any
_AUTHOR = ("name", "id", "designation", "organisation")
_WOUND = ("kind", "site", "side", "place", "onset", "cause", "stage")


def clients(asked: Asked) -> Response:
    """All clients, what is due first."""
    today = asked.page.now().date()
    rows = listing.in_order(kept_rows(asked.page.folder), today)
    return asked.show("clients.html", rows=rows, today=today)


def client(asked: Asked) -> Response:
    """One client: wounds, drafts, notes."""
    one = asked.client
    history = one.history()
    row = listing.row(one)
    notes = list(reversed(one.view().visits))
    return asked.show(
        "client.html",
        client=one,
        row=row,
        today=_today(asked),
        notes=notes,
        drafts=drafts(one.drafts),
        history=history,
        signed=asked.query("signed"),
    )


def _today(asked: Asked) -> date:
    return asked.page.now().date()


def start(asked: Asked) -> Response:
    """Begin a visit on one wound."""
    one = asked.client
    history = one.history()
    number = asked.number("wound")
    if not 0 <= number < len(history.wounds):
        raise InputError("the wound", "a wound of this client", "Go back to the client")
    wound = history.wounds[number]["id"]
    at = asked.page.instant(history)
    head = {"at": at, "by": str(asked.author.get("name", "")), "wound": wound}
    if (begun := next((each for each in drafts(one.drafts) if each.head == head), None)) is not None:  # touched twice
        return goto("c", one.key, "d", begun.id, str(number))
    draft = begin(one.drafts, head)
    purposes = data()["purposes"].get(asked.text("purpose"), ["dressing change"])
    with changing(one.drafts, draft.id) as held:
        held.put(VISIT, {"visit.purpose": purposes}, by=held.head["by"], at=at)
        held.of(wound)
    return goto("c", one.key, "d", draft.id, str(number))


def who(asked: Asked) -> Response:
    """Ask who is writing in this browser."""
    people = known_people(asked.page.folder)
    return asked.show("who.html", people=people, back=asked.query("back") or "/")


def set_who(asked: Asked) -> Response:
    """Note who is writing; nothing is signed without."""
    given = {key: asked.text(key) for key in _AUTHOR if asked.text(key)}
    if asked.text("person"):
        number = asked.number("person")
        people = known_people(asked.page.folder)
        given = dict(people[number]) if 0 <= number < len(people) else {}
    if not given.get("name"):
        raise InputError("who is writing", "a name", "Write your name, or touch it in the list")
    back = asked.text("back")
    response = goto() if not back.startswith("/") or back.startswith("//") else goto_path(back)
    token = secrets.token_urlsafe()
    asked.page.people[token] = given
    response.set_cookie(WHO, token, httponly=True, samesite="strict", secure=asked.request.url.scheme == "https")
    return response


def goto_path(path: str) -> Response:
    """Return the way to an address of this page that a form holds."""
    from starlette.responses import RedirectResponse

    return RedirectResponse(path, 303)


def new_client(asked: Asked) -> Response:
    """The form of a new client with a first wound."""
    return _form(asked, None)


def _form(asked: Asked, client: Client | None, error: InputError | None = None) -> Response:
    """Show the form of a new client or wound; after an error, with all that she wrote, and what is wrong above it."""
    flat = {name: given for name, given in asked.form.items() if name.startswith("wound.")}
    wrong = None if error is None else messages.shown(error)
    status = 200 if error is None else 400
    return asked.show("new.html", status, client=client, fields=_wound_fields(flat), lists=_lists(flat), wrong=wrong)


def add_client(asked: Asked) -> Response:
    """Write the record of a new client."""
    try:
        return asked.once(lambda: _add_client(asked))
    except InputError as error:
        return _form(asked, None, error)


def _add_client(asked: Asked) -> Response:
    number, system = asked.text("number"), asked.text("system")
    name = {"family": asked.text("family"), "given": [one for one in asked.text("given").split() if one]}
    patient: dict[str, Json] = {
        "name": {key: value for key, value in name.items() if value},
        "born": asked.text("born"),
    }
    if number:
        patient["identifiers"] = [{**({"system": system} if system else {}), "value": number}]
    if not patient["name"]:
        raise InputError("the name", "the client's name", "Write it, and save again")
    if patient["born"] and (dates.fault(patient["born"]) or dates.has_clock(patient["born"])):
        raise InputError("the birth date", "a date such as 1948-03-09, or 1948", "Correct it, and save again")
    if number and _is_taken(asked, number, system):
        wrong = "a client of this folder has it already"
        raise InputError("the number", "a number that nobody else here has", "Look in the list of clients", found=wrong)
    record = {"woundfhir": 1, "patient": patient, "wounds": [_new_wound(asked, "W1")], "visits": []}
    return goto("c", asked.page.folder.new(record).key)


def _is_taken(asked: Asked, number: str, system: str) -> bool:
    """Whether a client here has a number; of two numbers that different systems give nothing says so."""
    for client in with_number(asked.page.folder, number):
        for one in client.history().patient.get("identifiers", ()):
            alike = plain_number(one["value"]) == plain_number(number)
            if alike and (not system or one.get("system", system) == system):
                return True
    return False


def new_wound(asked: Asked) -> Response:
    """The form of another wound of a client."""
    return _form(asked, asked.client)


def add_wound(asked: Asked) -> Response:
    """Add a wound to a client's record."""
    one = asked.client
    try:
        return asked.once(lambda: _add_wound(asked, one))
    except InputError as error:
        return _form(asked, one, error)


def _add_wound(asked: Asked, one: Client) -> Response:
    def work(history: History) -> History:
        taken = {wound["id"] for wound in history.wounds}
        name = next(f"W{n}" for n in range(1, len(taken) + 2) if f"W{n}" not in taken)
        return History.of({**history.data, "wounds": [*history.wounds, _new_wound(asked, name)]}, history.source)

    one.change(work)
    return goto("c", one.key)


def _new_wound(asked: Asked, name: str) -> dict[str, Json]:
    found = answers("wound", {key: value for key, value in asked.form.items() if any(value)})
    if "kind" not in found:
        raise InputError("the wound", "its kind", "Choose one, and save again")
    return {"id": name, "status": "open", **found}


def _wound_fields(flat: dict[str, list[str]]) -> list[Any]:
    concepts = fields_of("wound")
    return [made(concepts[key], Around(flat)) for key in _WOUND]


def _lists(flat: dict[str, list[str]]) -> Any:
    return every_list(_wound_fields(flat))
