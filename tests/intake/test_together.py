"""Pages of one search are one input; those of two servers never are: an id is a name within one server (R4)."""

from __future__ import annotations

from typing import Any

import pytest

from tests.intake.foreign.inputs import U, client, length
from tests.intake.two_clients import ref
from woundfhir import read_many
from woundfhir.intake.together import Decoded, Together

Json = Any
ONE, TWO = "http://one.example.org/fhir", "http://two.example.org/fhir"


def page(*resources: Json, base: str | None = None, link: str | None = None, kind: str = "searchset") -> Json:
    entries = [
        {**({"fullUrl": f"{base}/{one['resourceType']}/{one['id']}"} if base else {}), "resource": one}
        for one in resources
    ]
    links = (
        {
            "link": [{"relation": one, "url": f"{TWO}?page=9"} for one in ("next", "up")]
            + [{"relation": "self", "url": link}]
        }
        if link
        else {}
    )
    return {"resourceType": "Bundle", "type": kind, **links, "entry": entries}


PATIENT, SEEN = client("1"), length("1", 4, of=ref("Patient/1"))
#: Case -> where the first and the second page say that they are from, and whether they are one input.
CASES: dict[str, tuple[Json, Json, bool]] = {
    "one server": ({"base": ONE}, {"base": ONE}, True),
    "two servers": ({"base": ONE}, {"base": TWO}, False),
    "two servers of one host": ({"base": ONE}, {"base": f"{ONE}2"}, False),
    "one server, by what was asked": ({"link": f"{ONE}/Patient?_id=1"}, {"link": f"{ONE}/Observation?code=1"}, True),
    "one server, by the address of a page": ({"link": f"{ONE}/Patient?_id=1"}, {"link": f"{ONE}?page=2"}, True),
    "one server, by a page with a line at its end": ({"link": f"{ONE}/?page=1"}, {"link": f"{ONE}?page=2"}, True),
    "two servers, by what was asked": ({"link": f"{ONE}/Patient?_id=1"}, {"link": f"{TWO}/Patient?_id=1"}, False),
    "resources of one, asked of another": ({"base": ONE, "link": f"{TWO}/Patient"}, {"base": ONE}, True),
    "one server, by a resource and by what was asked": ({"base": ONE}, {"link": f"{ONE}/Observation?code=1"}, True),
    "nothing says where": ({}, {}, False),
    "an address that is none": ({"link": "Patient?_id=1"}, {"link": "Patient?_id=1"}, False),
    "a transaction": ({"base": ONE, "kind": "transaction"}, {"base": ONE, "kind": "transaction"}, False),
    "no search": ({"base": ONE, "kind": "collection"}, {"base": ONE, "kind": "collection"}, False),
}


@pytest.mark.parametrize("name", CASES)
def test_pages_of_one_server_are_one_input(name: str) -> None:
    first, second, together = CASES[name]
    found = list(read_many([page(PATIENT, **first), page(SEEN, **second)]))
    assert len(found) == (1 if together else 2)
    lengths = [visit["wounds"][0]["assessment"]["length"] for one in found for visit in one.history.visits]
    assert lengths == ["4 cm"]
    assert [one.history.patient.get("born") for one in found] == (["1948-03"] if together else ["1948-03", None])


def test_an_address_by_urn_says_nothing_of_a_server() -> None:
    bundles = [page(one, link=f"{ONE}/x?y=1") for one in (PATIENT, SEEN)]
    for number, one in enumerate(bundles):
        one["entry"][0]["fullUrl"] = U[number]
    assert {Decoded("a", "fhir-json", [one]).group for one in bundles} == {("search", f"{ONE}/x")}


def test_a_group_of_one_goes_by_its_own_name_and_several_by_that_of_the_first() -> None:
    def names(count: int) -> list[str]:
        together = Together()
        for number in range(count):
            assert together.take(Decoded(f"{number}.json", "fhir-json", [page(client(str(number)), base=ONE)]))
        return [one.name.partition(",")[0] for group in together.groups() for one in group][:1]

    assert [names(count) for count in (1, 2, 3)] == [["0.json"], ["0.json and 1 more"], ["0.json and 2 more"]]


@pytest.mark.parametrize(
    ("name", "kind", "types", "group"),
    [
        ("a.ndjson", "ndjson", ["Patient", "Observation"], ("files", "")),
        ("a.txt", "ndjson", ["Patient", "Patient"], ("files", "")),
        ("a.NDJSON", "fhir-json", ["Patient"], ("files", "")),
        ("a.ndjson.gz", "fhir-json", ["Patient"], ("files", "")),
        ("a.jsonl", "fhir-json", ["Patient"], ("files", "")),
        ("a.json", "fhir-json", ["Patient"], ("files", "")),
        ("a.xml", "fhir-xml", ["Patient"], ("files", "")),
        ("a.json", "fhir-json", ["Bundle"], None),
        ("a.xml", "cda", ["Patient"], None),
        ("a.ndjson", "ndjson", ["Patient", "Bundle"], None),
        ("a.ndjson", "ndjson", ["Parameters"], None),
    ],
)
def test_a_file_of_resources_may_be_read_with_others(name: str, kind: str, types: list[str], group: Any) -> None:
    came = Decoded(name, kind, [{"resourceType": one, "id": "x"} for one in types])
    assert came.group == group
    assert Decoded(name, kind, came.resources, loose=True).group == ("resources", "")
