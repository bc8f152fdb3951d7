"""A dictated or pasted text: read by rules, and taken over reading by reading as a person marks them."""

from __future__ import annotations

from dataclasses import replace

from starlette.responses import Response

from woundfhir.catalogue import catalogue
from woundfhir.freetext import Proposal, read_text
from woundfhir.freetext.draft import record
from woundfhir.page.answers import flat_answers, flat_entry
from woundfhir.page.draft import VISIT, changing
from woundfhir.page.screens.common import Asked, goto, wound_of


def ask(asked: Asked) -> Response:
    """Ask for the text."""
    return asked.show("read.html", client=asked.client, text="", proposal=None, readings=[])


def read(asked: Asked) -> Response:
    """Show what was read, each reading beside its words, none of them marked."""
    text = asked.text("text")
    proposal = read_text(text)
    readings = [
        (number, catalogue().concept(one.path).label, _value(one.value), proposal.words(one), one.certainty, one.why)
        for number, one in enumerate(proposal.readings)
    ]
    return asked.show("read.html", client=asked.client, text=text, proposal=proposal, readings=readings)


def _value(value: object) -> str:
    return value if isinstance(value, str) else ", ".join(f"{k} {v}" for k, v in dict(value).items())  # type: ignore[call-overload]


def take(asked: Asked) -> Response:
    """Write the readings that were marked into the draft."""
    one = asked.client
    proposal = read_text(asked.text("text"))
    marked = {number for number in asked.form.get("reading", []) if number.isascii()}
    chosen = tuple(replace(r, certainty="certain") for n, r in enumerate(proposal.readings) if str(n) in marked)
    visit = record(Proposal(proposal.text, chosen, (), ()))["visits"][0]
    wound = wound_of(asked).id
    by, at = str(asked.author.get("name", "")), asked.page.instant(one.history())
    with changing(one.drafts, asked.draft) as draft:
        draft.put(wound, flat_entry(visit["wounds"][0]), by, at)
        draft.put(VISIT, {**flat_answers("visit", visit), **flat_answers("client", visit.get("client", {}))}, by, at)
    return goto("c", one.key, "d", draft.id, asked.path["wound"])
