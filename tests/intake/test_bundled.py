"""What stands in Bundles beside plain resources: Bundles in Bundles, versions of a history, entries that failed.

R4, http, history: the oldest versions last, a DELETE without a resource, response.lastModified; http, batch: the answer
to a search is a Bundle, response.status begins with three digits.
"""

from __future__ import annotations

from typing import Any

import pytest

from woundfhir.intake.bundled import deletes, earlier, failed, says_something, unfolded

Json = Any
NOON, LATER, ELSEWHERE = "2026-03-02T12:00:00Z", "2026-03-02T12:00:01Z", "2026-03-02T13:00:00+01:00"
LAST = "2026-03-09T12:00:00Z"


def entry(at: Json = None, *, method: str = "PUT", url: str | None = "Observation/l", held: Json = None) -> Json:
    made: Json = {"request": {"method": method, **({"url": url} if url else {})}}
    made |= {"response": {"lastModified": at}} if at else {}
    return {**made, **({"resource": held} if held else {})}


def version(name: Json = "l", updated: Json = None, kind: str = "Observation") -> Json:
    return {"resourceType": kind, "id": name, **({"meta": {"lastUpdated": updated}} if updated else {})}


GONE = {"method": "DELETE"}
#: Case -> the entries, and which of them a newer version follows.
HISTORIES: dict[str, tuple[list[Json], list[int]]] = {
    "nothing": ([], []),
    "one": ([entry()], []),
    "the newest stands first": ([entry(), entry(), entry()], [1, 2]),
    "two things": ([entry(), entry(url="Observation/m"), entry()], [2]),
    "one id of two types": ([entry(), entry(url="Condition/l")], []),
    "the newest by the server's times": ([entry(NOON), entry(LATER)], [0]),
    "one time": ([entry(NOON), entry(ELSEWHERE)], [1]),
    "one that says no time": ([entry(NOON), entry(), entry(LATER)], [1, 2]),
    "a time that is none": ([entry(NOON), entry("2026-03-03")], [1]),
    "a time of the resource": ([entry(NOON), entry(held=version(updated=LATER))], [0]),
    "the response before the resource": ([entry(LATER), entry(NOON, held=version(updated=LAST))], [1]),
    "a response of another shape": ([{**entry(), "response": "200"}, entry(held={**version(), "meta": 5})], [1]),
    "by the resource": ([{"resource": version()}, {"resource": version()}, {"resource": version("m")}], [1]),
    "by the resource, and by the request": ([{"resource": version()}, entry()], [1]),
    "a resource without an id": ([entry(held={"resourceType": "Observation"}), entry()], [1]),
    "a resource with an odd id": ([entry(held=version(5)), entry()], [1]),
    "by its address": ([entry(url="http://one.example.org/fhir/Observation/l"), entry()], [1]),
    "by its version": ([entry(url="Observation/l/_history/2"), entry(url="Observation/l/_history/1")], [1]),
    "a type alone": ([entry(url="Observation"), entry(url="Observation")], []),
    "nothing is named": ([entry(url=None), entry(url=None), {}, {"request": 5}, {"resource": 5}], []),
    "deleted at the end": ([entry(method="DELETE"), entry(), entry()], [2]),
    "deleted at the end, by the times": ([entry(NOON), entry(LATER, method="DELETE"), entry(NOON)], [2]),
    "deleted twice": ([entry(method="DELETE"), entry(method="DELETE"), entry(), entry()], [1, 3]),
    "deleted alone": ([entry(method="DELETE"), entry(method="DELETE")], [1]),
    "written again": ([entry(), entry(method="DELETE"), entry()], [1, 2]),
}  # fmt: skip


@pytest.mark.parametrize("name", HISTORIES)
def test_of_each_resource_the_newest_version_is_kept(name: str) -> None:
    entries, expected = HISTORIES[name]
    assert sorted(earlier(entries)) == expected


@pytest.mark.parametrize(
    ("one", "gone", "says"),
    [
        ({"request": GONE}, True, True),
        ({"request": {"method": "PUT"}}, False, False),
        ({"request": {"method": "CREATE"}}, False, False),
        ({"request": 5}, False, False),
        ({"resource": version()}, False, True),
        ({"resource": version(kind="Parameters")}, False, False),
        ({"resource": version(kind="Parameters"), "request": GONE}, True, True),
        ({"resource": {"id": "x"}}, False, False),
        ({"resource": 5}, False, False),
        ({}, False, False),
    ],
)
def test_an_entry_of_a_history_holds_a_version_or_says_that_there_was_one(one: Json, gone: bool, says: bool) -> None:
    assert (deletes(one), says_something(one)) == (gone, says)


def test_what_failed_is_counted() -> None:
    statuses = ["200 OK", "301", "399", "404 Not Found", "400", "500", "503 Busy", "600", "", None, 404]
    entries = [{"response": {"status": one}} for one in statuses]
    assert failed([*entries, {}, {"response": 5}, {"response": {}}]) == 5


def page(*held: Json, **more: Json) -> Json:
    return {"resourceType": "Bundle", "type": "searchset", "entry": [{"resource": one} for one in held], **more}


def test_bundles_in_a_bundle_stand_behind_it_each_with_its_place() -> None:
    inner, deep = page(version("a")), page(page(version("b")), version("c"))
    found = list(unfolded(page(version("d"), inner, deep), "Bundle"))
    assert [at for _, at in found] == [
        "Bundle",
        "Bundle.entry[1].resource",
        "Bundle.entry[2].resource",
        "Bundle.entry[2].resource.entry[0].resource",
    ]
    beside = {"fullUrl": "urn:uuid:1", "search": {"mode": "match"}}
    (around, _), _ = unfolded({"resourceType": "Bundle", "entry": [{**beside, "resource": inner}]}, "at")
    assert around["entry"] == [beside]
    outer, first, second, third = (one for one, _ in found)
    assert outer["entry"] == [{"resource": version("d")}, {}, {}]
    assert (first, second["entry"], third) == (inner, [{}, {"resource": version("c")}], page(version("b")))


@pytest.mark.parametrize(
    ("given", "held"),
    [
        ({"resource": page()}, True),
        ({"resource": page(), "request": {"method": "POST"}}, True),
        ({"resource": page(), "request": GONE}, False),
        ({"resource": page(), "request": {"method": "GET"}}, False),
        ({"resource": page(), "request": 5}, True),
        ({"resource": version(kind="Basic")}, False),
        ({"resource": version(kind="Observation")}, False),
        ({"resource": 5}, False),
        (5, False),
    ],
)
def test_a_bundle_in_an_entry_is_opened_unless_it_is_asked_for_or_deleted(given: Json, held: bool) -> None:
    whole = {"resourceType": "Bundle", "entry": [given]}
    found = list(unfolded(whole, "at"))
    assert len(found) == (2 if held else 1)
    assert held or found[0][0] is whole
    assert list(unfolded({**whole, "entry": 5}, "at")) == [({**whole, "entry": 5}, "at")]
