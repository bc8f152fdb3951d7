"""What is to the letter what we write is read by its places: the same record and report as by the way for everybody."""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.strategies import records
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.fhir.bundles import collection
from woundfhir.intake.own import read_own, read_own_lines
from woundfhir.intake.resources import from_fhir, read_any
from woundfhir.intake.result import ReadResult
from woundfhir.intake.source import read_all
from woundfhir.maps import using
from woundfhir.r4 import jsonio
from woundfhir.record import History

Json = Any
STORIES = sorted((Path(__file__).parents[2] / "examples").glob("*/story.yaml"))
ALL = ("understood", "reworded", "kept", "conflict", "withdrawn", "not-understood", "negated", "bookkeeping")


def story(path: Path) -> list[Json]:
    (found,) = read_all([str(path)])
    return to_fhir(found.history)


def agree(came: list[Json]) -> bool:
    """Whether it is read as ours; where it is, the way for everybody says the same."""
    found = read_own(came)
    if found is None:
        return False
    other = read_any(copy.deepcopy(came))
    assert found.history.data == other.history.data
    assert list(found.history.data) == list(other.history.data)
    assert told(found) == told(other)
    return True


def named(raw: dict[str, Json]) -> History:
    """Return a record whose client has a number: only such have places that others cannot have."""
    number = {"system": "https://example.org/numbers", "value": "1"}
    return History.of({**raw, "patient": {**raw.get("patient", {}), "identifiers": [number]}})


def told(found: ReadResult) -> Json:
    report = found.report
    asked = report.asks, report.left_aside, report.items, report.lines(), report.lines("kept"), report.summary
    return asked, report.json(*ALL), [(one.label, one.came) for one in report.taken], report.envelopes


def places(value: Json, path: tuple[Json, ...] = ()) -> Iterator[tuple[Json, ...]]:
    """Yield the path of everything in it."""
    for key, item in value.items() if isinstance(value, dict) else enumerate(value):
        yield (*path, key)
        if isinstance(item, dict | list):
            yield from places(item, (*path, key))


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.parent.name)
def test_the_stories_are_read_as_ours(path: Path) -> None:
    assert agree(story(path))


@pytest.mark.property
@given(records())
def test_every_record_is_read_the_same_by_both_ways(raw: dict[str, Json]) -> None:
    agree(to_fhir(named(raw)))


@pytest.mark.property
@settings(suppress_health_check=[HealthCheck.large_base_example, HealthCheck.too_slow, HealthCheck.data_too_large])
@given(records(most_visits=1), st.data())
def test_what_was_changed_anywhere_is_read_the_same_by_both_ways(raw: dict[str, Json], data: st.DataObject) -> None:
    """A part taken out, put in another's stead, or changed; or the order of the resources."""
    came = to_fhir(named(raw))
    paths = list(places(came))
    *above, last = data.draw(st.sampled_from(paths))
    holder: Json = came
    for step in above:
        holder = holder[step]
    other: Json = came
    for step in data.draw(st.sampled_from(paths)):
        other = other[step]
    match data.draw(st.sampled_from(["out", "other", "text", "twice", "order"])):
        case "out":
            del holder[last]
        case "other":
            holder[last] = copy.deepcopy(other)
        case "text":
            holder[last] = data.draw(st.sampled_from(["entered-in-error", "x", 0, True, 1.5, None, [], {}]))
        case "twice":
            came.append(copy.deepcopy(came[0]))
        case "order":
            came.reverse()
    agree(came)


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.parent.name)
def test_collections_of_the_stories_are_read_as_ours(path: Path) -> None:
    (found,) = read_all([str(path)])
    assert agree([collection(found.history)])


