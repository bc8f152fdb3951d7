"""Files of a folder are one input only where one names a Patient that exactly one other holds; however they are read.

The folders hold exports of servers that do not know each other: each gives out the ids 1, 2, ... anew, as FHIR allows
(R4, Resource.id: unique within the space of its type on the same server).
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

from woundfhir.bulk.grouping import Grouping
from woundfhir.bulk.lines import Files

Json = Any
CM = {"unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"}


def server(number: int, first: int = 1, many: int = 2) -> list[Json]:
    """The resources of a server; a length tells whose it is: server, client, number."""
    found: list[Json] = [
        {"resourceType": "Practitioner", "id": "p1", "name": [{"text": f"Nurse {number} (invented)"}]},
        {"resourceType": "Organization", "id": "o1", "name": f"Clinic {number} (invented)"},
    ]
    for client in range(first, first + many):
        subject = {"subject": {"reference": f"Patient/{client}"}}
        identifier = [{"system": f"urn:example:server-{number}", "value": f"C-{client}"}]
        found.append({"resourceType": "Patient", "id": str(client), "identifier": identifier})
        found.append(
            {
                "resourceType": "Encounter",
                "id": f"e{client}",
                "status": "finished",
                "class": {"system": "http://terminology.hl7.org/CodeSystem/v3-ActCode", "code": "HH"},
                "period": {"start": f"2026-03-0{client}T10:00:00-05:00", "end": f"2026-03-0{client}T10:30:00-05:00"},
                "participant": [{"individual": {"reference": "Practitioner/p1"}}],
                **subject,
            }
        )
        found += [
            {
                "resourceType": "Observation",
                "id": f"l{client}-{nth}",
                "status": "final",
                "code": {"coding": [{"system": "http://loinc.org", "code": "39126-8"}]},
                "bodySite": {"text": f"heel {nth}"},
                "encounter": {"reference": f"Encounter/e{client}"},
                "valueQuantity": {"value": float(f"{number}.{client}{nth}"), **CM},
                **subject,
            }
            for nth in (1, 2)
        ]
    return found


def write(folder: Path, files: dict[str, list[Json]]) -> Path:
    folder.mkdir()
    for name, some in files.items():
        if some:
            (folder / name).write_text("".join(json.dumps(one) + "\n" for one in some))
    return folder


def by_type(some: list[Json], before: str = "") -> dict[str, list[Json]]:
    kinds = {one["resourceType"] for one in some}
    return {f"{before}{kind}.ndjson": [one for one in some if one["resourceType"] == kind] for kind in sorted(kinds)}


def any_how(some: list[Json], before: str, chance: random.Random) -> dict[str, list[Json]]:
    """Everything in any of three files, or each type, or each client, in a file."""
    how = chance.choice(("type", "client", "parts"))
    if how == "type":
        return by_type(some, before)
    files: dict[str, list[Json]] = {}
    for one in some:
        part = one.get("subject", {}).get("reference", one["id"])[-1] if how == "client" else chance.randrange(3)
        files.setdefault(f"{before}part-{part}.ndjson", []).append(one)
    return files


def read(said: Any, folder: Path, out: Path, monkeypatch: pytest.MonkeyPatch) -> list[Json]:
    """Read a folder as a whole and as a stream, by workers or because it is large: the same records and the same code.

    Clients whom one file names come in another order: as a whole in that of the content.
    """
    found = []
    for nth, (large, more) in enumerate(((10**9, ()), (0, ()), (10**9, ("--workers", 1)), (0, ("--workers", 2)))):
        monkeypatch.setattr("woundfhir.cli.streamed.LARGE", large)
        path = out / f"{folder.name}-{nth}.ndjson"
        code, _, _ = said("convert", folder, "--to", "record-ndjson", "-o", path, *more)
        found.append((code, sorted(path.read_bytes().splitlines()) if path.exists() else []))
    assert found[1:] == found[:1] * 3
    return [json.loads(line) for line in found[0][1]]


def lengths(record: Json) -> set[str]:
    entries = [entry for visit in record["visits"] for entry in visit.get("wounds", ())]
    return {entry["assessment"]["length"].split()[0] for entry in entries if "length" in entry.get("assessment", {})}


def whose(record: Json) -> set[str]:
    """Server and client of whom a record tells, by its lengths and by its numbers."""
    numbers = {
        f"{one['system'].rpartition('-')[2]}.{one['value'][-1]}"
        for one in record["patient"].get("identifiers", ())
        if "server" in one.get("system", "")
    }
    return {text[:3] for text in lengths(record)} | numbers


@pytest.mark.parametrize("seed", range(16))
def test_no_client_of_two_servers_is_joined_and_every_way_reads_the_same(
    said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    chance = random.Random(seed)
    files: dict[str, list[Json]] = {}
    for number in range(1, chance.choice((2, 3, 3)) + 1):
        one = server(number, first=1 if chance.random() < 0.7 else 2 * number + 1)
        files |= any_how(one, f"{chance.randrange(9)}-{number}-", chance)
    records = read(said, write(tmp_path / "in", files), tmp_path, monkeypatch)
    assert [one for one in records if len(whose(one)) > 1] == []
    assert set().union(*map(lengths, records)) == {
        str(one["valueQuantity"]["value"])
        for some in files.values()
        for one in some
        if one["resourceType"] == "Observation"
    }


def test_an_export_by_type_is_one_input(said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    records = read(said, write(tmp_path / "in", by_type(server(1, many=3))), tmp_path, monkeypatch)
    assert sorted(map(whose, records), key=sorted) == [{"1.1"}, {"1.2"}, {"1.3"}]
    assert [len(lengths(one)) for one in records] == [2, 2, 2]
    assert all("Nurse 1 (invented)" in json.dumps(one) for one in records)


def test_two_exports_that_share_no_id_are_two_inputs(
    said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is everybody's has one id in both: each is read with its own, as the files' names do not tell."""
    files = by_type(server(1), "a-") | by_type(server(2, first=5), "b-")
    for kind in ("Practitioner", "Organization"):
        files[f"{kind}.ndjson"] = files.pop(f"a-{kind}.ndjson")
        del files[f"b-{kind}.ndjson"]
    records = read(said, write(tmp_path / "in", files), tmp_path, monkeypatch)
    found = [one for one in records if whose(one)]
    assert sorted(map(whose, found), key=sorted) == [{"1.1"}, {"1.2"}, {"2.5"}, {"2.6"}]
    assert all("Nurse 1 (invented)" in json.dumps(one) for one in found)  # the file of people is everybody's


