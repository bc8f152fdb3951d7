"""Bundles by the rules of FHIR R4: documents (hl7.org/fhir/R4/documents.html), transactions (http.html#transaction)."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import msgspec
import pytest
from hypothesis import given

from tests.strategies import records
from woundfhir.catalogue import BASE
from woundfhir.cli import run
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.handover import bundle, bundling
from woundfhir.handover.receive import receive
from woundfhir.handover.select import gather
from woundfhir.intake.resources import from_fhir
from woundfhir.intake.source import parse
from woundfhir.record import History

Json = Any
AT = "2026-01-01T00:00:00Z"
decode = msgspec.json.Decoder(float_hook=Decimal).decode
encode = msgspec.json.Encoder(decimal_format="number").encode

NOTE = {"resourceType": "Observation", "id": "0a0a0a0a-0000-5000-8000-000000000000"}


@pytest.fixture(scope="module")
def history() -> History:
    return parse(story(), "story").history


def references(value: Json) -> set[str]:
    if isinstance(value, dict):
        own = {value["reference"]} if isinstance(value.get("reference"), str) else set()
        return own.union(*(references(item) for item in value.values()))
    if isinstance(value, list):
        return set().union(*(references(item) for item in value))
    return set()


def reachable(document: Json) -> set[str]:
    by_url = {e["fullUrl"]: e["resource"] for e in document["entry"]}
    todo, seen = [document["entry"][0]["fullUrl"]], set()
    while todo:
        url = todo.pop()
        if url in seen:
            continue
        seen.add(url)
        todo += [ref for ref in references(by_url[url]) if ref in by_url]
    provenance = {u for u, r in by_url.items() if r["resourceType"] == "Provenance" and references(r["target"]) & seen}
    return seen | provenance


def check_document(document: Json) -> None:
    """R4 documents and the invariants bdl-3, bdl-7, bdl-8, bdl-9, bdl-10, bdl-11, cmp-1, cmp-2."""
    assert document["type"] == "document"
    assert document["identifier"]["system"] and document["identifier"]["value"]
    assert document["timestamp"]
    first = document["entry"][0]["resource"]
    assert first["resourceType"] == "Composition"
    assert sum(e["resource"]["resourceType"] == "Composition" for e in document["entry"]) == 1
    urls = [e["fullUrl"] for e in document["entry"]]
    assert len(urls) == len(set(urls)) and all(url.startswith("urn:uuid:") for url in urls)
    assert not any("request" in e for e in document["entry"])
    assert {ref for ref in references(document) if ref.startswith("urn:uuid:")} <= set(urls)
    assert reachable(document) == set(urls)
    for section in first["section"]:
        assert "text" in section or "entry" in section
        # What is charted about a visit without an Encounter has words and no entry of its own.
        assert ("emptyReason" in section) == ("entry" not in section) or section["title"] == "Also charted"


def test_the_document_of_the_story_keeps_every_rule(history: History) -> None:
    check_document(bundle(history, "document"))


@given(records())
def test_the_document_of_any_record_keeps_every_rule_and_gives_the_record_back(raw: dict[str, Any]) -> None:
    made = History.of(raw)
    document = decode(encode(bundle(made, "document", at=AT)))
    check_document(document)
    back, losses = from_fhir([document])
    assert back.data == made.data
    assert {one.kind for one in losses.items} <= ({"kept"} if made.extra else set())  # what the record itself carries


@given(records())
def test_references_of_a_bundle_from_the_start_are_those_that_are_renamed(raw: dict[str, Any]) -> None:
    history = History.of(raw)
    made = bundle(history, at="2026-03-09T10:00:00Z")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bundling, "_linked", lambda _: None)
        assert bundle(history, at="2026-03-09T10:00:00Z") == made


def test_a_reference_to_what_is_not_written_stays_type_and_id(history: History, monkeypatch: Any) -> None:
    monkeypatch.setattr(
        bundling, "computed", lambda _, out: [{**NOTE, "derivedFrom": [out.ref("Observation", "none")]}]
    )
    made = bundle(history)
    kept = next(e["resource"] for e in made["entry"] if e["resource"]["id"] == NOTE["id"])
    assert kept["derivedFrom"][0]["reference"].startswith("Observation/")
    assert {e["resource"]["subject"]["reference"][:9] for e in made["entry"] if "subject" in e["resource"]} == {
        "urn:uuid:"
    }


def test_the_sections_stand_in_reading_order(history: History) -> None:
    titles = [s["title"] for s in bundle(history, "document")["entry"][0]["resource"]["section"]]
    assert titles == [
        "What to do next",
        "Allergies and reactions",
        "Wounds and health conditions",
        "Course and measurements",
        "Dressing changes, what worked and what did not",
        "Packing in place",
        "Compression and limb pressures",
        "Supplies used and left",
        "Plan and goals",
        "Pain",
        "Support surfaces and offloading",
        "Who to call",
        "Also charted",
    ]


def test_a_transaction_claims_no_profile_of_ours(history: History) -> None:
    made = bundle(history, "transaction")
    named = [made, *(entry["resource"] for entry in made["entry"])]
    assert all("profile" not in one.get("meta", {}) for one in named)
    collected = bundle(history, "collection")
    assert all(entry["resource"]["meta"]["profile"] for entry in collected["entry"])


def test_a_transaction_names_each_thing_by_its_key(history: History) -> None:
    """R4 http: conditional update and create; fullUrl urn:uuid; references between them by fullUrl."""
    made = bundle(history, "transaction")
    assert made["type"] == "transaction" and "identifier" not in made
    urls = {e["fullUrl"] for e in made["entry"]}
    asked = []
    for entry in made["entry"]:
        kind, request = entry["resource"]["resourceType"], entry["request"]
        if kind in ("Patient", "Organization", "Practitioner"):  # never over what a hospital has
            assert (request["method"], request["url"]) == ("POST", kind)
            assert request["ifNoneExist"].startswith("identifier=") and "?" not in request["ifNoneExist"]
        else:
            assert request["method"] == "PUT" and request["url"].startswith(f"{kind}?identifier=")
            assert "ifNoneExist" not in request
            assert "id" not in entry["resource"]  # R4 http: it would have to be that of the match
        asked.append((request["url"], request.get("ifNoneExist")))
    assert len(asked) == len(set(asked))
    assert references(made) <= urls
    created = bundle(history, "transaction", policy="create")
    assert {entry["request"]["method"] for entry in created["entry"]} == {"POST"}


def test_a_collection_holds_no_composition_and_no_request(history: History) -> None:
    made = bundle(history, "collection")
    assert made["type"] == "collection"
    assert not any("request" in e or e["resource"]["resourceType"] == "Composition" for e in made["entry"])


def test_one_wound_takes_no_note_of_the_other_along(history: History) -> None:
    """Minimum necessary: the other wound's id and words are nowhere in the bundle."""
    content = encode(bundle(gather(history, wounds=["W1"]), "document"))
    assert b"sacrum" not in content and b"W2" not in content and b"venous leg ulcer" in content


