"""A history to FHIR R4 resources."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from woundfhir.collector import resting
from woundfhir.errors import InputError
from woundfhir.fhir.dialects.names import Name as Dialect
from woundfhir.fhir.putting_back import put_back
from woundfhir.fhir.resources import (
    allergy,
    contact,
    illness,
    observation,
    panel,
    patient,
    people,
    photo,
    plan,
    procedure,
    supply,
    wound,
)
from woundfhir.fhir.resources.encounter import write_encounter
from woundfhir.fhir.terms import terms
from woundfhir.fhir.write_context import Resource, VisitContext, WriteContext
from woundfhir.language import ENGLISH, speaking
from woundfhir.r4 import jsonio
from woundfhir.record import History

if TYPE_CHECKING:
    from fhir_core.fhirabstractmodel import FHIRAbstractModel

Json = Any


@speaking(ENGLISH)
def build(history: History, *, linked: bool = False) -> tuple[list[Resource], WriteContext]:
    """Write every resource of a history; parts of them are shared, so that nobody may change them.

    With ``linked``, references between them are those between entries of a Bundle.

    Examples
    --------
    >>> resources, out = build(History.of({"woundfhir": 1, "patient": {"born": "1948"}}))
    >>> [one["resourceType"] for one in resources], out.id("Patient", "patient") == resources[0]["id"]
    (['Patient'], True)
    """
    out = WriteContext(history, terms(), linked=linked)
    for _ in _write(out):
        pass
    return out.resources, out


def _write(out: WriteContext) -> Iterator[None]:
    """Write the client and the wounds, then visit after visit; what is written may be taken away after each."""
    patient.write_patient(out)
    allergy.write_allergies(out)
    illness.write_conditions(out)
    contact.write_contact(out)
    for found in out.history.wounds:
        wound.write_wound(out, found)
    yield
    for visit in out.history.visits:
        author = people.write_author(out, visit.get("by"))
        write_encounter(out, visit, author)
        if client := visit.get("client"):
            context, group = VisitContext(out, visit, author), out.terms.groups["client"]
            for key, answer in client.items():
                observation.write(context, group[key], answer, [], client)
        for entry in visit.get("wounds", ()):
            _write_entry(VisitContext(out, visit, author, entry["wound"]), entry)
        yield


def _write_entry(context: VisitContext, entry: Mapping[str, Json]) -> None:
    panel.write_panel(context, entry)
    change = procedure.write_care(context, entry, supply.concepts(context.out.terms, entry))
    supply.write_supplies(context, entry, change)
    plan.write_plan(context, entry)
    photo.write_photos(context, entry)


@resting()
def to_fhir(history: History, *, dialect: Dialect | None = None) -> list[Resource]:
    """Return the FHIR R4 (4.0.1) resources of a history.

    Parameters
    ----------
    history
        One client's record.
    dialect
        For whom: ``us-core``, ``ca-baseline``, ``skin-wound`` (the HL7 skin and wound assessment guide) or
        ``components`` (findings as components of the panel). What others read better there is written so, with codes of
        published systems first, and no profile of ours is claimed; it reads again to the same record.

    Returns
    -------
    list of dict
        Plain dicts, numbers as ``Decimal`` where they were written with a decimal point. The same history
        gives the same ids and the same order. What came in and was not understood goes out as it came.

    Examples
    --------
    >>> resources = to_fhir(History.of({"woundfhir": 1, "patient": {"born": "1948-03"}}))
    >>> resources[0]["resourceType"], resources[0]["birthDate"]
    ('Patient', '1948-03')
    """
    return jsonio.copied(written(history, dialect).resources)  # what is written shares its parts with the tables


class Written(NamedTuple):
    """A history as resources, everything that came put back; how our references were renamed for it; the context."""

    resources: list[Resource]
    names: dict[str, str]
    out: WriteContext


@resting()
@speaking(ENGLISH)
def lines(history: History, dialect: Dialect | None = None) -> bytes:
    """Return the resources of a history, one a line, each with a line end; nothing where there are none."""
    if not history.extra and dialect is None:
        try:
            return b"".join(_encoded(history))
        except UnicodeEncodeError:  # below, it is said where
            pass
    return jsonio.encode_lines(written(history, dialect).resources)


def _encoded(history: History) -> Iterator[bytes]:
    """Yield the lines of the client and the wounds, then of each visit, so that little stands in memory at once."""
    out = WriteContext(history, terms(True))
    for _ in _write(out):
        yield jsonio.encode_lines(out.resources, finite=True)
        out.resources.clear()


@resting()
@speaking(ENGLISH)
def written(history: History, dialect: Dialect | None = None) -> Written:
    """Write a history with everything that came put back; parts are shared, so that nobody may change them."""
    resources, out = build(history)
    names: dict[str, str] = {}
    if history.extra:
        resources, names = put_back(resources, history, out)
    if dialect is not None:
        from woundfhir.fhir.dialects.spoken import spoken

        resources = spoken(dialect, resources, out)
    return Written(resources, names, out)


def to_models(history: History, *, dialect: Dialect | None = None) -> list[FHIRAbstractModel]:
    """Return the resources of a history as objects of ``fhir.resources.R4B``.

    Parameters
    ----------
    history
        One client's record.
    dialect
        As for ``to_fhir``.

    Returns
    -------
    list of FHIRAbstractModel
        One object for each resource of ``to_fhir``; ``from_fhir`` takes them. Decimals keep their digits (4.10 stays
        4.10), and a time keeps its text. The objects' own ``model_dump_json`` does not: for the wire, take ``to_fhir``
        or ``woundfhir.r4.objects.from_object``.

    Raises
    ------
    InputError
        When the library refuses an element: one that came in from elsewhere and is put back as it came.

    Examples
    --------
    >>> client, *others = to_models(History.of({"woundfhir": 1, "patient": {"born": "1948-03"}}))
    >>> client.birthDate
    '1948-03'
    """
    from woundfhir.r4.objects import to_object

    made = []
    for number, resource in enumerate(to_fhir(history, dialect=dialect)):
        try:
            made.append(to_object(resource))
        except InputError as error:
            raise error.at(f"resource {number + 1}") from None
    return made