def test_a_patient_whom_two_files_hold_is_nobody_elses(
    said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both exports have a Patient 1: the Observations of neither can be given to one of them."""
    files = by_type(server(1, many=1), "a-") | by_type(server(2, many=1), "b-")
    records = read(said, write(tmp_path / "in", files), tmp_path, monkeypatch)
    named = [one for one in records if one["patient"].get("identifiers")]
    assert [whose(one) for one in named if lengths(one) and len(whose(one)) > 1] == []
    assert sorted(text for one in records for text in lengths(one)) == ["1.11", "1.12", "2.11", "2.12"]


def test_files_that_contradict_each_other_are_not_joined_by_a_third(
    said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two files hold a Patient 1 of their own; a third names Patients that each of them alone holds."""
    one, other = server(1), server(2, many=1) + server(2, first=7, many=1)[2:]
    third = [{**resource, "id": f"t{nth}"} for nth, resource in enumerate([*one, *other]) if resource.get("subject")]
    third = [resource for resource in third if resource["subject"]["reference"] in ("Patient/2", "Patient/7")]
    files = {"a.ndjson": one, "b.ndjson": other, "c.ndjson": [r for r in third if r["resourceType"] == "Observation"]}
    records = read(said, write(tmp_path / "in", files), tmp_path, monkeypatch)
    assert [found for found in records if len(whose(found)) > 1] == []


def test_another_folder_is_another_input(said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = by_type(server(1, many=1))
    patient = files.pop("Patient.ndjson")
    folder = write(tmp_path / "in", files)
    write(folder / "other", {"Patient.ndjson": patient})
    records = read(said, folder, tmp_path, monkeypatch)
    assert [one["patient"].get("identifiers", [{}])[0].get("system") for one in records if lengths(one)] != [
        "urn:example:server-1"
    ]
    assert len([one for one in records if "urn:example:server-1" in json.dumps(one["patient"])]) == 1


def test_a_patient_at_an_address_is_not_the_one_beside_it(
    said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = by_type(server(1, many=1))
    for one in files["Observation.ndjson"] + files["Encounter.ndjson"]:
        one["subject"] = {"reference": "https://other.example.org/fhir/Patient/1"}
    records = read(said, write(tmp_path / "in", files), tmp_path, monkeypatch)
    assert [one for one in records if lengths(one) and "urn:example:server-1" in json.dumps(one["patient"])] == []


def test_a_run_that_goes_on_skips_what_is_done(tmp_path: Path) -> None:
    """What is everybody's and nobody names comes last, also where the first groups are not made again."""
    files = by_type(server(1), "a-") | by_type(server(2, first=5), "b-")
    folder = write(tmp_path / "in", files | {"Location.ndjson": [{"resourceType": "Location", "id": "x"}]})
    with Files([folder]) as several, Grouping(several) as grouping:
        grouping.read()
        everything = [(group.content, group.places) for group in grouping.groups()]
    assert len(everything) > 4
    for skip in range(len(everything) + 1):
        with Files([folder]) as several, Grouping(several) as grouping:
            grouping.read()
            assert [(group.content, group.places) for group in grouping.groups(skip)] == everything[skip:]


def test_a_fact_of_one_client_that_names_a_fact_of_another_is_nobodys(
    said: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever file it stands in, and as a stream as well: it is in the history of neither."""
    some = [one for one in server(1, many=3) if one["resourceType"] != "Organization"]  # whom nobody names
    crossed = next(one for one in some if one["id"] == "l1-2")
    crossed["encounter"] = {"reference": "Encounter/e2"}
    for name, files in {"types": by_type(some), "one": {"a.ndjson": some}}.items():
        records = read(said, write(tmp_path / name, files), tmp_path, monkeypatch)
        of_clients = [one for one in records if one["patient"].get("identifiers")]
        assert sorted(text for one in of_clients for text in lengths(one)) == ["1.11", "1.21", "1.22", "1.31", "1.32"]
        assert any("1.12" in json.dumps(one) for one in records if one not in of_clients)
