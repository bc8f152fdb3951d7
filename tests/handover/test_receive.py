"""Receiving: every fact comes back; what cannot be taken in is refused with a clear answer, and nothing by half.

Rules of documents, references and narratives: HL7 FHIR R4 (4.0.1), pages bundle (bdl-7, bdl-9 to bdl-11), documents,
references, narrative (txt-1). The examples of another guide: HL7 skin and wound assessment guide, 2020. Provenance is
held against fhir.resources (R4B models, the same as R4 for this resource).
"""

from __future__ import annotations

import copy
import itertools
from collections.abc import Callable
from hashlib import sha256
from typing import Any

import pytest
from fhir.resources.R4B.provenance import Provenance
from hypothesis import assume, given, settings

from tests.paths import hl7_examples
from tests.strategies import records
from woundfhir.demo import story
from woundfhir.errors import InputError
from woundfhir.fhir import to_fhir
from woundfhir.handover import bundle
from woundfhir.handover.receive import receive
from woundfhir.handover.received import Received
from woundfhir.handover.select import gather
from woundfhir.intake.client_folder import RECORD
from woundfhir.r4 import jsonio, xmlio
from woundfhir.record import History
from woundfhir.record.files import read_yaml

AT = "2026-01-01T00:00:00Z"
Json = Any
XHTML = 'xmlns="http://www.w3.org/1999/xhtml"'


def example() -> History:
    return History.of(read_yaml(story().decode(), "story"))


def small() -> History:
    """A few answers of every part of the record: each kind of resource comes of it."""
    photo = {"file": "a.jpg", "title": "bed", "taken": "2026-03-02", "sha256": "0" * 64, "size": "10"}
    seen = {
        "wound": "W1",
        "assessment": {"length": "4.10 cm", "odour": "none"},
        "care": {"cleansing": {"solution": "normal saline"}, "primary_dressing": [{"dressing": "gauze"}]},
        "supplies": [{"item": "gauze", "quantity": "1"}],
        "plan": {"goal": "closure", "change_every": "2 d"},
        "photos": [photo],
    }
    visit = {"id": "V1", "at": "2026-03-02T10:05:00-05:00", "status": "final", "by": {"id": "rn", "organisation": "x"}}
    patient = {
        "identifiers": [{"system": "urn:example:clinic", "value": "C-0417"}],
        "allergies": [{"to": "tape"}],
        "conditions": ["diabetes"],
        "contact": {"name": "x"},
    }
    wound = {"id": "W1", "site": "heel", "side": "left", "place": "outer edge", "kind": "pressure injury"}
    later = {"id": "V2", "status": "amended", "replaces": "V1"}
    visits = [{**visit, "wounds": [seen]}, {**visit, **later, "wounds": [seen]}]
    return History.of({"woundfhir": 1, "patient": patient, "wounds": [wound], "visits": visits, "theirs": "kept"})


@pytest.fixture(scope="module")
def history() -> History:
    found = example()
    found.data["visits"] = found.data["visits"][:2]
    return found


@pytest.fixture(scope="module")
def document(history: History) -> dict[str, Json]:
    return jsonio.decode(jsonio.encode(bundle(history)))


def taken(made: Json, known: History | None = None, **more: Any) -> Received:
    return receive(jsonio.encode(made), known, name="came.json", **more)


# -- every fact comes back -------------------------------------------------------------------------


@settings(max_examples=40)
@given(records())
def test_a_document_gives_back_every_fact(raw: dict[str, Any]) -> None:
    sent = History.of(raw)
    done = taken(bundle(sent, at=AT))
    assert done.merged.history.json() == sent.json()
    assert done.losses == [] or sent.extra
    again = taken(bundle(sent, at=AT), done.merged.history)
    assert again.merged.history.json() == sent.json()
    assert again.files[RECORD] == done.files[RECORD]
    assert not again.merged.added
    assert not again.merged.conflicts


@settings(max_examples=20)
@given(records())
def test_the_kept_record_reads_as_the_one_that_was_sent(raw: dict[str, Any]) -> None:
    sent = History.of(raw)
    assume(to_fhir(sent))  # an empty record is no Bundle
    done = taken(bundle(sent, "collection", at=AT))
    assert History.of(read_yaml(done.files[RECORD].decode(), RECORD)).json() == sent.json()


def test_a_part_joins_the_whole_without_conflict() -> None:
    """One wound, sent for a consultation and sent back: nothing of the rest is lost or in conflict."""
    whole = example()
    done = taken(bundle(gather(whole, wounds=["W2"])), whole)
    assert done.merged.history.json() == whole.json()
    assert not done.merged.conflicts
    assert not done.merged.added
    back = taken(bundle(whole), gather(whole, wounds=["W2"]))
    assert {v["id"] for v in back.merged.history.visits} == {v["id"] for v in whole.visits}
    assert not back.merged.conflicts


def test_what_receive_reports(history: History, document: dict[str, Json]) -> None:
    done = taken(document)
    assert done.counts["Encounter"] == 2
    assert sum(done.counts.values()) == len(document["entry"])
    assert done.newest == max(v["at"] for v in history.visits)
    assert done.merged.added == ["the client", "W1", "W2", "visit V1", "visit V2"]
    assert done.signature.answer.value == "no signature"
    assert {one.rule for one in done.missing}  # the invented story has gaps on purpose


