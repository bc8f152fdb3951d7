"""What stands around a document when it is sent, held against what is in it: it must be of the same client."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.elements import objects
from woundfhir.fhir.resources.patient import client_of
from woundfhir.fhir.terms import terms
from woundfhir.record.clients import evidence

Json = Any


def hold_against(named: dict[str, Json], documents: Iterable[Mapping[str, Json]], what: str) -> None:
    """Refuse documents that contradict the client whom a message names.

    Parameters
    ----------
    named
        That client, as a Patient.
    documents
        Bundles, or a Patient alone.
    what
        Where the client is named: words for the message.

    Raises
    ------
    InputError
        Where an identifier of one system, a birth date, a name or a sex is another, or cannot be read; without any
        value.
    """
    for document in documents:
        for one in (document, *(entry.get("resource") for entry in objects(document, "entry"))):
            if not isinstance(one, dict) or one.get("resourceType") != "Patient":
                continue
            try:
                found = evidence(client_of(terms(), named), client_of(terms(), one))
            except (AttributeError, TypeError, KeyError, ValueError, IndexError):
                fix = "Nothing was read. Ask the sender for it again"
                raise InputError(what, "a client in the structure of R4", fix) from None
            if found.contradict:
                fix = "Nothing was read. Ask the sender which client it is of"
                wrong = f"{what} and the document may name two clients ({found.words})"
                raise InputError("", "a message and its document of one client", fix, found=wrong)
