"""Laws of the way in, over inputs of others: nobody joined, nothing invented, nothing untrue, nothing lost."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import msgspec
import pytest

from tests.intake.foreign.changing import altered, put
from tests.intake.foreign.for_server import for_server
from tests.intake.foreign.inputs import READ, REFUSED, P
from woundfhir.errors import InputError
from woundfhir.fhir import Losses, to_fhir
from woundfhir.fhir.fates import FATES
from woundfhir.fhir.leaves import leaves, total, words
from woundfhir.handover import bundle
from woundfhir.intake.resources import from_fhir
from woundfhir.record import History

Json = Any
encode = msgspec.json.Encoder(decimal_format="number").encode
decode = msgspec.json.Decoder(float_hook=Decimal).decode
NAMES = sorted(READ)


def said(history: History) -> dict[str, Json]:
    return {key: value for key, value in history.data.items() if key != "extra"}


def bodies(value: Json, path: tuple[Json, ...] = ()) -> Iterator[tuple[tuple[Json, ...], Json]]:
    for index, one in enumerate(value):
        if one["resourceType"] == "Bundle":
            for place, entry in enumerate(one["entry"]):
                if "resource" in entry:
                    yield (index, "entry", place, "resource"), entry["resource"]
        else:
            yield (index,), one


@pytest.mark.parametrize("name", NAMES)
def test_wounds_and_findings_are_those_that_are_there(name: str) -> None:
    came, wounds, findings = READ[name]
    history, _ = from_fhir(came)
    assert len(history.wounds) == wounds
    entries = [entry for visit in history.visits for entry in visit.get("wounds", ())]
    assert sum(len(entry.get("assessment", {})) for entry in entries) == findings


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_two_clients_and_answers_of_servers_are_refused_by_name(name: str) -> None:
    came, words = REFUSED[name]
    with pytest.raises(InputError) as caught:
        from_fhir(came)
    assert words in str(caught.value)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_written_is_read_again_and_written_the_same(name: str) -> None:
    history, _ = from_fhir(READ[name][0])
    out = decode(encode(to_fhir(history)))
    again, _ = from_fhir(out)
    assert again.data == history.data
    assert encode(to_fhir(again)) == encode(out)


@pytest.mark.parametrize("kind", ["collection", "transaction", "document"])
@pytest.mark.parametrize("name", NAMES)
def test_every_bundle_of_it_is_read_again_as_the_same_record(name: str, kind: Any) -> None:
    history, _ = from_fhir(READ[name][0])
    if kind == "transaction" and not for_server(history):
        with pytest.raises(InputError, match=r"patient\.identifiers|the record"):
            bundle(history, kind)
        return
    written = decode(encode(bundle(history, kind, at="2026-03-09T10:00:00Z")))
    assert said(from_fhir([written])[0]) == said(history)


@pytest.mark.parametrize("name", [name for name in NAMES if name != "a delete"])
def test_what_came_goes_out_as_it_came(name: str) -> None:
    came, _, _ = READ[name]
    out = to_fhir(from_fhir(came)[0])
    for _, resource in bodies(came):
        if "urn:uuid" not in str(resource) and "id" in resource:
            assert resource in out


@pytest.mark.parametrize("name", NAMES)
def test_an_edited_answer_stands_and_what_came_is_carried(name: str) -> None:
    history, _ = from_fhir(READ[name][0])
    entries = [entry.get("assessment", {}) for visit in history.visits for entry in visit.get("wounds", ())]
    for answers in entries:
        if isinstance(answers.get("length"), str):
            answers["length"] = "7.7 cm"
    again, _ = from_fhir(decode(encode(to_fhir(history))))
    assert said(again) == said(history)


def plain(resource: Json) -> Json:
    """A resource without its id and without what it points at: an entry's address may have changed them."""
    return {key: value for key, value in resource.items() if key != "id" and "eference" not in str(value)}


def listed(losses: Losses, resource: Json, path: tuple[Json, ...]) -> bool:
    kind, where = resource["resourceType"], words(path)
    label = f"{kind}/{resource.get('id', '')}"
    for item in losses.all:
        elsewhere = label != "/" and item.source != label and "id" in resource
        if elsewhere or item.kind == "understood" or item.source.startswith("Bundle"):
            continue
        below = item.path.removeprefix(kind).removeprefix(".")
        if below == "" or where == below or where.startswith((f"{below}.", f"{below}[")):
            return True
    return False


def outcome(came: list[Json]) -> tuple[Json, Losses]:
    try:
        history, losses = from_fhir(came)
    except InputError as error:
        return str(error), Losses()
    return said(history), losses


@pytest.mark.parametrize("name", NAMES)
def test_a_leaf_that_changes_changes_the_record_or_is_reported(name: str) -> None:
    came, _, _ = READ[name]
    before, losses = outcome(came)
    silent = []
    for at, resource in bodies(came):
        for path, _ in leaves(resource):
            after, now = outcome(altered(came, (*at, *path)))
            if after != before or listed(losses, resource, path) or listed(now, resource, path):
                continue
            silent.append(f"{resource['resourceType']}.{words(path)}")
    assert silent == []


@pytest.mark.parametrize("name", NAMES)
def test_each_leaf_has_one_fate_and_the_counts_add_up(name: str) -> None:
    came, _, _ = READ[name]
    _, losses = from_fhir(came)
    assert sum(losses.counts.values()) == total(came)
    assert sum(one.leaves for one in losses.all) == total(came)
    assert set(losses.counts) <= set(FATES)
    for one in losses.taken:
        paths = [leaf.path for leaf in one.leaves()]
        assert len(paths) == len(set(paths)) == total(one.came)


