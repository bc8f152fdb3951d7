"""Two people are never one record: inputs of strangers, through every verb."""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import Any

import pytest

from tests.intake.two_clients import RESOURCES, A, B, client, inputs, ref, sized, wound
from woundfhir import History, InputError, bundle, from_fhir, merge, read_many, receive, to_fhir
from woundfhir.cli import run
from woundfhir.intake.resources import from_fhir_many

INPUTS = inputs()
WRITTEN = ("record", "record-json", "csv", "fhir-json", "fhir-xml", "ndjson", "record-ndjson")


def holds(text: str) -> set[str]:
    return {marker for marker in (A, B) if marker in text}


@pytest.mark.parametrize("name", INPUTS)
def test_no_history_holds_what_is_of_both(name: str) -> None:
    try:
        found = list(read_many(INPUTS[name]))
    except InputError as error:
        assert not holds(str(error))
        return
    facts = [holds(json.dumps({**one.history.data, "extra": []})) for one in found]
    assert all(len(markers) < 2 for markers in facts)
    assert all(holds(one.history.json()) != {A, B} or not one.of_client for one in found)
    assert holds("".join(one.history.json() for one in found)) == {A, B}, "nothing is lost"


#: One number of one system names one client, and so their ids are the same; they are two histories all the same.
BY_NUMBER = "two Patients with one number"


@pytest.mark.parametrize("name", [name for name in INPUTS if not name.startswith(BY_NUMBER)])
def test_no_two_of_them_share_an_id(name: str) -> None:
    try:
        found = [one.history for one in read_many(INPUTS[name]) if one.of_client]
    except InputError:
        return
    ours = [{r["id"] for r in to_fhir(one) if r.get("id", "").count("-") == 4} for one in found]
    for one, other in itertools.combinations(ours, 2):
        assert not one & other


@pytest.mark.parametrize("name", [name for name in RESOURCES if not name.startswith(BY_NUMBER)])
def test_each_alone_they_share_no_id_and_are_not_merged(name: str) -> None:
    """What a stranger would do: one file for each."""
    found = [one.history for one in read_many(RESOURCES[name]) if one.of_client]
    for one, other in itertools.combinations(found, 2):
        with pytest.raises(InputError, match="these may be two clients"):
            merge(one, other)


@pytest.mark.parametrize("name", RESOURCES)
def test_from_fhir_refuses_both_together(name: str) -> None:
    with pytest.raises(InputError) as caught:
        from_fhir(RESOURCES[name])
    assert not holds(str(caught.value))


@pytest.mark.parametrize("name", RESOURCES)
def test_no_verb_makes_one_of_them(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "in.json"
    path.write_text(json.dumps(INPUTS[f"{name}: Bundle"]), "utf-8")
    for args in (["bundle", path], ["bundle", path, "--as", "collection"], ["receive", path], ["compare", path, path]):
        assert run([str(arg) for arg in args]) == 2, args
        out, err = capsys.readouterr()
        assert (out, holds(err)) == ("", set())
    for form in WRITTEN:
        code = run(["convert", str(path), "--to", form])
        out, _ = capsys.readouterr()
        if code < 2:
            assert form in ("csv", "ndjson", "record-ndjson")
            again = tmp_path / f"again.{form.removeprefix('record-')}"
            again.write_text(out, "utf-8")
            for one in read_many(again):
                assert holds(json.dumps({**one.history.data, "extra": []})) != {A, B}
    assert run(["trend", str(path), "--format", "json"]) in (0, 1, 2)
    out, _ = capsys.readouterr()
    rows = json.loads(out)["wounds"] if out else []
    assert all(len(holds(json.dumps(row))) < 2 for row in rows)


@pytest.mark.parametrize("patient", [{}, {"sex": "female"}, {"identifiers": [{"value": "7"}]}, {"name": {"text": "A"}}])
@pytest.mark.parametrize("kind", ["collection", "document"])  # a transaction of them is refused
def test_clients_of_whom_little_is_known_share_no_id(patient: Any, kind: Any) -> None:
    """Two of them, with the same wound and another length: no id of one is one of the other's."""
    made = []
    for size in (A, B):
        entry = {"wound": "W1", "assessment": {"length": f"{size} cm"}}
        visit = {"id": "V1", "at": "2026-03-02T10:05:00-05:00", "wounds": [entry]}
        raw = {"woundfhir": 1, "patient": patient, "wounds": [{"id": "W1"}], "visits": [visit]}
        made.append({e["resource"]["id"] for e in bundle(History.of(raw), kind)["entry"]})
    assert not made[0] & made[1]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("a|b", "c"), ("a", "b|c")),
        (("a|", "c"), ("a", "|c")),
        (("a", "1"), ("a", "1 ")),
        (('["a"', "b"), ("[", '"a"|b')),
        (("unidentified", "x"), ("unidentified|", "x")),
        (("urn:a", "B"), ("urn:a", "b")),
        (("urn:a", "1/2"), ("urn:a/1", "2")),
    ],
)
def test_no_two_pairs_of_system_and_value_meet(one: tuple[str, str], other: tuple[str, str]) -> None:
    made = [
        History.of({"woundfhir": 1, "patient": {"identifiers": [{"system": s, "value": v}]}, "wounds": [{"id": "W1"}]})
        for s, v in (one, other)
    ]
    if made[0].data == made[1].data:  # blanks at the end are no part of a number
        return
    first, second = ({r["id"] for r in to_fhir(history)} for history in made)
    assert not first & second


