"""A history as a Bundle: the document for the next team, the transaction that a server stores, the plain collection."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal

from woundfhir.catalogue import BASE
from woundfhir.collector import resting
from woundfhir.errors import InputError
from woundfhir.fhir.bundles import bundled, collection, named
from woundfhir.fhir.convert import Written, build, written
from woundfhir.fhir.dialects.names import Name as Dialect
from woundfhir.fhir.mhd import provide
from woundfhir.fhir.references import address, references, rename
from woundfhir.fhir.transactions import Policy, transaction
from woundfhir.handover.document.around import software
from woundfhir.handover.document.build import TYPES, Head, composition
from woundfhir.intake.derived import computed
from woundfhir.language import Language, speaking, spoken
from woundfhir.r4 import jsonio
from woundfhir.r4.times import instant
from woundfhir.record import History

Json = Any
Kind = Literal["document", "ips", "mhd", "transaction", "collection"]
#: What a document is: a transfer summary note for everybody, a nurse's note for nurses, a patient summary (HL7's IPS).
Document = Literal["transfer", "nurse", "ips"]
_URN = re.compile(r"urn:uuid:[0-9A-Fa-f]{8}(-[0-9A-Fa-f]{4}){3}-[0-9A-Fa-f]{12}")
KINDS: tuple[Kind, ...] = ("document", "ips", "mhd", "transaction", "collection")


@dataclass(frozen=True)
class Making:
    """What a Bundle is to be: the parameters of ``bundle``, which says what they mean."""

    kind: Kind = "document"
    at: str | None = None
    document: Document = "transfer"
    replaces: str | None = None
    profiles: bool = True
    policy: Policy = "update"
    dialect: Dialect | None = None
    attested_by: str | None = None
    confidentiality: str = "N"
    language: str | Language | None = None

    def refuse_unknown(self) -> None:
        """Refuse a kind, a type of document, an instant or a name that there is not.

        Raises
        ------
        InputError
            For the first of them.
        """
        if self.kind not in KINDS:
            raise InputError("--as", f"one of {', '.join(KINDS)}", "Choose one of them")
        if self.document not in TYPES:
            raise InputError("--document", "one of " + ", ".join(TYPES), "Choose one of them")
        if self.at is not None and instant(self.at) is None:
            raise InputError("--at", "an instant such as 2026-03-02T10:05:00-05:00", "Write seconds and offset too")
        if self.replaces is not None and not _URN.fullmatch(self.replaces):
            raise InputError("--replaces", "urn:uuid: and a UUID", "Take the identifier of the Bundle that it replaces")


@resting()
def bundle(
    history: History,
    kind: Kind = "document",
    *,
    at: str | None = None,
    document: Document = "transfer",
    replaces: str | None = None,
    profiles: bool = True,
    policy: Policy = "update",
    dialect: Dialect | None = None,
    attested_by: str | None = None,
    confidentiality: str = "N",
    language: str | None = None,
) -> dict[str, Json]:
    """Return a history as one FHIR Bundle.

    Parameters
    ----------
    history
        One client's record; see ``gather`` for a part of it.
    kind
        ``document`` (a Composition first, HL7 FHIR R4, documents), ``ips`` (the same as ``document="ips"``), ``mhd``
        (the document in a Provide Document Bundle, IHE MHD ITI-65), ``transaction`` (conditional updates by business
        keys, so that sending twice stores once and an amendment arrives) or ``collection``.
    at
        The time at which the Bundle is put together, a whole instant. Without it the newest time in the record is
        used, so that the same history gives the same bytes, and the Provenance of a document says that the time of
        assembly is not known. The date of a Composition is always that of the newest note.
    document
        What a document is: ``transfer`` (a transfer summary note), ``nurse`` (a nurse's note) or ``ips`` (a patient
        summary, which needs the client's name and birth date). Each has an identifier of its own.
    replaces
        ``urn:uuid`` of the Bundle that a document replaces: its ``identifier.value``.
    profiles
        Whether it claims our profiles. A receiver that does not know them may refuse it (R4: a validator reports a
        profile that it cannot find); without, it is plain R4 and reads again the same. A transaction claims none.
    policy
        Of a transaction: ``update`` brings what a server has of ours up to date; ``create`` changes nothing there.
    dialect
        As for ``to_fhir``; it claims none of our profiles then.
    attested_by
        The id or the name of an author of the record who attests to the document.
    confidentiality
        The code of v3-Confidentiality of a document; a higher one of anything in it wins.
    language
        Of a document: ``en`` or ``fr-CA``, in which titles and narratives are written; without it the language that
        holds. The other resources are the same in every language.

    Returns
    -------
    dict
        The Bundle, as plain dicts.

    Raises
    ------
    InputError
        For an unknown kind, for a document of a record in which no whole time is written, and for a transaction or an
        MHD Bundle of a client who has no identifier with a system.

    Examples
    --------
    >>> visits = [{"id": "V1", "at": "2026-03-02T10:05:00-05:00", "status": "final"}]
    >>> made = bundle(History.of({"woundfhir": 1, "patient": {"born": "1948-03"}, "visits": visits}))
    >>> made["type"], made["timestamp"], made["entry"][0]["resource"]["resourceType"]
    ('document', '2026-03-02T10:05:00-05:00', 'Composition')
    """
    making = Making(kind, at, document, replaces, profiles, policy, dialect, attested_by, confidentiality, language)
    made = assembled(history, making)
    return jsonio.copied(made)


@resting()
def assembled(history: History, making: Making) -> dict[str, Json]:
    """Return what ``bundle`` returns, with parts that are shared, so that nobody may change them: for bytes."""
    making.refuse_unknown()
    at, dialect = making.at, making.dialect
    if making.kind == "collection":
        return collection(history, at, profiles=making.profiles, dialect=dialect)
    time = at or history.newest_instant
    if making.kind == "transaction":
        return transaction(history, time, policy=making.policy, dialect=dialect)
    if time is None:
        expected = "at least one visit with date, clock time and offset"
        raise InputError("the record", expected, "Write the visit's 'at', or give --at")
    attests = None if making.attested_by is None else (making.attested_by, time)
    type_ = TYPES["ips" if making.kind == "ips" else making.document]
    head = Head(type_, history.newest_instant or time, making.replaces, attests, making.confidentiality)
    made = _document(history, head, time, making)
    return provide(jsonio.encode_readable(made), replaces=making.replaces) if making.kind == "mhd" else made


def _document(history: History, head: Head, time: str, making: Making) -> dict[str, Json]:
    resources, names, out = _written(history, making.dialect)
    with speaking(making.language or spoken()):
        first = composition(history, resources, out, head)
    resources = [rename(first, names) if names else first, *(_reachable(resources) if history.extra else resources)]
    resources.append(software(out, first["id"], making.at, {"source": BASE}))
    claims = head.type.claims[1] if head.type.claims and making.profiles else None
    if head.type.claims and not making.profiles:
        resources[0] = {**resources[0], "meta": {"source": BASE}}
    ours = making.profiles and making.dialect is None
    return bundled(resources, "document", time, profiles=ours, claims=claims, linked=out.linked)


def _written(history: History, dialect: Dialect | None) -> Written:
    """A history and its computed values as resources, each with an id."""
    if not history.extra and dialect is None and (ours := _linked(history)) is not None:
        return ours
    resources, names, out = written(history, dialect)
    values = (rename(one, names) if names else one for one in computed(history, out))
    return Written([*map(named, resources), *values], names, out)


def _linked(history: History) -> Written | None:
    """The same with the references of a Bundle from the start, where all is ours; to rename them costs twice as much.

    None where something is referred to that is not written: such a reference stays type and id.
    """
    resources, out = build(history, linked=True)
    resources += computed(history, out)
    if out.knows_client and out.referred <= {one["id"] for one in resources}:
        return Written(resources, {}, out)
    return None


def _reachable(resources: list[dict[str, Json]]) -> list[dict[str, Json]]:
    """Leave out the people that nothing points at: a document holds only what can be reached (R4, documents).

    Whoever stands in the record itself is named by a note of theirs; what came may not be.
    """
    named = {address(literal) for one in resources for literal in references(one)}
    people = ("Practitioner", "PractitionerRole", "Organization")
    return [r for r in resources if r["resourceType"] not in people or f"{r['resourceType']}/{r['id']}" in named]
