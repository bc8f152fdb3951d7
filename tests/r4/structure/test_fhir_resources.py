"""The models of fhir.resources (R4B, an outside library) as a second opinion: what they refuse, our check refuses too.

R4B is R4 but for some types; ``DIFFER`` names what the models refuse and R4 does not.
"""

from __future__ import annotations

import copy
import re
from decimal import Decimal
from typing import Any

import pytest
from fhir.resources.R4B import get_fhir_model_class
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.r4.structure.cases import GOOD
from tests.r4.structure.test_properties import mangled
from woundfhir.r4.definitions import _table, primitive, resource_types
from woundfhir.r4.structure import check_resource
from woundfhir.r4.structure.issue import Issues
from woundfhir.r4.structure.walk import walk

Json = Any

#: Type of a primitive -> texts of R4's form that the models refuse all the same: a hard blank is white space to
#: Python and none to R4, whose expressions name the ASCII ones.
DIFFER = dict.fromkeys(("string", "code", "markdown", "uri", "url", "canonical"), re.compile(r"[^\S \t\r\n]"))
#: One extension for each primitive type that an extension may hold, each with a good value.
EACH_TYPE: dict[str, Json] = {
    "resourceType": "Basic",
    "code": {"text": "each type"},
    "extension": [
        {"url": "http://example.org/x", name: value}
        for name, value in {
            "valueBase64Binary": "YQ==",
            "valueBoolean": True,
            "valueCanonical": "http://example.org/y",
            "valueCode": "x",
            "valueDate": "2026-03-02",
            "valueDateTime": "2026-03-02T10:05:00Z",
            "valueDecimal": Decimal("4.10"),
            "valueId": "x",
            "valueInstant": "2026-03-02T10:05:00Z",
            "valueInteger": 3,
            "valueMarkdown": "x",
            "valueOid": "urn:oid:1.2.3",
            "valuePositiveInt": 3,
            "valueString": "x",
            "valueTime": "10:05:00",
            "valueUnsignedInt": 3,
            "valueUri": "urn:x",
            "valueUrl": "http://example.org/z",
            "valueUuid": "urn:uuid:c757873d-ec9a-4326-a141-556f43239520",
        }.items()
    ],
}
RESOURCES: dict[str, dict[str, Json]] = {**GOOD, "each type": EACH_TYPE}


def models_refuse(resource: dict[str, Json]) -> bool:
    kind = resource.get("resourceType")
    if not isinstance(kind, str) or kind not in resource_types():
        return False
    try:
        get_fhir_model_class(kind).model_validate(copy.deepcopy(resource))
    except (ValidationError, KeyError, TypeError, ValueError, AttributeError):
        return True
    return False


def errors(resource: dict[str, Json]) -> list[str]:
    return [issue.path for issue in check_resource(resource) if issue.severity == "error"]


@settings(max_examples=200)
@given(mangled())
def test_a_mangled_resource_that_the_models_refuse_has_an_error(resource: dict[str, Json]) -> None:
    if models_refuse(resource):
        assert errors(resource)


def _places(name: str) -> list[tuple[str, str]]:
    """Return path and type of each primitive of a good resource that is not in a Bundle's entry."""
    nodes = walk(RESOURCES[name], Issues())
    return [(node.path, node.type) for node in nodes if node.value is not None and primitive(node.type) is not None]


PLACES = [(name, path, kind) for name in RESOURCES for path, kind in _places(name) if kind != "xhtml"]

_digits = st.sampled_from(["0000", "0001", "1948", "2026", "2028", "2100", "9999"])
_two = st.sampled_from(["00", "01", "02", "04", "12", "13", "23", "24", "28", "29", "30", "31", "32", "59", "60", "61"])
_days = st.builds("{}-{}-{}".format, _digits, _two, _two)
_clocks = st.builds(
    "{}:{}:{}{}".format,
    _two,
    _two,
    _two,
    st.sampled_from(["", ".1", ".123456789", ".", "Z", "Z ", "+14:00", "-14:30", "-00:00"]),
)
_texts = st.one_of(
    _digits,
    _days,
    _clocks,
    st.builds("{}T{}".format, _days, _clocks),
    st.builds("{} {}".format, _days, _clocks),
    st.builds("{}-{}".format, _digits, _two),
    st.sampled_from(
        [
            "",
            " ",
            "x",
            " x",
            "x  y",
            "\u00a0",
            "a\u00a0b",
            "x" * 65,
            "urn:oid:1.2",
            "urn:oid:3.1",
            "YQ==",
            "YQ=",
            "Y Q = =",
        ]
    ),
    st.text(max_size=4),
)
VALUES = st.one_of(_texts, st.integers(-(2**33), 2**33), st.booleans(), st.decimals(), st.none())


def put(resource: dict[str, Json], path: str, value: Json) -> dict[str, Json]:
    """Return a copy with one primitive replaced."""
    made = copy.deepcopy(resource)
    *way, last = re.findall(r"[A-Za-z]\w*|\d+", path)[1:]
    here: Any = made
    for step in way:
        here = here[int(step) if step.isdigit() else step]
    here[int(last) if last.isdigit() else last] = value
    return made


@settings(max_examples=800)
@given(st.sampled_from(PLACES), VALUES)
def test_a_primitive_that_the_models_refuse_has_an_error_of_ours(place: tuple[str, str, str], value: Json) -> None:
    name, path, kind = place
    resource = put(RESOURCES[name], path, value)
    if models_refuse(resource) and not (kind in DIFFER and isinstance(value, str) and DIFFER[kind].search(value)):
        assert [found for found in errors(resource) if path.startswith(found)], (kind, value)


def test_each_primitive_type_is_tried() -> None:
    assert not errors(EACH_TYPE) and not models_refuse(EACH_TYPE)
    assert {kind for _, _, kind in PLACES} >= set(_table()["primitives"]) - {"xhtml"}


@pytest.mark.parametrize("text", ["2026-02-30", "2026-02-30T10:00:00Z", "2100-02-29", "2026-04-31T23:59:60Z"])
def test_both_refuse_a_day_that_the_calendar_does_not_have(text: str) -> None:
    """Gregorian calendar (ISO 8601): 2100 is no leap year, April has 30 days."""
    resource = {
        "resourceType": "Procedure",
        "status": "completed",
        "subject": {"display": "x"},
        "performedDateTime": text,
    }
    assert models_refuse(resource) and "Procedure.performedDateTime" in errors(resource)