def test_since_and_newest_choose_visits(history: History) -> None:
    assert [v["id"] for v in gather(history, since="2026-03-23").visits] == ["V6", "V7", "V8"]
    assert [v["id"] for v in gather(history, newest=2).visits] == ["V7", "V8"]
    assert [v["id"] for v in gather(history, wounds=["W1"], newest=1).visits] == ["V8"]


def test_the_newest_note_is_the_newest_instant_and_not_the_latest_clock() -> None:
    """23:30 on 2 March at UTC-5 is 04:30 UTC on 3 March: four hours after the other note."""
    visits = [
        {"id": "evening", "at": "2026-03-02T23:30:00-05:00", "status": "final"},
        {"id": "midnight", "at": "2026-03-03T00:30:00Z", "status": "final"},
    ]
    for order in (visits, visits[::-1]):
        chosen = gather(History.of({"woundfhir": 1, "patient": {}, "visits": order}), newest=1)
        assert [visit["id"] for visit in chosen.visits] == ["evening"]


def test_a_document_needs_a_time_and_says_how_to_give_one() -> None:
    with pytest.raises(InputError, match="--at"):
        bundle(History.of({"woundfhir": 1, "patient": {}}), "document")


def test_a_new_version_is_a_new_document_that_names_the_old(history: History) -> None:
    old = bundle(history, "document")
    new = bundle(history, "document", replaces=old["identifier"]["value"])
    assert new["identifier"] != old["identifier"]
    assert new["entry"][0]["resource"]["relatesTo"][0] == {"code": "replaces", "targetIdentifier": old["identifier"]}


