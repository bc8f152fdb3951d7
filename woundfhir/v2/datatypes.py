"""The data types of HL7 v2 as those of FHIR R4 (HL7's v2-to-FHIR mappings, HL7/v2-to-fhir@8c9b414)."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any
from urllib.parse import quote

from woundfhir.catalogue import BASE
from woundfhir.fhir.terms import terms
from woundfhir.r4.origin import Leaf, Source
from woundfhir.v2.message import Segment

Json = Any
UCUM = "http://unitsofmeasure.org"
#: Names of code systems (HL7 table 0396; memory) -> URI. Another name is no address, and stays in the message.
SYSTEMS = {
    "LN": "http://loinc.org", "SCT": "http://snomed.info/sct", "UCUM": UCUM,
    "I10": "http://hl7.org/fhir/sid/icd-10", "I10C": "http://hl7.org/fhir/sid/icd-10-cm",
    "RXNORM": "http://www.nlm.nih.gov/research/umls/rxnorm",
}  # fmt: skip
#: A comma with one or two digits behind it is that of a decimal: it parts no thousands.
_NUMBER = re.compile(r"([<>]=?)?\s*([+-]?\d{1,40}(?:\.\d{1,40}|,\d{1,2})?)")


def concept(segment: Segment, field: int, repetition: int = 0) -> Json:
    """Return a code (CWE, CE, CNE, CF, IS) with its alternate and its words; None for an empty one."""
    codings = []
    for first in (1, 4):
        code, words, name = (segment.get(field, first + n, 1, repetition) for n in range(3))
        if code is not None:
            system = Leaf(SYSTEMS[name.value.upper()], name.at) if name and name.value.upper() in SYSTEMS else None
            codings.append({"system": system, "code": code, "display": words})
    text = segment.get(field, 9, 1, repetition) or (None if codings else segment.get(field, 2, 1, repetition))
    if codings and text is None and codings[0]["system"] is None and codings[0]["display"] is None:
        return {"text": codings[0]["code"]}  # a code of no list is a word
    return {"coding": codings, "text": text} if codings or text else None


def identifier(segment: Segment, field: int, sender: str, repetition: int = 0, authority: int = 4) -> Json:
    """Return an id (CX: authority in 4; EI: in 2). An authority that only has a name is one of its sender's."""
    value = segment.get(field, 1, 1, repetition)
    if value is None:
        return None
    if authority == 4:
        name, universal, kind = (segment.get(field, 4, n, repetition) for n in (1, 2, 3))
    else:
        name, universal, kind = (segment.get(field, n, 1, repetition) for n in (2, 3, 4))
    system = None
    if universal is not None and kind is not None and kind.value.upper() in ("ISO", "UUID", "URI"):
        prefix = {"ISO": "urn:oid:", "UUID": "urn:uuid:", "URI": ""}[kind.value.upper()]
        system = Leaf(prefix + universal.value, (*universal.at, *kind.at))
    elif name is not None:
        system = Leaf(f"{BASE}/v2/authority/{quote(sender, safe='')}/{quote(name.value, safe='')}", name.at)
    return {"system": system, "value": value}


def person(segment: Segment, field: int, first: int = 1, repetition: int = 0) -> Json:
    """Return a name (XPN from component 1, XCN from component 2)."""
    family, given, more, suffix, prefix = (segment.get(field, first + n, 1, repetition) for n in range(5))
    if family is None and given is None:
        return None
    return {"family": family, "given": [one for one in (given, more) if one], "prefix": [prefix], "suffix": [suffix]}


def is_number(text: str) -> bool:
    """Whether a text is a number, and nothing else."""
    return _NUMBER.fullmatch(text) is not None


def quantity(source: Source, segment: Segment, value: Leaf | None, comparator: Leaf | None = None) -> Json:
    """Return an amount in the unit of OBX-6; None, and a line in the report, for what is no number."""
    found = _NUMBER.fullmatch(value.value) if value is not None else None
    if value is None or found is None:
        if value is not None:
            source.report(value, "not-understood", "expected a number")
        return None
    sign = Leaf(found[1], value.at) if found[1] else comparator
    made: dict[str, Json] = {"value": Leaf(Decimal(found[2].replace(",", ".")), value.at), "comparator": sign}
    unit = segment.get(6, 1) or segment.get(6, 2)
    if unit is not None:
        made["unit"] = unit
        if terms().catalogue.units.get(unit.value) == unit.value:
            made |= {"system": Leaf(UCUM, unit.at), "code": unit}
    return made