@pytest.mark.property
@settings(suppress_health_check=[HealthCheck.large_base_example, HealthCheck.too_slow, HealthCheck.data_too_large])
@given(records(most_visits=1), st.data())
def test_a_collection_that_was_changed_anywhere_is_read_the_same_by_both_ways(
    raw: dict[str, Json], data: st.DataObject
) -> None:
    came: Json = copy.deepcopy(collection(named(raw)))
    agree([came])
    *above, last = data.draw(st.sampled_from(list(places(came))))
    holder: Json = came
    for step in above:
        holder = holder[step]
    match data.draw(st.sampled_from(["out", "text", "request", "reference", "view"])):
        case "out":
            del holder[last]
        case "text":
            holder[last] = data.draw(st.sampled_from(["entered-in-error", "x", 0, True, None, [], {}]))
        case "request":
            came["entry"][0]["request"] = {"method": "DELETE", "url": "Patient/1"}
        case "reference":
            came["entry"][-1]["fullUrl"] = "https://example.org/fhir/Observation/1"
        case "view":
            came["type"] = data.draw(st.sampled_from(["searchset", "batch", "document", "history"]))
    try:
        agree([came])
    except InputError:
        assert read_own([came]) is None


def test_a_collection_that_says_more_than_its_resources_is_not_read_as_ours() -> None:
    """R4, Bundle: its type, each entry and each address may say something that the resources do not."""
    (found,) = read_all([str(STORIES[0])])
    made: Json = collection(found.history)
    assert read_own([made]) is not None
    first, *rest = made["entry"]
    entries = [[{**first, "search": {"mode": "match"}}, *rest], [{**first, "fullUrl": "urn:uuid:1"}, *rest]]
    entries += [[*made["entry"], rest[-1]], [{"fullUrl": first["fullUrl"]}, *rest], []]
    named = jsonio.encode(made).replace(b'"reference":"urn:uuid:', b'"reference":"Observation/', 1)
    changes = [{"type": "batch"}, {"type": "searchset"}, {"total": 3}, *({"entry": one} for one in entries)]
    for changed in ([jsonio.decode(named)], *([{**made, **one}] for one in changes), [made, made], [made, first]):
        assert read_own(changed) is None


def test_what_is_of_the_client_at_a_visit_is_read_as_ours() -> None:
    """Several parts of one score, each a resource of its own, beside a wound."""
    parts = [{"part": "mobility", "points": "2"}, {"part": "moisture", "points": "3"}]
    entry = {"wound": "W1", "assessment": {"length": "4 cm"}}
    visit = {"id": "V1", "at": "2026-03-02", "status": "final", "client": {"risk_parts": parts}, "wounds": [entry]}
    assert agree(to_fhir(named({"woundfhir": 1, "wounds": [{"id": "W1"}], "visits": [visit]})))


def test_a_client_alone_is_read_as_ours() -> None:
    assert agree(to_fhir(named({"woundfhir": 1, "patient": {"born": "1948"}})))


def test_what_differs_in_one_element_or_its_order_is_not_read_as_ours() -> None:
    came = story(STORIES[0])
    index = next(n for n, one in enumerate(came) if "valueQuantity" in one)
    for changed in (
        [*(one for one in came if one is not came[index]), came[index]],
        came[1:],
        [*came, came[-1]],
        [*came, {"resourceType": "Basic", "code": {}}],
        [*came[:index], {**came[index], "status": "entered-in-error"}, *came[index + 1 :]],
        [*came[:index], {**came[index], "issued": "2026-03-09T10:00:00Z"}, *came[index + 1 :]],
        [{**came[0], "id": "p"}, *came[1:]],
        [dict(reversed(one.items())) for one in came],
    ):
        assert read_own(changed) is None


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.parent.name)
def test_lines_that_are_to_the_byte_ours_are_read_as_the_resources_in_them(path: Path) -> None:
    came = story(path)
    found = read_own_lines(jsonio.encode_lines(came))
    assert found is not None
    assert found.history.data == read_any(came).history.data
    assert told(found) == told(read_any(story(path)))


