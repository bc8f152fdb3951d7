"""Dialects: what others read better, the same record again, and nothing that the record does not say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings

import woundfhir
from tests.paths import HL7_EXAMPLES, ROOT, hl7_examples
from tests.strategies import records
from woundfhir.fhir import to_fhir
from woundfhir.fhir.dialects.names import NAMES, SHOWN
from woundfhir.fhir.references import rename
from woundfhir.handover import bundle
from woundfhir.intake.resources import from_fhir
from woundfhir.r4 import jsonio, xmlio
from woundfhir.record import History

Json = Any
STORIES = [ROOT / "woundfhir" / "demo" / "story.yaml", *sorted((ROOT / "examples").glob("*/story.yaml"))]
KINDS = ("document", "transaction", "collection")


def again(resources: Json) -> Json:
    """Resources as they come from a file."""
    return jsonio.decode_checked(jsonio.encode(resources)) if isinstance(resources, dict) else [*map(again, resources)]


def story(path: Path = STORIES[0]) -> History:
    return woundfhir.read(path).history


def by_place(resources: list[Json]) -> dict[str, Json]:
    return {one["identifier"][0]["value"]: one for one in resources if isinstance(one.get("identifier"), list)}


# -- the law ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "kind"),
    # Every story as a document; the kinds differ in what stands around the resources, so one story shows the others.
    [*((path, KINDS[0]) for path in STORIES), *((STORIES[-1], kind) for kind in KINDS[1:])],
    ids=lambda one: one if isinstance(one, str) else one.parent.name,
)
@pytest.mark.parametrize("name", NAMES)
def test_each_story_reads_again_the_same(name: Any, kind: Any, path: Path) -> None:
    history = story(path)
    made = bundle(history, kind, dialect=name)
    came, losses = from_fhir(again(made))
    assert came.data == history.data
    assert not losses.items
    assert bundle(came, kind, dialect=name) == made


@pytest.mark.property
@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=60, deadline=None)
@given(raw=records())
def test_a_record_comes_back_from_a_dialect_as_it_went_in(name: Any, raw: dict[str, Any]) -> None:
    history = History.of(raw)
    if to_fhir(history):
        assert from_fhir(again(to_fhir(history, dialect=name))).history.data == history.data


@pytest.mark.parametrize("name", NAMES)
def test_what_a_server_stamps_is_no_loss(name: Any) -> None:
    """A server gives ids and versions of its own; what a dialect adds is still nothing that has no place."""
    history = story(STORIES[-1])
    came = again(to_fhir(history, dialect=name))
    names = {f"{one['resourceType']}/{one['id']}": f"{one['resourceType']}/{n}" for n, one in enumerate(came)}
    stamped = [
        {**rename(one, names), "id": str(n), "meta": {**one["meta"], "versionId": "2"}} for n, one in enumerate(came)
    ]
    read, losses = from_fhir(stamped)
    assert {key: value for key, value in read.data.items() if key != "extra"} == history.data
    assert {item["from"] for item in read.extra} == {"server"}
    assert not losses.items


@pytest.mark.parametrize("name", NAMES)
def test_what_came_from_others_goes_out_as_it_came(name: Any) -> None:
    found = hl7_examples()
    history, _ = from_fhir([xmlio.decode(path.read_bytes()) for path in found])
    out = to_fhir(history, dialect=name)
    for path in found:
        assert xmlio.decode(path.read_bytes()) in out
    assert from_fhir(again(out)).history.data == history.data


def test_nobody_else_reads_a_wound_or_an_illness_into_what_stands_beside_ours() -> None:
    """Without our marks, as another system sees it: no wound more, and no illness."""
    history = story()
    out = [
        {
            key: value
            for key, value in one.items()
            if key not in ("identifier", "meta") or one["resourceType"] == "Patient"
        }
        for one in again(to_fhir(history, dialect="skin-wound"))
    ]
    came, _ = from_fhir(out)
    assert len(came.wounds) == len(history.wounds)
    assert sorted(map(str, came.patient["conditions"])) == sorted(map(str, history.patient["conditions"]))


# -- what each writes -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_published_codes_stand_first_and_the_area_has_its_method(name: Any) -> None:
    out = to_fhir(story(), dialect=name)
    own = "https://w3id.org/woundfhir"

    def codings(value: Json) -> Any:
        if isinstance(value, dict):
            if isinstance(value.get("coding"), list):
                yield [one["system"].startswith(own) for one in value["coding"]]
            for item in value.values():
                yield from codings(item)
        elif isinstance(value, list):
            for item in value:
                yield from codings(item)

    assert all(found == sorted(found) for found in codings(out))
    size = by_place(out)["V1/W1/size"]
    codes = [part["code"]["coding"][0]["code"] for part in size["component"]]
    assert codes[:3] == ["39126-8", "39125-0", "39127-6"]  # LOINC (HL7/fhir-skin-wound-ig, WoundSize)
    (area,) = [part for part in size["component"] if part["code"]["coding"][0]["code"] == "89260-4"]
    assert (str(area["valueQuantity"]["value"]), area["valueQuantity"]["code"]) == ("20.80", "cm2")  # 5.2 x 4.0
    (method,) = area["extension"]
    assert method["valueCodeableConcept"]["coding"][0]["display"] == "Area, length times width"


def test_an_area_that_was_measured_is_the_only_one() -> None:
    raw = story().data
    raw["visits"][0]["wounds"][0]["assessment"]["area"] = "17 cm2"
    size = by_place(to_fhir(History.of(raw), dialect="components"))["V1/W1/size"]
    areas = [part for part in size["component"] if part["code"]["coding"][0]["code"] == "89260-4"]
    assert [str(part["valueQuantity"]["value"]) for part in areas] == ["17"]
    assert "extension" not in areas[0]


@pytest.mark.parametrize("text", ["<1 cm", "0 cm", "about 2 cm", "4"])
def test_no_area_of_a_side_that_has_no_certain_length(text: str) -> None:
    raw = story().data
    raw["visits"][0]["wounds"][0]["assessment"]["length"] = text
    size = by_place(to_fhir(History.of(raw), dialect="us-core"))["V1/W1/size"]
    assert "89260-4" not in [part["code"]["coding"][0]["code"] for part in size["component"]]


@pytest.mark.parametrize(
    ("words", "family", "given"),
    [
        ("Ada Okafor", "Okafor", ["Ada"]),
        ("Okafor, Ada B.", "Okafor", ["Ada", "B."]),
        ("Okafor, RN", None, None),
        ("Nurse One (invented)", None, None),
        ("Anna van der Berg", None, None),
    ],
)
@pytest.mark.parametrize("name", ["us-core", "ca-baseline"])
def test_a_name_is_parted_where_its_parts_are_certain(name: Any, words: str, family: Any, given: Any) -> None:
    raw = {"woundfhir": 1, "patient": {}, "visits": [{"id": "V1", "at": "2026-03-02", "by": {"name": words}}]}
    history = History.of(raw)
    (made,) = [one for one in to_fhir(history, dialect=name) if one["resourceType"] == "Practitioner"]
    assert (made["name"][0].get("family"), made["name"][0].get("given")) == (family, given)
    assert made["name"][0]["text"] == words
    assert from_fhir(again(to_fhir(history, dialect=name))).history.data == history.data


def test_the_guide_of_hl7_groups_the_bed_and_the_edge_and_names_each_finding() -> None:
    """The nesting and the codes of the guide's examples (HL7/fhir-skin-wound-ig, 2020-06-30)."""
    example = {path.stem: xmlio.decode(path.read_bytes()) for path in HL7_EXAMPLES.glob("*-example.xml")}
    out = to_fhir(story(), dialect="skin-wound")
    made, names = by_place(out), {f"{one['resourceType']}/{one['id']}": one for one in out}
    panel = made["V1/W2/assessment"]
    inner = [names[one["reference"]] for one in panel["hasMember"]]
    for stem in ("bed", "edge"):
        theirs = example[f"Observation-skinwound{stem}-example"]
        (ours,) = [one for one in inner if one["code"]["coding"] == theirs["code"]["coding"]]
        assert ours["meta"]["profile"] == theirs["meta"]["profile"]
        assert {names[one["reference"]]["code"]["coding"][0]["code"] for one in ours["hasMember"]} <= {
            "72371-8", "39132-6", "72304-9", "39133-4", "89257-0",
        }  # fmt: skip
    base = "http://hl7.org/fhir/us/lower-extremity-skin-wound-assessment/StructureDefinition/"
    for stem, word in (("tunneling", "Tunneling"), ("undermining", "Undermining")):
        theirs = example[f"Condition-skinwound{stem}assert-example"]
        (link,) = [one for one in panel["extension"] if one["url"] == f"{base}Wound{word}AssertExt"]
        ours = names[link["valueReference"]["reference"]]
        assert ours["meta"]["profile"] == theirs["meta"]["profile"]
        assert ours["code"]["coding"][0]["code"] == theirs["code"]["coding"][0]["code"]
        assert {one["url"] for one in ours["extension"]} == {one["url"] for one in theirs["extension"]}
        for one in ours["extension"]:
            of = next(that for that in theirs["extension"] if that["url"] == one["url"])
            their_part = example[of["valueReference"]["reference"].replace("/", "-")]
            part = names[one["valueReference"]["reference"]]
            assert part["code"]["coding"] == their_part["code"]["coding"]
            assert {key for key in part if key.startswith("value")} == {k for k in their_part if k.startswith("value")}
    wound = made["W2"]
    urls = {one["url"].removeprefix(base) for one in wound["extension"]}
    assert urls >= {"WoundRelatedObservationsPanelExt", "BodyLocationExt", "WoundTypeEtiologyExt"}
    (body,) = [one for one in wound["extension"] if one["url"] == f"{base}BodyLocationExt"]
    theirs = example["Condition-skinwoundassert-example"]
    (their_body,) = [one for one in theirs["extension"] if one["url"] == f"{base}BodyLocationExt"]
    assert {one["url"] for one in body["extension"]} <= {one["url"] for one in their_body["extension"]}