def test_xml_is_the_same_as_json(document: dict[str, Json]) -> None:
    done = receive(xmlio.encode(document), name="came.xml")
    assert done.merged.history.json() == taken(document).merged.history.json()
    assert [name.rsplit(".", 1)[1] for name in done.files] == ["xml", "json", "yaml"]


# -- what is kept ----------------------------------------------------------------------------------


def test_the_bytes_are_kept_and_the_provenance_names_them(document: dict[str, Json]) -> None:
    content = jsonio.encode(document)
    done = receive(content, name="came.json")
    digest = sha256(content).hexdigest()
    assert done.files[f"received/{digest}.json"] == content
    made = jsonio.decode(done.files[f"received/{digest}.provenance.json"])
    Provenance.model_validate(made)
    assert made["recorded"] == document["timestamp"]
    assert made["agent"][0]["type"]["coding"][0]["code"] == "assembler"
    assert made["entity"][0]["role"] == "source"
    assert made["entity"][0]["what"]["identifier"] == document["identifier"]
    written = {f"{r['resourceType']}/{r['id']}" for r in _collection(done.merged.history)}
    assert {one["reference"] for one in made["target"]} == written
    later = jsonio.decode(receive(content, at="2026-05-01T08:00:00-04:00").files[f"received/{digest}.provenance.json"])
    assert later["recorded"] == "2026-05-01T08:00:00-04:00"


def _collection(history: History) -> list[dict[str, Json]]:
    return [entry["resource"] for entry in bundle(history, "collection")["entry"]]


def test_the_provenance_names_only_what_is_new() -> None:
    whole = example()
    known = History({**whole.data, "visits": whole.visits[:-1]})
    done = taken(bundle(whole), known)
    (name,) = (name for name in done.files if name.endswith(".provenance.json"))
    targets = {one["reference"] for one in jsonio.decode(done.files[name])["target"]}
    old = {f"{r['resourceType']}/{r['id']}": r for r in _collection(known)}
    assert targets
    assert all(target not in old for target in targets)
    nothing_new = taken(bundle(whole), whole)
    assert not [name for name in nothing_new.files if name.endswith(".provenance.json")]


def test_no_clock_and_no_folder_in_the_files(document: dict[str, Json]) -> None:
    content = jsonio.encode(document)
    assert receive(content, name="a.json").files == receive(content, name="elsewhere/b.json").files


# -- what is refused -------------------------------------------------------------------------------


def _drop(document: Json) -> None:
    """The Patient is not there, everything points at it."""
    document["entry"] = [e for e in document["entry"] if e["resource"]["resourceType"] != "Patient"]


def _second(document: Json, kind: str) -> None:
    found = next(e for e in document["entry"] if e["resource"]["resourceType"] == kind)
    other = copy.deepcopy(found)
    other["fullUrl"] = "urn:uuid:00000000-0000-4000-8000-000000000001"
    other["resource"]["id"] = "00000000-0000-4000-8000-000000000001"
    document["entry"].append(other)


def _set(path: str, value: Json) -> Callable[[Json], None]:
    def change(document: Json) -> None:
        *keys, last = path.split(".")
        for key in keys:
            document = document[int(key)] if key.isdigit() else document[key]
        if value is None:
            del document[last]
        else:
            document[int(last) if last.isdigit() else last] = value

    return change


def _narrative(inner: str) -> Callable[[Json], None]:
    return _set("entry.1.resource.text", {"status": "additional", "div": f"<div {XHTML}>{inner}</div>"})


def _swap(document: Json) -> None:
    document["entry"][0], document["entry"][1] = document["entry"][1], document["entry"][0]