def in_another_order(came: list[Json], seed: int) -> list[Json]:
    """The same resources, each type in its order, and the types among each other in any."""
    kinds = [one["resourceType"] for one in came]
    waiting = {kind: iter([one for one in came if one["resourceType"] == kind]) for kind in kinds}
    random.Random(seed).shuffle(kinds)
    return [next(waiting[kind]) for kind in kinds]


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.parent.name)
def test_types_may_stand_in_any_order_among_each_other(path: Path, seed: int) -> None:
    agree(in_another_order(story(path), seed))


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.parent.name)
def test_an_export_by_type_is_read_as_ours(path: Path) -> None:
    came = sorted(story(path), key=lambda one: str(one["resourceType"]))
    assert agree(came)


@pytest.mark.parametrize("turned", [False, True])
def test_wounds_in_a_visit_stand_as_they_were_written_where_the_order_says_so(turned: bool) -> None:
    """Of types in another order nobody can tell how the nurse put them: then they stand as the wounds do."""
    entries = [{"wound": name, "assessment": {"length": "4 cm"}} for name in ("W2", "W1")]
    visit = {"id": "V1", "at": "2026-03-02", "status": "final", "wounds": entries}
    came = to_fhir(named({"woundfhir": 1, "wounds": [{"id": "W1"}, {"id": "W2"}], "visits": [visit]}))
    if turned:
        came.sort(key=lambda one: str(one["resourceType"]), reverse=True)
    assert agree(came) is not turned
    found = [one["wound"] for one in from_fhir(came).history.visits[0]["wounds"]]
    assert found == (["W1", "W2"] if turned else ["W2", "W1"])


@pytest.mark.property
@settings(suppress_health_check=[HealthCheck.large_base_example, HealthCheck.too_slow, HealthCheck.data_too_large])
@given(records(), st.integers(0, 1000))
def test_types_of_every_record_may_stand_in_any_order_among_each_other(raw: dict[str, Json], seed: int) -> None:
    agree(in_another_order(to_fhir(named(raw)), seed))


def test_lines_that_differ_in_one_byte_are_not_read_as_ours() -> None:
    content = jsonio.encode_lines(story(STORIES[0]))
    first, rest = content.split(b"\n", 1)
    for changed in (
        content.rstrip(b"\n"),
        content + b"\n",
        b"\xef\xbb\xbf" + content,
        first + b"\r\n" + rest,
        first.replace(b'"id":', b'"id":"x","id":', 1) + b"\n" + rest,
        first + b" \n" + rest,
        rest + first,
        content[: len(content) // 2],
        b"null\n" + content,
    ):
        assert read_own_lines(changed) is None


def test_a_site_with_maps_of_its_own_has_them_applied_to_ours_too(tmp_path: Path) -> None:
    path = tmp_path / "site.tsv"
    path.write_text(
        "subject_id\tpredicate_id\tobject_id\tmapping_source\n"
        "https://example.org/codes|x\tskos:exactMatch\tconcept:assessment.length\tinvented\n"
    )
    with using([path]):
        assert read_own(story(STORIES[0])) is None


def test_nothing_is_shared_with_the_caller_whose_data_may_be_of_any_kind() -> None:
    class Word(str):
        """A text of a program's own class."""

    class Sex(StrEnum):
        FEMALE = "female"

    came = story(STORIES[0])
    expected = from_fhir(copy.deepcopy(came))
    client = next(one for one in came if one["resourceType"] == "Patient")
    client["birthDate"] = Word(client["birthDate"])
    if client.get("gender") == "female":
        client["gender"] = Sex.FEMALE
    history, report = from_fhir(came)
    assert history.data == expected.history.data
    assert type(history.patient["born"]) is str
    assert type(history.patient["sex"]) is str
    before = report.json(*ALL)
    client["birthDate"] = datetime(1900, 1, 1, tzinfo=UTC)
    came.clear()
    assert history.data == expected.history.data
    assert from_fhir(to_fhir(history)).report.json(*ALL) == before