def test_components_leave_only_what_no_component_holds_as_members() -> None:
    out = to_fhir(story(), dialect="components")
    panel = by_place(out)["V1/W2/assessment"]
    held = {part["code"]["coding"][0]["code"] for part in panel["component"]}
    assert {"39116-9", "72288-4"} <= held  # amount and odour of the exudate (LOINC, HL7/fhir-skin-wound-ig)
    left = {one["reference"].partition("/")[2] for one in panel["hasMember"]}
    kinds = {one["identifier"][0]["value"].split("/")[2] for one in out if one["id"] in left}
    assert kinds == {"size", "tissue", "undermining", "tunnels"}


def test_a_note_that_was_entered_in_error_finds_nothing() -> None:
    raw = story().data
    raw["visits"][0]["status"] = "entered in error"
    places = [
        one["identifier"][0]["value"]
        for one in to_fhir(History.of(raw), dialect="skin-wound")
        if isinstance(one.get("identifier"), list)
    ]
    assert not [one for one in places if one.startswith(f"V1/W2/{SHOWN}tunnel")]


def test_a_group_that_somebody_withdrew_is_reported_and_stays_withdrawn() -> None:
    """R4, Observation.status: entered-in-error is no fact, and a group is shown beside what it groups."""
    history = woundfhir.read(ROOT / "woundfhir" / "demo" / "story.yaml").history
    came = to_fhir(history, dialect="skin-wound")
    group = next(one for one in came if SHOWN in str(one.get("identifier")) and "hasMember" in one)
    group["status"] = "entered-in-error"
    found, report = from_fhir(came)
    assert report.counts["withdrawn"] and {**found.data, "extra": None} == {**history.data, "extra": None}
    for dialect in (None, "skin-wound"):
        again, once_more = from_fhir(to_fhir(found, dialect=dialect))
        assert again == found and once_more.counts["withdrawn"] == report.counts["withdrawn"]


@pytest.mark.parametrize("word", ["shown-1", "computed-1"])
def test_a_wound_may_be_named_as_a_view_is(word: str) -> None:
    entry = {"wound": word, "assessment": {"length": "2 cm"}}
    raw = {
        "woundfhir": 1,
        "patient": {"identifiers": [{"system": "urn:example:c", "value": "1"}]},
        "wounds": [{"id": word, "kind": "skin tear"}],
        "visits": [{"id": "V1", "at": "2026-03-02", "wounds": [entry]}, {"id": word, "at": "2026-03-03"}],
    }
    history = History.of(raw)
    assert from_fhir(again(bundle(history, "collection", profiles=False))).history.data == history.data
    assert from_fhir(again(bundle(history, "collection", dialect="skin-wound"))).history.data == history.data


def test_an_unknown_dialect_is_refused() -> None:
    with pytest.raises(woundfhir.InputError, match="expected one of 'us-core'"):
        woundfhir.to_fhir(story(), dialect="x")  # type: ignore[arg-type]