def _mixed(server: str, length: str, bare: bool) -> dict[str, Any]:
    """A Bundle that names its Patient by address and by Type/id; ``bare``: one entry has no address."""
    at = f"http://{server}.example.org/fhir"
    patient = {
        "resourceType": "Patient",
        "id": "1",
        "identifier": [{"system": f"urn:example:{server}", "value": server}],
    }
    wound = {
        "resourceType": "Condition",
        "id": "w",
        "code": {"text": "venous leg ulcer"},
        "clinicalStatus": {"coding": [{"system": ACTIVE, "code": "active"}]},
        "subject": {"reference": "Patient/1"},
    }
    size = {
        "resourceType": "Observation",
        "id": "o",
        "status": "final",
        "code": {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]},
        "subject": {"reference": f"{at}/Patient/1/_history/3"},
        "focus": [{"reference": "Condition/w"}],
        "effectiveDateTime": "2026-03-02",
        "valueQuantity": {"value": float(length), "unit": "cm"},
    }
    entries = [{"fullUrl": f"{at}/Patient/1", "resource": patient}, {"fullUrl": f"{at}/Condition/w", "resource": wound}]
    entries.append({"resource": size} if bare else {"fullUrl": f"{at}/Observation/o", "resource": size})
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


ACTIVE = "http://terminology.hl7.org/CodeSystem/condition-clinical"


@pytest.mark.parametrize("bare", [False, True])
def test_two_servers_with_one_id_are_two_clients_however_each_names_its_own(bare: bool) -> None:
    bundles = [_mixed("one", "3.1", bare), _mixed("two", "7.2", bare)]
    with pytest.raises(InputError, match="2 clients"):
        from_fhir(bundles)
    for server, one, length in zip(("one", "two"), bundles, ("3.1", "7.2"), strict=True):
        history, _ = from_fhir(one)
        assert history.patient["identifiers"] == [{"system": f"urn:example:{server}", "value": server}]
        assert [e["assessment"]["length"] for v in history.visits for e in v["wounds"]] == [f"{length} cm"]
        again, _ = from_fhir(to_fhir(history))
        assert again.json() == history.json()


@pytest.mark.parametrize("who", ["1", "#2"])
@pytest.mark.parametrize("name", [name for name, one in INPUTS.items() if isinstance(one, dict)])
def test_receive_takes_in_the_part_of_one(name: str, who: str) -> None:
    try:
        done = receive(json.dumps(INPUTS[name]).encode(), patient=who)
    except InputError as error:
        assert not holds(str(error)) and "does not say the same" not in str(error)
        return
    assert holds(done.came.json()) != {A, B}
    assert all(holds(content.decode()) != {A, B} for content in done.files.values())


@pytest.mark.parametrize("link", ["focus", "hasMember", "encounter", "partOf"])
def test_what_names_another_clients_wound_visit_or_finding_is_nobodys_fact(link: str) -> None:
    target = {
        "focus": wound("w", of=ref("Patient/a")),
        "hasMember": sized("w", "2.9", ref("Patient/a"), focus=[ref("Condition/z")]),
        "encounter": {"resourceType": "Encounter", "id": "w", "status": "finished", "subject": ref("Patient/a")},
        "partOf": {"resourceType": "Procedure", "id": "w", "status": "completed", "subject": ref("Patient/a")},
    }[link]
    named = ref(f"{target['resourceType']}/w")
    links = {"focus": [ref("Condition/zb")]} | {link: named if link == "encounter" else [named]}
    crossing = sized("x", "8.7", ref("Patient/b"), **links)
    mine = sized("b", B, ref("Patient/b"), focus=[ref("Condition/zb")])
    came = [client("a"), client("b"), target, mine, crossing]
    one, other, nobodys = from_fhir_many(came)
    visits = [visit for part in (one, other, nobodys) for visit in part.history.visits]
    assert "8.7" not in json.dumps(visits)
    assert B in json.dumps(visits)
    assert nobodys.losses.asks and "another client's" in "\n".join(nobodys.losses.lines())
    again, losses = from_fhir(to_fhir(nobodys.history))  # alone it must not become a fact of somebody
    assert again == nobodys.history and losses.asks


def test_a_number_that_two_clients_have_is_said_of_both() -> None:
    """One card and two chart numbers: they are not joined, and a person must know."""
    card = {"system": "urn:example:card", "value": "9"}
    named = [[{"system": "urn:example:chart", "value": chart}, card] for chart in ("C-1", "C-2")]
    came = [{"resourceType": "Patient", "id": str(n), "identifier": one} for n, one in enumerate(named)]
    found = from_fhir_many(came)
    assert len(found) == 2
    assert all("clients 1 and 2 have a number in common" in one.losses.notices[0] for one in found)
    assert all(one.losses.asks and "C-1" not in str(one.losses.notices) for one in found)