@pytest.mark.parametrize("name", NAMES)
def test_a_leaf_that_is_understood_changes_the_record_when_it_changes(name: str) -> None:
    came, _, _ = READ[name]
    before, losses = outcome(came)
    silent = []
    for at, resource in bodies(came):
        taken = next(one for one in losses.taken if plain(one.came) == plain(resource))
        for path, kind, _ in taken.leaves():
            if kind == "understood" and outcome(altered(came, (*at, *path)))[0] == before:
                silent.append(f"{resource['resourceType']}.{words(path)}")
    assert silent == []


@pytest.mark.parametrize("name", NAMES)
def test_what_is_entered_in_error_is_as_if_it_were_not_there(name: str) -> None:
    came, _, _ = READ[name]
    for at, resource in bodies(came):
        if resource["resourceType"] != "Observation" or len(at) > 1:
            continue
        key = ("resourceType", "id")
        without, _ = outcome([one for one in came if any(one.get(k) != resource.get(k) for k in key)])
        wrong, losses = outcome(put(came, (*at, "status"), "entered-in-error"))
        if isinstance(without, dict) and isinstance(wrong, dict):
            without, wrong = ({k: v for k, v in one.items() if k != "patient"} for one in (without, wrong))
            assert wrong == without
            assert any(item.kind in ("withdrawn", "not-understood") for item in losses.items)


def test_what_a_request_deletes_goes_out_carried_and_never_as_a_fact() -> None:
    out = to_fhir(from_fhir(READ["a delete"][0])[0])
    assert "Observation" not in {r["resourceType"] for r in out}
    assert "39126-8" in str(out)


def test_ids_of_two_clients_of_whom_only_a_name_is_known_differ() -> None:
    length = READ["pain alone"][0][0]
    seen: list[set[str]] = []
    for name in ("111", "222"):
        one = {**READ["nobody is named"][0][0], "subject": {"reference": f"Patient/{name}"}}
        seen.append(
            {r["id"] for r in to_fhir(from_fhir([one, {**length, "subject": one["subject"]}])[0])} - {"a", "pain"}
        )
    assert seen[0] and not seen[0] & seen[1]


def test_parts_that_do_not_count_are_not_read_and_the_rest_is() -> None:
    history, losses = from_fhir(READ["old names and numbers"][0])
    assert history.patient["name"] == {"family": "Roe", "given": ["Ann"]}
    assert [one["value"] for one in history.patient["identifiers"]] == ["S-1"]
    assert len(losses.of("withdrawn")) == 2
    planned, _ = from_fhir(READ["a plan with a cancelled activity"][0])
    assert "leave it wet" not in str(said(planned)) and "look again on Monday" in str(said(planned))


@pytest.mark.parametrize("order", [1, -1])
def test_an_allergy_outweighs_the_word_that_there_is_none(order: int) -> None:
    given = [
        {"resourceType": "AllergyIntolerance", "id": name, "patient": P, "code": {"text": text}}
        for name, text in (("a", "No known allergies"), ("b", "honey"))
    ]
    history, losses = from_fhir(given[::order])
    assert history.patient["allergies"] == [{"to": "honey"}]
    assert len(losses.of("conflict")) == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"resourceType": "Observation", "status": "final", "code": {"coding": {"system": "x", "code": "y"}}},
        {"resourceType": "Condition", "subject": "Patient/p", "code": ["x"]},
        {"resourceType": "Patient", "name": "Secret"},
    ],
)
def test_an_element_of_the_wrong_kind_is_refused_without_its_value(wrong: Any) -> None:
    try:
        _, losses = from_fhir([wrong])
    except InputError as error:
        assert "Secret" not in str(error)
    else:
        assert losses.items


def test_what_came_twice_word_for_word_is_taken_once() -> None:
    page = READ["a page of a search"][0][0]
    once, _ = from_fhir([page])
    assert from_fhir([page, page])[0].data == once.data


def test_a_client_who_has_died_is_recorded_as_such() -> None:
    assert from_fhir(READ["a client who has died"][0])[0].patient["note"] == "Recorded as deceased: 2026-02-01"


def test_a_link_to_another_record_of_the_client_is_named_and_joins_nothing() -> None:
    """FHIR R4, Patient.link.type: replaced-by, refer."""
    for name, kind in (
        ("a client whose record was replaced", "withdrawn"),
        ("a client whose main record is another", "not-understood"),
    ):
        history, losses = from_fhir(READ[name][0])
        assert [one.kind for one in losses.items if "link" in one.why + one.path] == [kind]
        assert losses.asks and "main" not in str(said(history))


def test_nobody_named_makes_no_patient() -> None:
    out = to_fhir(from_fhir(READ["nobody is named"][0])[0])
    assert "Patient" not in {r["resourceType"] for r in out}


def test_the_report_counts_first_and_names_kinds_for_machines() -> None:
    _, losses = from_fhir(READ["entered in error"][0])
    assert [one.path for one in losses.of("withdrawn")] == ["Observation"]
    assert losses.summary.startswith(f"{losses.understood} of {losses.values} values understood")
    plain = losses.json()
    assert {item["kind"] for item in plain["items"]} <= {*FATES, "negated"}
    assert "14" not in str(plain["items"])