BROKEN: dict[str, tuple[Callable[[Json], None], str]] = {
    "no Bundle, but a resource": (_set("resourceType", "Basic"), "the reference leads nowhere"),
    "no entries": (_set("entry", []), "at least one entry"),
    "no type": (_set("type", None), "Bundle.type"),
    "an entry without resource": (_set("entry.3.resource", None), "Bundle.entry[3].resource"),
    "an entry that is none": (_set("entry.3", "x"), "Bundle.entry[3].resource"),
    "a missing entry": (_drop, "the reference leads nowhere"),
    "a dangling reference": (
        _set("entry.0.resource.subject.reference", "urn:uuid:00000000-0000-4000-8000-000000000009"),
        "Bundle.entry[0].resource.subject.reference",
    ),
    "a dangling relative reference": (_set("entry.0.resource.subject.reference", "Patient/9"), "leads nowhere"),
    "a dangling contained reference": (_set("entry.0.resource.subject.reference", "#nobody"), "leads nowhere"),
    "two Compositions": (lambda d: _second(d, "Composition"), "exactly one Composition"),
    "the Composition not first": (_swap, "bdl-11"),
    "two clients": (lambda d: _second(d, "Patient"), "clients 1 and 2 cannot be told apart"),
    "a full URL twice": (lambda d: d["entry"].append(copy.deepcopy(d["entry"][-1])), "bdl-7"),
    "no identifier": (_set("identifier", None), "bdl-9"),
    "no time": (_set("timestamp", None), "bdl-10"),
    "a time without offset": (_set("timestamp", "2026-03-02T10:00:00"), "bdl-10"),
    "a Bundle in the Bundle": (_set("entry.3.resource", {"resourceType": "Bundle"}), "not a Bundle inside"),
    "a script": (_narrative("<script>alert(1)</script>"), "an element script"),
    "a script in another case": (_narrative("<SCRIPT>alert(1)</SCRIPT>"), "an element script"),
    "a script of another namespace": (_narrative('<s:x xmlns:s="http://www.w3.org/2000/svg"/>'), "another language"),
    "an event": (_narrative('<p onclick="alert(1)">x</p>'), "starts with 'on'"),
    "a javascript link": (_narrative('<a href="javascript:alert(1)">x</a>'), "links that run code"),
    "a hidden javascript link": (_narrative('<a href=" jAva&#9;script:alert(1)">x</a>'), "links that run code"),
    "a page as data": (_narrative('<a href="data:text/html,x">x</a>'), "links that run code"),
    "a frame": (_narrative('<iframe src="http://example.org"/>'), "an element iframe"),
    "a form": (_narrative("<form/>"), "an element form"),
    "a style that loads": (_narrative('<p style="background:url(http://example.org)">x</p>'), "style"),
    "half a narrative": (_narrative("<p>"), "well-formed XHTML"),
    "a javascript link outside the narrative": (
        _set("entry.1.resource.photo", [{"url": "javascript:alert(1)"}]),
        "would run code",
    ),
}


@pytest.mark.parametrize("name", sorted(BROKEN))
def test_what_cannot_be_taken_in_is_refused(name: str, document: dict[str, Json]) -> None:
    change, said = BROKEN[name]
    made = copy.deepcopy(document)
    change(made)
    with pytest.raises(InputError) as caught:
        taken(made)
    message = str(caught.value)
    assert said in message
    assert message.startswith("came.json")
    for value in ("Example-Rowan", "C-0417", "1948", "alert(1)", "example.org"):
        assert value not in message


def test_harmless_html_is_no_reason_to_refuse(document: dict[str, Json]) -> None:
    made = copy.deepcopy(document)
    _narrative('<p><u>4.10 cm</u> <a href="#there">x</a></p>')(made)
    done = taken(made)
    assert any("txt-1" in one.expected for one in done.notices)


def test_elements_with_the_wrong_kind_of_value_are_answered() -> None:
    """Any element of each kind of resource turned into another kind of value: told or refused, no error of ours."""
    document = jsonio.decode(jsonio.encode(bundle(small())))
    kinds = [entry["resource"]["resourceType"] for entry in document["entry"]]
    wrong = itertools.cycle(["x", [1], {"y": 1}, None, [["x"]]])
    assert len(set(kinds)) > 14
    for kind in dict.fromkeys(kinds):
        number = kinds.index(kind)
        for key in document["entry"][number]["resource"]:
            made, value = copy.deepcopy(document), next(wrong)
            made["entry"][number]["resource"][key] = value
            try:
                done = taken(made)
            except InputError as error:
                assert "C-0417" not in str(error)
            else:
                assert done.notices or isinstance(value, str), (kind, key)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.999])
def test_half_a_file_is_refused(share: float, document: dict[str, Json]) -> None:
    content = jsonio.encode(document)
    with pytest.raises(InputError) as caught:
        receive(content[: int(len(content) * share)], name="came.json")
    assert "came.json" in str(caught.value)
    assert "Example-Rowan" not in str(caught.value)


@pytest.mark.parametrize("content", [b"", b"GIF89a", b"woundfhir: 1\n", b"[]", b"null", b'{"a": 1}'])
def test_other_files_are_refused(content: bytes) -> None:
    with pytest.raises(InputError):
        receive(content, name="came.json")


def test_another_client_is_refused(document: dict[str, Json], history: History) -> None:
    other = History.of({**history.data, "patient": {**history.patient, "identifiers": [{"system": "x", "value": "y"}]}})
    with pytest.raises(InputError, match="never joined"):
        taken(document, other)


# -- another guide ---------------------------------------------------------------------------------


def test_the_examples_of_another_guide_are_answered() -> None:
    """They name a dozen things that are not among them; what comes is kept, and what leads nowhere is reported."""
    files = hl7_examples()
    found = [xmlio.decode(file.read_bytes()) for file in files]
    entries = [{"fullUrl": f"http://example.org/fhir/{r['resourceType']}/{r['id']}", "resource": r} for r in found]
    done = taken({"resourceType": "Bundle", "type": "collection", "entry": entries})
    assert sum(done.counts.values()) == len(files)
    back = jsonio.encode(_collection(done.merged.history)).decode()
    assert [r["id"] for r in found if f'"{r["id"]}' not in back and f'\\"{r["id"]}' not in back] == []
    again = taken({"resourceType": "Bundle", "type": "collection", "entry": entries}, done.merged.history)
    assert again.merged.history.json() == done.merged.history.json()
