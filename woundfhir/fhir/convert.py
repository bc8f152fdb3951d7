"""The whole way: a history to FHIR R4 resources, and back with a list of what was not understood."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.fhir import losses
from woundfhir.fhir.into import In
from woundfhir.fhir.losses import Losses
from woundfhir.fhir.out import Out, Resource, Scene
from woundfhir.fhir.reading import Reading
from woundfhir.fhir.resources import observation, patient, people, photo, plan, procedure, supply, wound
from woundfhir.fhir.resources.encounter import write_encounter
from woundfhir.fhir.terms import terms
from woundfhir.record import History

Json = Any


def build(history: History, base: str = BASE) -> tuple[list[Resource], Out]:
    """Write every resource of a history; parts of them are shared, so that nobody may change them."""
    out = Out(history, terms(base))
    patient.write_patient(out)
    for found in history.wounds:
        wound.write_wound(out, found)
    for visit in history.visits:
        author = people.write_author(out, visit.get("by"))
        write_encounter(out, visit, author)
        if client := visit.get("client"):
            scene, group = Scene(out, visit, author), out.terms.groups["client"]
            for key, answer in client.items():
                observation.write(scene, group[key], answer, [])
        for entry in visit.get("wounds", ()):
            _write_entry(Scene(out, visit, author, entry["wound"]), entry)
    return out.resources, out


def _write_entry(scene: Scene, entry: Mapping[str, Json]) -> None:
    observation.write_panel(scene, entry)
    change = procedure.write_care(scene, entry, supply.concepts(scene.out.terms, entry))
    supply.write_supplies(scene, entry, change)
    plan.write_plan(scene, entry)
    photo.write_photos(scene, entry)


def to_fhir(history: History, base: str = BASE) -> list[Resource]:
    """Return the FHIR R4 (4.0.1) resources of a history.

    Parameters
    ----------
    history
        One client's record.
    base
        Canonical base of the project's own codes, profiles and extensions; a site may put its own.

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
    resources, out = build(history, base)
    if history.extra:
        resources = losses.put_back(resources, history, out)
    return [_copy(resource) for resource in resources]


def _copy(value: Json) -> Json:
    if value.__class__ is dict:
        return {key: _copy(item) for key, item in value.items()}
    if value.__class__ is list:
        return [_copy(item) for item in value]
    return value


def from_fhir(resources: Iterable[Mapping[str, Json]], base: str = BASE) -> tuple[History, Losses]:
    """Return the history that FHIR R4 resources tell, and what of them has no place in it.

    Parameters
    ----------
    resources
        Resources or Bundles, as plain dicts with exact decimals.
    base
        Canonical base of the project's own codes.

    Returns
    -------
    history
        With everything that was not understood kept verbatim under ``extra``.
    losses
        The same as a list to show: what, where, why.

    Raises
    ------
    InputError
        When the resources belong to more than one client.

    Examples
    --------
    >>> came = {"resourceType": "Patient", "birthDate": "1948-03", "maritalStatus": {"text": "x"}}
    >>> history, losses = from_fhir([came])
    >>> history.patient["born"], losses.items[0].path
    ('1948-03', 'Patient.maritalStatus')
    """
    compiled = terms(base)
    source = In(resources, compiled)
    reading = Reading(source)
    history = History(reading.data(), "FHIR")
    losses.collect(source, history, reading.inferred, lambda done: build(done, base))
    return history, losses.report(history, reading.inferred, reading.computed)


__all__ = ["build", "from_fhir", "to_fhir"]
