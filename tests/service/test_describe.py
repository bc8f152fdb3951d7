"""What the service says of itself: OpenAPI held by a general validator, the CapabilityStatement by R4's own rules."""

from __future__ import annotations

from openapi_spec_validator import OpenAPIV31SpecValidator
from starlette.routing import Route

from tests.service.conftest import Served, broken_rules
from woundfhir.service import app, describe
from woundfhir.service.setup import Setup
from woundfhir.service.workers import Workers


def test_openapi_is_sound_and_names_every_path() -> None:
    found = describe.openapi()
    assert list(OpenAPIV31SpecValidator(found).iter_errors()) == []
    routes = {one.path: one for one in app._Service(Workers(Setup())).routes()}
    assert set(found["paths"]) == set(routes)
    for path, one in found["paths"].items():
        route: Route = routes[path]
        assert {verb.upper() for verb in one} == {verb for verb in route.methods or () if verb != "HEAD"}


def test_the_capability_statement_keeps_to_r4(served: Served) -> None:
    answer = served.client.get("/metadata", headers={"Accept": "application/fhir+json"})
    assert answer.headers["Content-Type"] == "application/fhir+json"
    assert broken_rules(answer.json()) == []
    rest = answer.json()["rest"][0]
    assert {one["name"] for one in rest["operation"]} == {"validate", "convert"}
    assert answer.json()["fhirVersion"] == "4.0.1"


def test_openapi_is_served(served: Served) -> None:
    assert served.client.get("/openapi.json").json() == describe.openapi()