def test_a_bundle_with_gaps_is_made_and_says_what_is_missing() -> None:
    made = bundle(History.of({"woundfhir": 1, "patient": {}, "wounds": [{"id": "W1"}]}), "document", at=AT)
    sections = {s["title"]: s for s in made["entry"][0]["resource"]["section"]}
    assert "This history does not say" in sections["What to do next"]["text"]["div"]
    assert sections["Allergies and reactions"]["emptyReason"]["coding"][0]["code"] == "unavailable"


def test_an_amended_note_names_what_it_replaces_and_the_old_one_travels() -> None:
    visits = [
        {"id": "V1", "at": "2026-03-02T10:00:00-05:00", "status": "final"},
        {
            "id": "V1a",
            "at": "2026-03-02T10:00:00-05:00",
            "written": "2026-03-03T08:00:00-05:00",
            "status": "amended",
            "replaces": "V1",
            "replaces_reason": "length read wrong",
        },
    ]
    made = bundle(History.of({"woundfhir": 1, "patient": {}, "visits": visits}), "document")
    check_document(made)
    found = [e["resource"] for e in made["entry"] if e["resource"]["resourceType"] == "Provenance"]
    (provenance,) = [one for one in found if "contained" not in one]  # the other one names the software
    assert provenance["entity"][0]["role"] == "revision" and [one["text"] for one in provenance["reason"]] == [
        "length read wrong"
    ]


@pytest.mark.parametrize("kind", ["document", "ips", "collection", "transaction"])
def test_a_bundle_that_claims_no_profile_of_ours_reads_again_the_same(kind: Any) -> None:
    made = parse(story(), "story").history
    plain = decode(encode(bundle(made, kind, at=AT, profiles=False)))
    claims = [entry["resource"].get("meta", {}).get("profile", ()) for entry in plain["entry"]]
    assert not any(str(name).startswith(BASE) for names in claims for name in names)
    assert "profile" not in plain.get("meta", {})
    back, losses = from_fhir([plain])
    assert back.data == made.data
    assert losses.items == ()
    again = receive(encode(plain))
    assert again.came.data == made.data


def test_parts_of_a_transaction_are_files_in_their_order(history: History, tmp_path: Any, capsys: Any) -> None:
    """A reference leads into its own part, or by a condition to an earlier one (R4, http, conditional references)."""
    source = tmp_path / "record.yaml"
    source.write_bytes(story())
    asked = ["bundle", str(source), "--as", "transaction", "--chunk", "30"]
    assert run([*asked, "-o", str(tmp_path / "h.json")]) == 0
    names = sorted(path.name for path in tmp_path.glob("h-*.json"))
    assert len(names) > 2 and f"in {len(names)} parts" in capsys.readouterr().err
    seen: set[str] = set()
    for name in names:
        part = decode((tmp_path / name).read_bytes())
        assert part["type"] == "transaction" and part["id"]
        here = {one["fullUrl"] for one in part["entry"]}
        for literal in references([one["resource"] for one in part["entry"]]):
            assert literal in here or ("?identifier=" in literal and literal in seen)
        for one in part["entry"]:
            sent = one["request"]
            seen.add(f"{sent['url']}?{sent['ifNoneExist']}" if "ifNoneExist" in sent else sent["url"])
    whole = bundle(history, "transaction")["entry"]
    assert len(seen) == len(whole)
    wrong = (["bundle", str(source), "--chunk", "30", "-o", str(tmp_path / "x.json")], asked)
    assert [run(one) for one in wrong] == [2, 2] and not (tmp_path / "x.json").exists()
    err = capsys.readouterr().err
    assert "expected --as transaction" in err and "expected a name for the files" in err
    before = {path.name: path.read_bytes() for path in tmp_path.glob("h-*.json")}
    (tmp_path / "h-2026.json").write_bytes(b"{}")
    assert run([*asked[:-1], "1000", "-o", str(tmp_path / "h.json"), "--force"]) == 2
    assert "parts of an earlier run" in capsys.readouterr().err
    assert {name: (tmp_path / name).read_bytes() for name in before} == before
    for name in before:
        (tmp_path / name).unlink()
    assert run([*asked[:-1], "1000", "-o", str(tmp_path / "h.json")]) == 0
