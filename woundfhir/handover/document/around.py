"""What stands around a document: who keeps it, who attests to it, how confidential it is, which software made it.

Sources: HL7 FHIR R4, Composition (custodian, attester, confidentiality), Provenance, Device.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from woundfhir._version import __version__
from woundfhir.catalogue import BASE
from woundfhir.chart import RecordView
from woundfhir.errors import InputError
from woundfhir.fhir.elements import objects, write_instant
from woundfhir.fhir.mhd import CONFIDENTIALITY
from woundfhir.fhir.software import SYSTEM
from woundfhir.fhir.write_context import WriteContext
from woundfhir.record.canonical import as_json

Json = Any
Resource = dict[str, Json]
#: Of v3-Confidentiality, from the least to the most (R4, the hierarchy of that code system).
LEVELS = ("U", "L", "M", "N", "R", "V")


def author(record: RecordView, out: WriteContext) -> dict[str, str] | None:
    """Return the author of the newest note."""
    by = next((one.by for one in reversed(record.counted) if one.by), None)
    return None if by is None else out.authors.get(as_json(by))


def custodian(record: RecordView, out: WriteContext, resources: Iterable[Resource]) -> dict[str, str] | None:
    """Return the house that keeps the document: that of the newest note whose author names one."""
    kind = "PractitionerRole"
    roles = {out.literal(kind, str(one.get("id"))): one for one in resources if one["resourceType"] == kind}
    for note in reversed(record.counted):
        if note.by and "organisation" in note.by:
            role = roles.get(out.authors.get(as_json(note.by), {}).get("reference", ""), {})
            house: dict[str, str] | None = role.get("organization")
            return house
    return None


def attester(record: RecordView, out: WriteContext, who: str, time: str) -> list[Json]:
    """Return who attests to the document, as a person has said: an author of the record, by id or name.

    Raises
    ------
    InputError
        For somebody who is not, or not alone, an author of it.
    """
    found = {as_json(note.by): note.by for note in record.counted if note.by and who in _called(note.by)}
    if len(found) != 1:
        wrong = f"{len(found) or 'none'} of the record's authors {'is' if len(found) < 2 else 'are'} called so"
        raise InputError("--attested-by", "the id or the name of one author", "Write it as in the record", found=wrong)
    party = out.authors[next(iter(found))]
    return [{"mode": "professional", "time": time, "party": party}]


def _called(by: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(by[key] for key in ("id", "name") if key in by)


def confidentiality(resources: Iterable[Resource], asked: str = "N") -> str:
    """Return how confidential the document is: what is asked for, and never less than what is in it.

    Examples
    --------
    >>> label = {"system": "http://terminology.hl7.org/CodeSystem/v3-Confidentiality", "code": "R"}
    >>> confidentiality([{"meta": {"security": [label]}}]), confidentiality([]), confidentiality([], "V")
    ('R', 'N', 'V')
    """
    if asked not in LEVELS:
        raise InputError("--confidentiality", "one of " + ", ".join(LEVELS), "Choose one of them")
    return max([asked, *_labels(resources)], key=LEVELS.index)


def _labels(resources: Iterable[Resource]) -> Iterator[str]:
    for one in resources:
        meta = one.get("meta")
        for label in objects(meta, "security") if isinstance(meta, dict) else ():
            if label.get("system") == CONFIDENTIALITY and label.get("code") in LEVELS:
                yield label["code"]


def software(out: WriteContext, composition: str, at: str | None, meta: Json) -> Resource:
    """Return the Provenance that says which software assembled a document, and when where that is known.

    Parameters
    ----------
    out
        The writer's context.
    composition
        The id of the Composition, which is what was made.
    at
        The instant of assembly; None where it is not given.
    meta
        Of the Provenance.
    """
    device: Resource = {
        "resourceType": "Device",
        "id": "software",
        "identifier": [{"system": SYSTEM, "value": f"woundfhir-{__version__}"}],
        "deviceName": [{"name": "woundfhir", "type": "model-name"}],
        "version": [{"value": __version__}],
        "url": BASE,
    }
    made = out.head("Provenance", f"assembled/Composition/{composition}", meta)
    made["contained"] = [device]
    made["target"] = [{"reference": out.literal("Composition", composition)}]
    made.update(write_instant("recorded", at))
    made["agent"] = [{"type": out.terms.cc["agent_assembler"], "who": {"reference": "#software"}}]
    return made
